"""Geometry far outside everything else: a wrong coordinate system, or swapped numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, mapped_shapes

CODE: Final = "far-from-course"
SEVERITY: Final = Severity.WARNING
FAR_M: Final = 3000.0  # no course reaches this far from its middle


def _middles(linked: Linked) -> dict[str, pd.DataFrame]:
    """Middle of every geometry, by table."""
    found = {}
    for name, rows, shapes in mapped_shapes(linked.ground):
        there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
        low_x, low_y, high_x, high_y = shapely.bounds(shapes[there]).T
        middle = {"x": (low_x + high_x) / 2, "y": (low_y + high_y) / 2}
        found[name] = pd.DataFrame(middle, index=rows.index[there])
    return found


def find(linked: Linked) -> Iterator[Finding]:
    """Each geometry farther than `FAR_M` from the median of all."""
    middles = _middles(linked)
    everything = pd.concat(middles.values())
    if everything.empty:
        return
    centre = everything.median()
    for name, places in middles.items():
        away = np.hypot(places["x"] - centre["x"], places["y"] - centre["y"])
        for identity, distance in away[~(away <= FAR_M)].items():
            yield Finding(
                SEVERITY,
                CODE,
                f"{name}:{identity}",
                f"{linked.name(name, identity)} in {name} lies {distance / 1000:,.1f} km from the "
                "middle of the course.",
                "Check its coordinate system and the order of its coordinates, or remove it.",
            )
