"""Ends of headers, mains and loops that lead nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, Severity
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.pipes.laid import Laid
from nightwater.pipes.network import NEAR_M

CODE: Final = "main-dead-end"
SEVERITY: Final = Severity.NOTE
_THROUGH: Final = ("header", "main", "loop")  # spurs and laterals end somewhere by design
_FITTINGS: Final = ("pumps", "sources", "valves", "meters")


def _fitted(laid: Laid, points: Geometries) -> NDArray[np.bool_]:
    """Which places have a pump, source, valve or meter upon them."""
    shapes = np.concatenate([sound_shapes(laid.ground.table(name), name) for name in _FITTINGS])
    shapes = shapes[~shapely.is_empty(shapes)]
    near = shapely.STRtree(shapes).query(points, "dwithin", distance=NEAR_M)[0]
    return np.isin(np.arange(len(points)), near)


def find(laid: Laid) -> Iterator[Finding]:
    """Each such end with no pipe, head or fitting at hand."""
    ends = laid.loose_ends
    ends = ends[ends["kind"].isin(_THROUGH) & ends["gap_m"].isna() & ~(ends["head_m"] <= NEAR_M)]
    for row in ends[~_fitted(laid, ends["point"].to_numpy())].to_dict("records"):
        yield Finding(
            SEVERITY,
            CODE,
            f"pipes:{row['pipe']}",
            f"An end of {row['kind']} {laid.name('pipes', row['pipe'])} at {row['point'].x:.0f}, "
            f"{row['point'].y:.0f} m joins nothing and feeds nothing.",
            "Draw the pipe that goes on, or the valve or cap that ends it.",
        )
