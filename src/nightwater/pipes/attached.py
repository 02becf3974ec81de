"""Points and the stretches of pipe that they stand on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.pipes.joints import Stretches

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Attached:
    """Points that stand near enough to a stretch, row by row.

    Attributes:
        row: place of the point in what was asked.
        stretch: the nearest stretch.
        along_m: where on it, from its start.
        distance_m: how far away it is.
    """

    row: Whole
    stretch: Whole
    along_m: Numbers
    distance_m: Numbers


def attach(stretches: Stretches, points: NDArray[np.object_], reach_m: float) -> Attached:
    """The nearest stretch of each point within reach; a missing point stands on none.

    Args:
        stretches: the pipes cut at their joints.
        points: places in the same metres.
        reach_m: how far a point may stand from its pipe.
    """
    there = np.flatnonzero(~(shapely.is_missing(points) | shapely.is_empty(points)))
    tree = shapely.STRtree(stretches.lines)
    (which, stretch), distance = tree.query_nearest(
        points[there], max_distance=reach_m, return_distance=True, all_matches=False
    )
    along = shapely.line_locate_point(stretches.lines[stretch], points[there[which]])
    return Attached(
        there[which].astype(np.int64), stretch.astype(np.int64), np.asarray(along), distance
    )


def nodes_of(attached: Attached, stretches: Stretches) -> Whole:
    """The node at the nearer end of each attached point's stretch."""
    half = shapely.length(stretches.lines[attached.stretch]) / 2
    nearer_start = attached.along_m < half
    node: Whole = np.where(
        nearer_start, stretches.start[attached.stretch], stretches.end[attached.stretch]
    ).astype(np.int64)
    return node
