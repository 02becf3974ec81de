"""Heads that stand outside the area they are taken to water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "head-beside-area"
SEVERITY: Final = Severity.NOTE


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose area is only the nearest one."""
    heads = linked.heads
    for identity, row in rows_where(heads, heads["how"] == "nearest"):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} stands outside every watered area; "
            f"{row['area']} is the nearest within its throw.",
            "Name its area on the head, or redraw the outline.",
        )
