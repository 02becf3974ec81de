"""Pipes cut into stretches at every joint, with the joints as numbered nodes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

JOINT_M: Final = 0.5

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Stretches:
    """Pieces of pipe between joints, row by row.

    Attributes:
        lines: geometry of each piece [m].
        pipe: row of its pipe in the record.
        start, end: node at each end.
        nodes: how many nodes there are.
    """

    lines: NDArray[np.object_]
    pipe: Whole
    start: Whole
    end: Whole
    nodes: int


def _ends(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    ends: NDArray[np.object_] = np.concatenate(
        [shapely.get_point(parts, 0), shapely.get_point(parts, -1)]
    )
    return ends


def _cuts(parts: NDArray[np.object_], points: NDArray[np.object_], reach_m: float) -> list[Numbers]:
    """Along each part, where another pipe's end or a feed lies on it, away from its own ends."""
    tree = shapely.STRtree(parts)
    point, part = tree.query(points, predicate="dwithin", distance=reach_m)
    along = shapely.line_locate_point(parts[part], points[point])
    length = shapely.length(parts[part])
    inner = (along > JOINT_M) & (along < length - JOINT_M)
    return [np.unique(along[inner & (part == row)]) for row in range(len(parts))]


def _cut(part: Any, along: Numbers) -> list[Any]:
    """One part cut at distances from its start."""
    if not len(along):
        return [part]
    coordinates = shapely.get_coordinates(part)
    steps = np.hypot(*np.diff(coordinates, axis=0).T)
    measure = np.concatenate([[0.0], np.cumsum(steps)])
    bounds = np.concatenate([[0.0], along, [measure[-1]]])
    pieces: list[Any] = []
    for low, high in pairwise(bounds):
        inner = (measure > low) & (measure < high)
        at = np.concatenate([[low], measure[inner], [high]])
        xy = np.column_stack([np.interp(at, measure, coordinates[:, axis]) for axis in (0, 1)])
        pieces.append(shapely.linestrings(xy))
    return pieces


def _merged_nodes(points: NDArray[np.object_]) -> tuple[Whole, int]:
    """Points within the joint's reach of each other as one node; node of each point."""
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=JOINT_M)
    graph = coo_array((np.ones(len(one)), (one, other)), shape=(len(points), len(points)))
    count, labels = connected_components(graph, directed=False)
    return labels.astype(np.int64), int(count)


def stretches_of(pipes: NDArray[np.object_], feeds: NDArray[np.object_]) -> Stretches:
    """Cut pipes at every joint.

    Args:
        pipes: one line or multi-line per pipe [m]; a missing one has no stretch.
        feeds: points where water enters; a pipe that one stands on is cut there.

    Returns:
        The stretches and their nodes.
    """
    parts, row = shapely.get_parts(pipes, return_index=True)
    sound = ~shapely.is_empty(parts) & (shapely.length(parts) > 0)
    parts, row = parts[sound], row[sound]
    cuts = _cuts(parts, np.concatenate([_ends(parts), feeds]), JOINT_M)
    pieces = [_cut(part, along) for part, along in zip(parts, cuts, strict=True)]
    lines = np.array([piece for group in pieces for piece in group], dtype=object)
    pipe = np.repeat(row, [len(group) for group in pieces])
    labels, nodes = _merged_nodes(_ends(lines))
    start, end = labels[: len(lines)], labels[len(lines) :]
    return Stretches(lines, pipe.astype(np.int64), start, end, nodes)
