"""Heads that no station fires."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "head-without-station"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each head that names no station and stands on no list."""
    for identity in linked.heads.index[linked.heads["station"].isna()]:
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} belongs to no station, so no plan waters "
            "with it.",
            "Name its station, or put it on the station's list.",
        )
