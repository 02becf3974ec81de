"""Outlines that cross themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, mapped_shapes

CODE: Final = "broken-outline"
SEVERITY: Final = Severity.NOTE


def find(linked: Linked) -> Iterator[Finding]:
    """Each row whose geometry is there and not valid."""
    for name, rows, shapes in mapped_shapes(linked.ground):
        there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
        for identity in rows.index[there & ~shapely.is_valid(shapes)]:
            yield Finding(
                SEVERITY,
                CODE,
                f"{name}:{identity}",
                f"The outline of {linked.name(name, identity)} in {name} crosses itself.",
                "Redraw it; until then it is mended by the usual even-odd rule.",
            )
