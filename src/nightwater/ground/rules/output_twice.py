"""Stations that share one output of one controller."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "output-twice"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such output once, at its first station."""
    known = linked.ground.stations.dropna(subset=["controller", "output"])
    for (controller, output), same in known.groupby(["controller", "output"]):
        if len(same) > 1:
            first, *others = (str(identity) for identity in same.index)
            yield Finding(
                SEVERITY,
                CODE,
                f"stations:{first}",
                f"Output {output} of {controller} switches {len(same)} stations: "
                f"{', '.join([first, *others])}.",
                "Read the output on the controller and correct the list.",
            )
