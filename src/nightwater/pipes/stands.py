"""Pipes cut once more, where a head, a valve or a pump stands on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.pipes.joints import Stretches

SAME_STAND_M: Final = 0.25  # stands this near along a pipe are one
_VALVE_OFF_END_M: Final = 0.02

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Standing:
    """Things upon stretches, row by row.

    Attributes:
        row: their row in their own table.
        stretch: the stretch nearest to each.
        along_m: how far along it the foot of each lies.
        away_m: how far from it each stands.
    """

    row: Whole
    stretch: Whole
    along_m: Numbers
    away_m: Numbers


@dataclass(frozen=True)
class Pieces:
    """Stretches cut at stands; the first nodes are those of the stretches.

    Attributes:
        stretch: the stretch of each piece.
        start, end: its nodes.
        length_m: its length.
        places: x and y of every node, shape (nodes, 2).
        split: nodes on both sides of each thing that splits, shape (things, 2).
        stand: the node of each thing that stands.
    """

    stretch: Whole
    start: Whole
    end: Whole
    length_m: Numbers
    places: Numbers
    split: Whole
    stand: Whole


def standing_on(
    shapes: NDArray[np.object_], stretches: Stretches, reach_m: float, usable: NDArray[np.bool_]
) -> Standing:
    """Each point with its nearest usable stretch, if one lies within reach.

    Args:
        shapes: points, some missing or empty.
        stretches: the pipes.
        reach_m: farther ones stand on nothing.
        usable: which stretches may carry something.
    """
    there = np.flatnonzero(~(shapely.is_missing(shapes) | shapely.is_empty(shapes)))
    lines = np.flatnonzero(usable)
    if not len(there) or not len(lines):
        none = np.empty(0, dtype=np.int64)
        return Standing(none, none, np.empty(0), np.empty(0))
    (which, line), away = shapely.STRtree(stretches.lines[lines]).query_nearest(
        shapes[there], max_distance=reach_m, return_distance=True, all_matches=False
    )
    row, stretch = there[which], lines[line]
    along = shapely.line_locate_point(stretches.lines[stretch], shapes[row])
    return Standing(row.astype(np.int64), stretch.astype(np.int64), along, away)


class _Cutter:
    """Nodes and pieces as they are made, stretch by stretch."""

    def __init__(self, stretches: Stretches, stands: Standing, splits: Standing) -> None:
        self.stretches = stretches
        self.nodes = stretches.nodes
        self.piece: list[tuple[int, int, int, float]] = []
        self.made: list[tuple[int, float]] = []  # stretch and distance of each new node
        self.stand = np.full(len(stands.row), -1, dtype=np.int64)
        self.split = np.full((len(splits.row), 2), -1, dtype=np.int64)
        self.events: dict[int, list[tuple[float, int, int]]] = {}
        for kind, things in enumerate((stands, splits)):
            for place, (on, along) in enumerate(
                zip(things.stretch.tolist(), things.along_m.tolist(), strict=True)
            ):
                self.events.setdefault(on, []).append((along, kind, place))

    def _new(self, stretch: int, along: float) -> int:
        self.made.append((stretch, along))
        self.nodes += 1
        return self.nodes - 1

    def cut(self, stretch: int) -> None:
        """One stretch into pieces, giving its stands their nodes."""
        length = float(shapely.length(self.stretches.lines[stretch]))
        node, at, last = int(self.stretches.start[stretch]), 0.0, int(self.stretches.end[stretch])
        for along, kind, place in sorted(self.events.get(stretch, ())):
            if kind == 1:
                valve = min(max(along, at, _VALVE_OFF_END_M), length - _VALVE_OFF_END_M)
                valve = max(valve, at)
                before, after = self._new(stretch, valve), self._new(stretch, valve)
                self.piece.append((stretch, node, before, valve - at))
                self.split[place] = before, after
                node, at = after, valve
            elif along - at <= SAME_STAND_M:
                self.stand[place] = node
            elif length - along <= SAME_STAND_M:
                self.stand[place] = last
            else:
                new = self._new(stretch, along)
                self.piece.append((stretch, node, new, along - at))
                self.stand[place] = node = new
                at = along
        self.piece.append((stretch, node, last, length - at))


def _places(stretches: Stretches, made: list[tuple[int, float]]) -> Numbers:
    places = np.full((stretches.nodes, 2), np.nan)
    for nodes, place in ((stretches.end, -1), (stretches.start, 0)):
        places[nodes] = shapely.get_coordinates(shapely.get_point(stretches.lines, place))
    if not made:
        return places
    on, along = np.array([one for one, _ in made]), np.array([far for _, far in made])
    points = shapely.line_interpolate_point(stretches.lines[on], along)
    return np.vstack([places, shapely.get_coordinates(points)])


def cut_at(
    stretches: Stretches, usable: NDArray[np.bool_], stands: Standing, splits: Standing
) -> Pieces:
    """Cut the usable stretches where things stand.

    Args:
        stretches: the pipes between joints.
        usable: which of them carry water.
        stands: heads and feeds: each gets a node, shared with what stands within 0.25 m.
        splits: valves: each parts the pipe into two nodes with nothing between.
    """
    cutter = _Cutter(stretches, stands, splits)
    for stretch in np.flatnonzero(usable).tolist():
        cutter.cut(stretch)
    table = np.array(cutter.piece, dtype=float).reshape(-1, 4)
    whole = table[:, :3].astype(np.int64)
    return Pieces(
        whole[:, 0],
        whole[:, 1],
        whole[:, 2],
        table[:, 3],
        _places(stretches, cutter.made),
        cutter.split,
        cutter.stand,
    )
