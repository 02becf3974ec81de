"""The pipes parted by their isolation valves: pieces, valves as links between them, and feeds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
import shapely.ops
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.record import Ground
from nightwater.ground.shapes import sound_shapes
from nightwater.pipes.attached import Attached, attach, nodes_of
from nightwater.pipes.joints import Stretches, stretches_of
from nightwater.pipes.network import REACH_M

VALVE_REACH_M: Final = 3.0  # an isolation valve farther from a pipe than this stands on none
ISOLATION: Final = "isolation"

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Pieces:
    """Lengths of pipe between joints and isolation valves, row by row.

    Attributes:
        pipe: row of its pipe in the record.
        lines: geometry [m].
        one, other: node at each end.
        nodes: how many nodes there are.
    """

    pipe: Whole
    lines: NDArray[np.object_]
    one: Whole
    other: Whole
    nodes: int


@dataclass(frozen=True)
class Valves:
    """Isolation valves as links between two nodes that are joined by nothing else.

    Attributes:
        ids: of the valves that stand on a pipe.
        one, other: the nodes that each parts when it is closed.
        closed: those that stand closed in normal running.
    """

    ids: tuple[str, ...]
    one: Whole
    other: Whole
    closed: Flags


@dataclass(frozen=True)
class Places:
    """Rows of a table, the piece that each stands on, and where on it from its node `one` [m]."""

    ids: tuple[str, ...]
    piece: Whole
    along_m: Numbers


@dataclass(frozen=True)
class Segments:
    """A network as one who must shut part of it off sees it.

    Attributes:
        pipe_ids: ids of the record's pipes, in its order.
        pieces, valves: the graph.
        feeds: ids of the pumps (without any, the sources) that stand on a pipe.
        feed_nodes: where they stand.
        heads: heads and their pieces.
        fittings: valves that are no isolation valves, and their pieces.
        findings: doubts about the valves.
    """

    pipe_ids: tuple[str, ...]
    pieces: Pieces
    valves: Valves
    feeds: tuple[str, ...]
    feed_nodes: Whole
    heads: Places
    fittings: Places
    findings: tuple[Finding, ...]

    def labels(self, held: Flags) -> Whole:
        """The segment of each node, where some valves hold water back and the others do not.

        Args:
            held: per valve, whether it parts its two sides.
        """
        one = np.concatenate([self.pieces.one, self.valves.one[~held]])
        other = np.concatenate([self.pieces.other, self.valves.other[~held]])
        return _components(one, other, self.pieces.nodes)

    @property
    def long_enough(self) -> Flags:
        """Pieces that can break: a valve on a joint leaves one of no length before it."""
        return np.asarray(shapely.length(self.pieces.lines) > 0)

    def pieces_of(self, pipe: str) -> Whole:
        """Rows of the pieces of a pipe.

        Raises:
            UserError: the record has no such pipe, or it has no line.
        """
        mine = np.array(self.pipe_ids)[self.pieces.pipe] == pipe
        rows = np.flatnonzero(mine & self.long_enough)
        if not len(rows):
            raise UserError(
                f"The record has no pipe '{pipe}' with a line, so nothing can be shut off there. "
                "Name a pipe as pipes:ID, or a place as x,y in the course's metres."
            )
        return rows.astype(np.int64)

    def piece_at(self, x_m: float, y_m: float) -> int:
        """The piece nearest to a place.

        Raises:
            UserError: there is no pipe within 30 m.
        """
        rows = np.flatnonzero(self.long_enough)
        near = shapely.STRtree(self.pieces.lines[rows]).query_nearest(
            shapely.Point(x_m, y_m), max_distance=REACH_M, all_matches=False
        )
        if not len(near):
            raise UserError(
                f"No pipe lies within {REACH_M:.0f} m of {x_m:.1f}, {y_m:.1f} in the course's "
                "metres. Choose a place on a pipe."
            )
        return int(rows[near[0]])


def _components(one: Whole, other: Whole, nodes: int) -> Whole:
    graph = coo_array((np.ones(len(one)), (one, other)), shape=(nodes, nodes))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _shapes(table: pd.DataFrame, name: str) -> NDArray[np.object_]:
    return np.asarray(sound_shapes(table, name), dtype=object)


def _on_branch(attached: Attached, stretches: Stretches, bore_mm: Numbers) -> Attached:
    """Move a valve that stands on a joint to the thinnest pipe there: it closes that branch."""
    stretch, along = attached.stretch.copy(), attached.along_m.copy()
    length = shapely.length(stretches.lines)
    at_end = np.minimum(along, length[stretch] - along) < 1e-6
    nodes = nodes_of(attached, stretches)
    for place in np.flatnonzero(at_end):
        node = nodes[place]
        there = np.flatnonzero((stretches.start == node) | (stretches.end == node))
        if len(there) < 3:  # between two pipes both sides are the same
            continue
        thin = int(there[np.argmin(np.nan_to_num(bore_mm[stretches.pipe[there]], nan=np.inf))])
        stretch[place] = thin
        along[place] = 0.0 if stretches.start[thin] == node else length[thin]
    return Attached(attached.row, stretch, along, attached.distance_m)


def _between(line: Any, low_m: float, high_m: float) -> Any:
    """Part of a line; of no length where a valve stands on a joint."""
    if high_m - low_m < 1e-9:
        point = shapely.get_coordinates(line.interpolate(low_m))
        return shapely.linestrings(np.repeat(point, 2, axis=0))
    return shapely.ops.substring(line, low_m, high_m)


def _parted(stretches: Stretches, valves: Attached) -> tuple[Pieces, Whole, Whole, Numbers]:
    """Stretches parted at the valves; both nodes of each valve; where each piece begins."""
    count, free = len(valves.row), stretches.nodes
    first = free + 2 * np.arange(count)
    rows: list[tuple[int, Any, int, int, float]] = []
    order = np.lexsort((valves.along_m, valves.stretch))
    on: dict[int, list[int]] = {}
    for place in order:
        on.setdefault(int(valves.stretch[place]), []).append(int(place))
    for row, line in enumerate(stretches.lines):
        node, low = int(stretches.start[row]), 0.0
        for place in on.get(row, ()):
            along = float(valves.along_m[place])
            rows.append((row, _between(line, low, along), node, int(first[place]), low))
            node, low = int(first[place]) + 1, along
        end = int(stretches.end[row])
        whole = row not in on
        rest = line if whole else _between(line, low, line.length)
        rows.append((row, rest, node, end, low))
    stretch, lines, one, other, begins = (list(column) for column in zip(*rows, strict=True))
    pieces = Pieces(
        pipe=stretches.pipe[np.array(stretch)],
        lines=np.array(lines, dtype=object),
        one=np.array(one, dtype=np.int64),
        other=np.array(other, dtype=np.int64),
        nodes=free + 2 * count,
    )
    begin = np.array(stretch) * _STEP + np.array(begins)
    return pieces, first.astype(np.int64), (first + 1).astype(np.int64), begin


_STEP: Final = 1e7  # longer than any stretch [m]: stretch and distance along it as one number


def _placed(table: pd.DataFrame, name: str, stretches: Stretches, begin: Numbers) -> Places:
    """The piece that each row of a table stands on."""
    found = attach(stretches, _shapes(table, name), REACH_M)
    key = found.stretch * _STEP + found.along_m
    piece = np.searchsorted(begin, key, side="right") - 1
    ids = tuple(str(table.index[row]) for row in found.row)
    return Places(ids, piece.astype(np.int64), key - begin[piece])


def _valve_findings(valves: pd.DataFrame, found: Attached) -> Iterable[Finding]:
    for row in sorted(set(range(len(valves))) - set(found.row.tolist())):
        name = str(valves.index[row])
        yield warning(
            "valve-off-pipe",
            f"valves:{name}",
            f"Isolation valve {name} stands on no pipe within {VALVE_REACH_M:.0f} m, so it closes "
            "nothing here.",
            "Give its place on the pipe, or draw the pipe.",
        )


def _joint_findings(
    valves: pd.DataFrame, found: Attached, stretches: Stretches
) -> Iterable[Finding]:
    """Valves so near a joint of three pipes that the survey does not tell which they close."""
    length = shapely.length(stretches.lines[found.stretch])
    near = np.minimum(found.along_m, length - found.along_m) < 1e-6
    ends = np.concatenate([stretches.start, stretches.end])
    joined = np.bincount(ends, minlength=stretches.nodes)[nodes_of(found, stretches)]
    for place in np.flatnonzero(near & (joined > 2)):
        name = str(valves.index[found.row[place]])
        yield note(
            "valve-on-joint",
            f"valves:{name}",
            f"Isolation valve {name} stands on a joint of {joined[place]} pipes, and the record "
            "does not say which of them it closes; the thinnest is taken.",
            "Move it onto the pipe that it closes.",
        )


def _feed_table(ground: Ground) -> tuple[str, pd.DataFrame]:
    name = "pumps" if len(ground.pumps) else "sources"
    return name, ground.table(name)


def build_segments(ground: Ground) -> Segments:
    """The network parted by its isolation valves.

    Pipes join as in `build_network`. An isolation valve stands on the nearest pipe within 3 m and
    parts it there; one on a joint of three or more pipes is taken to close the thinnest.

    Args:
        ground: the record.

    Raises:
        UserError: no pipe has a line, or no feed stands on one.
    """
    lines = _shapes(ground.pipes, "pipes")
    if not len(lines) or shapely.is_empty(lines).all():
        raise UserError("The record has no pipes, so nothing says what a valve shuts off.")
    feed_name, feed_rows = _feed_table(ground)
    feed_places = _shapes(feed_rows, feed_name)
    stretches = stretches_of(lines, feed_places[~shapely.is_empty(feed_places)])
    fed = attach(stretches, feed_places, REACH_M)
    if not len(fed.row):
        raise UserError(
            "No pump or source stands on a pipe, so nothing says where water comes from. Survey "
            "the pump station as pumps, with its place."
        )
    isolation = ground.valves[ground.valves["kind"] == ISOLATION]
    others = ground.valves[ground.valves["kind"] != ISOLATION]
    near = attach(stretches, _shapes(isolation, "valves"), VALVE_REACH_M)
    bore = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    on = _on_branch(near, stretches, bore)
    pieces, one, other, begin = _parted(stretches, on)
    stands_closed = isolation["open"].map({False: True}).fillna(False).to_numpy(dtype=bool)
    return Segments(
        pipe_ids=tuple(str(name) for name in ground.pipes.index),
        pieces=pieces,
        valves=Valves(
            tuple(str(isolation.index[row]) for row in on.row), one, other, stands_closed[on.row]
        ),
        feeds=tuple(str(feed_rows.index[row]) for row in fed.row),
        feed_nodes=nodes_of(fed, stretches),
        heads=_placed(ground.heads, "heads", stretches, begin),
        fittings=_placed(others, "valves", stretches, begin),
        findings=(
            *_valve_findings(isolation, near),
            *_joint_findings(isolation, near, stretches),
        ),
    )
