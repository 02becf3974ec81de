"""Heads whose throw does not reach the area that they are declared to water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.scopes import Scope
from nightwater.ground.sector_shapes import sector_shapes
from nightwater.ground.shapes import sound_shapes

CODE: Final = "arc-misses-area"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
LEAST_SHARE: Final = 0.05  # of the sector on it: less is not watering it


def find(linked: Linked) -> Iterator[Finding]:
    """Each such head whose sector is known."""
    areas = linked.ground.areas
    shapes = dict(zip(areas.index, sound_shapes(areas, "areas"), strict=True))
    declared = linked.heads[linked.heads["how"] == "declared"]
    sectors = sector_shapes(declared)
    goals = np.array([shapes[area] for area in declared["area"]], dtype=object)
    whole = shapely.area(sectors)
    known = (whole > 0) & ~shapely.is_empty(goals)
    share = np.ones(len(declared))
    share[known] = shapely.area(shapely.intersection(sectors[known], goals[known])) / whole[known]
    for identity, row in rows_where(declared.assign(share=share), share < LEAST_SHARE):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} is declared to water "
            f"{linked.name('areas', row['area'])}, and {row['share']:.0%} of its sector lies "
            "on it.",
            "Correct its area, its place or its bearing.",
        )
