"""Heads declared to water ground that is not watered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.tables import WATERED_KINDS

CODE: Final = "head-on-unwatered-ground"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose own area is not turf: sand, water, a path …"""
    heads = linked.heads
    dry = heads["area"].notna() & ~heads["kind"].isin(WATERED_KINDS)
    for identity, row in rows_where(heads, dry):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} is declared to water {row['area']}, which is "
            f"{row['kind']} ground.",
            "Name an area of turf, or change the kind of that area.",
        )
