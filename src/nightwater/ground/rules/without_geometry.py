"""Rows of a mapped table that stand nowhere; holes have a rule of their own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, mapped_shapes

CODE: Final = "without-geometry"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each row whose geometry is missing or empty."""
    for name, rows, shapes in mapped_shapes(linked.ground):
        if name == "holes":
            continue
        for identity in rows.index[shapely.is_missing(shapes) | shapely.is_empty(shapes)]:
            yield Finding(
                SEVERITY,
                CODE,
                f"{name}:{identity}",
                f"{linked.name(name, identity)} in {name} has no place on the map.",
                "Survey it; until then no area or pipe can be found for it.",
            )
