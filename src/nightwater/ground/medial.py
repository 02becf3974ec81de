"""The middle of a long piece of turf, from one end to the other."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

CELLS: Final = 1200  # about so many places of the turf are looked at
LEAST_CELL_M: Final = 2.0
SLICE_M: Final = 25.0  # one point of the middle in each such step along the turf
SMOOTH_M: Final = 1.0


def _cells(turf: Any) -> tuple[NDArray[np.float64], float]:
    """Centres of square cells upon the turf [m], and the side of a cell."""
    side = max(LEAST_CELL_M, float(np.sqrt(shapely.area(turf) / CELLS)))
    west, south, east, north = shapely.bounds(turf)
    x, y = np.meshgrid(
        np.arange(west, east, side) + side / 2, np.arange(south, north, side) + side / 2
    )
    shapely.prepare(turf)
    upon = shapely.contains_xy(turf, x, y)
    return np.column_stack([x[upon], y[upon]]), side


def _walked_m(cells: NDArray[np.float64], side: float, start: Any) -> NDArray[np.float64]:
    """Shortest way over the cells from the one nearest to the start; infinite where cut off."""
    tree = cKDTree(cells)
    pairs = tree.query_pairs(1.5 * side, output_type="ndarray")
    length = np.hypot(*(cells[pairs[:, 0]] - cells[pairs[:, 1]]).T)
    graph = coo_array((length, (pairs[:, 0], pairs[:, 1])), shape=(len(cells), len(cells)))
    first = np.array([tree.query([start.x, start.y])[1]])
    walked = dijkstra(graph.tocsr(), directed=False, indices=first)
    return np.asarray(walked[0], dtype=float)


def medial_points(turf: Any, start: Any, end: Any) -> NDArray[np.float64]:
    """Points through the middle of a turf, from the side of `start` on.

    The turf is cut into slices of equal walking distance from the place nearest to `start`;
    the middle of each slice is a point.

    Args:
        turf: polygon or polygons [m]; parts that cannot be walked to are left out.
        start, end: points [m].

    Returns:
        Shape (n, 2) [m]; n may be 0.
    """
    if shapely.is_empty(turf):
        return np.empty((0, 2))
    cells, side = _cells(turf)
    if len(cells) < 3:
        return shapely.get_coordinates(shapely.centroid(turf))
    walked = _walked_m(cells, side, start)
    cells, walked = cells[np.isfinite(walked)], walked[np.isfinite(walked)]
    step = (walked // SLICE_M).astype(int)
    middle = np.array([cells[step == number].mean(axis=0) for number in np.unique(step)])
    line = np.vstack([[start.x, start.y], middle, [end.x, end.y]])
    smooth = shapely.simplify(shapely.LineString(line), SMOOTH_M)
    return np.asarray(shapely.get_coordinates(smooth)[1:-1])
