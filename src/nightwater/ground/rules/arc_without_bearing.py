"""Part circles that nobody knows the direction of."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "arc-without-bearing"
SEVERITY: Final = Severity.NOTE


def find(linked: Linked) -> Iterator[Finding]:
    """Each part circle without a bearing."""
    heads = linked.heads
    blind = (heads["arc_deg"] < 360) & heads["bearing_deg"].isna()
    for identity, row in rows_where(heads, blind):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} wets {row['arc_deg']:.0f}° "
            "but no bearing says which way.",
            "Enter the middle of its sector, clockwise from north.",
        )
