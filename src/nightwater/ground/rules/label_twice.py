"""Labels that more than one row of a table carries, whatever their case."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "label-twice"
SEVERITY: Final = Severity.WARNING
LABELLED: Final = ("areas", "heads", "stations", "controllers", "nozzles", "holes", "pumps")


def find(linked: Linked) -> Iterator[Finding]:
    """Each such label once, at the first row that carries it."""
    for name in LABELLED:
        rows = linked.ground.table(name)
        plain = rows["label"].dropna().map(lambda label: str(label).strip().casefold())
        for label, owners in plain[plain.duplicated(keep=False)].groupby(plain):
            first, *others = (str(identity) for identity in owners.index)
            yield Finding(
                SEVERITY,
                CODE,
                f"{name}:{first}",
                f"{len(owners)} rows of {name} are called '{label}': "
                f"{', '.join([first, *others])}.",
                "Look at the tags on the ground and rename all but one.",
            )
