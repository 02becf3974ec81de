"""Declared rows that do not fit the spacing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.scopes import Scope

CODE: Final = "row-against-spacing"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
LEAST_ROW_SHARE: Final = 0.5  # row over spacing; a square has 1.0, a triangle 0.87
MOST_ROW_SHARE: Final = 1.3


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose rows and spacing make no usual pattern."""
    heads = linked.heads
    share = heads["row_m"] / heads["spacing_m"]
    for identity, row in rows_where(heads, (share < LEAST_ROW_SHARE) | (share > MOST_ROW_SHARE)):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} declares rows {row['row_m']:.1f} m apart at "
            f"{row['spacing_m']:.1f} m spacing.",
            "A square has rows as far apart as heads, a triangle 0.87 times; correct one of them.",
        )
