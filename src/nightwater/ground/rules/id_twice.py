"""Ids that more than one row carries."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.tables import GROUND_TABLES

CODE: Final = "id-twice"
SEVERITY: Final = Severity.ERROR


def find(linked: Linked) -> Iterator[Finding]:
    """Each such id once; every other rule needs unique ids."""
    for name in GROUND_TABLES:
        rows = linked.ground.table(name)
        for identity in rows.index[rows.index.duplicated()].unique():
            yield Finding(
                SEVERITY,
                CODE,
                f"{name}:{identity}",
                f"The id {identity} stands {int((rows.index == identity).sum())} times in {name}.",
                "Give each row its own id; an id is never used twice.",
            )
