"""Outlines that a drawing does not close itself: loose lines and arcs that meet end to end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from shapely.geometry.base import BaseGeometry

CLOSE_M: Final = 0.05  # ends as near as this are one corner
SAME_GROUND: Final = 0.98  # share of the ground of two outlines that makes them one


@dataclass(frozen=True)
class Outlines:
    """What loose lines close.

    Attributes:
        polygons: the outlines, in no order of the lines.
        left: how many pieces belong to none.
    """

    polygons: list[BaseGeometry]
    left: int


def _corners(ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ends that lie within 0.05 m of each other, or of a chain of such, as their first one."""
    spots = np.asarray(shapely.points(ends))
    one, other = shapely.STRtree(spots).query(spots, predicate="dwithin", distance=CLOSE_M)
    links = coo_matrix((np.ones(len(one)), (one, other)), shape=(len(ends), len(ends)))
    _, group = connected_components(links, directed=False)
    _, first = np.unique(group, return_index=True)
    corners: NDArray[np.float64] = ends[first[group]]
    return corners


def _joined(line: BaseGeometry, start: NDArray[np.float64], end: NDArray[np.float64]) -> object:
    points = shapely.get_coordinates(line)
    points[0], points[-1] = start, end
    distinct = len(np.unique(points, axis=0))
    return shapely.linestrings(points) if distinct > 1 else None


def _once(edges: NDArray[np.object_]) -> NDArray[np.object_]:
    """Edges without those drawn a second time, as neighbours draw the edge they share."""
    _, first = np.unique(shapely.to_wkb(shapely.normalize(edges)), return_index=True)
    return edges[np.sort(first)]


def closed_outlines(lines: Sequence[BaseGeometry]) -> Outlines:
    """Outlines closed by lines whose ends meet within 0.05 m; heights are left aside.

    Lines that only cross do not meet. What encloses another outline comes with that as a hole,
    and the inner one comes too.

    Args:
        lines: line strings [m].
    """
    if not lines:
        return Outlines([], 0)
    flat = [shapely.force_2d(line) for line in lines]
    ends = np.array([spot for line in flat for spot in shapely.get_coordinates(line)[[0, -1]]])
    corners = _corners(ends)
    joined = [_joined(line, *corners[2 * n : 2 * n + 2]) for n, line in enumerate(flat)]
    edges = _once(np.array([line for line in joined if line is not None], dtype=object))
    if not len(edges):
        return Outlines([], len(lines))
    faces, cuts, dangles, crossed = shapely.polygonize_full(edges)
    left = sum(shapely.get_num_geometries(part) for part in (cuts, dangles))
    polygons = [face for face in shapely.get_parts(faces) if face.area > CLOSE_M**2]
    # What crosses itself is judged, like any other outline, where the rows are read.
    polygons += [shapely.Polygon(ring) for ring in shapely.get_parts(crossed)]
    return Outlines(polygons, int(left))


def drawn_twice(grounds: Sequence[BaseGeometry], known: Sequence[BaseGeometry]) -> list[bool]:
    """Which outlines cover the same ground as one that is known, to 98 % of both.

    A hatch and the outline it was laid in are such twins.
    """
    twins = [False] * len(grounds)
    if not grounds or not known:
        return twins
    sound = [shapely.make_valid(shapely.force_2d(shape)) for shape in known]
    new = [shapely.make_valid(shapely.force_2d(shape)) for shape in grounds]
    mine, theirs = shapely.STRtree(np.array(sound, dtype=object)).query(np.array(new, dtype=object))
    for one, other in zip(mine, theirs, strict=True):
        shared = shapely.area(shapely.intersection(new[one], sound[other]))
        larger = max(shapely.area(new[one]), shapely.area(sound[other]))
        twins[one] = twins[one] or (larger > 0 and shared >= SAME_GROUND * larger)
    return twins
