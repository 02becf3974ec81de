"""Filling empty pipes: how much, how fast at most, how long at least, and where air comes out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from nightwater.pipes.losses import bore_m2, fill_time_min, flow_at_velocity_l_s
from nightwater.pipes.segments import Segments
from nightwater.units import M_PER_FT, SECONDS_PER_MINUTE

FILL_VELOCITY_M_S: Final = M_PER_FT  # 1 ft/s: common practice, no source
AIR_KINDS: Final = ("air", "quick_coupler")

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class AirPoint:
    """Where air comes out, and the earliest minute at which water stands there.

    Attributes:
        valve: its id.
        kind: "air" or "quick_coupler".
        way_m: along the pipes from where water comes in.
        earliest_min: with water going there straight at the filling velocity.
    """

    valve: str
    kind: str
    way_m: float
    earliest_min: float


@dataclass(frozen=True)
class FillPlan:
    """How to fill pipes.

    Attributes:
        volume_m3: what they hold; pipes without a bore count nothing.
        without_bore: ids of those pipes.
        entry: id of the pipe that water comes in through, the widest at hand.
        flow_l_s: the most that may flow there, at the filling velocity.
        volume_min: volume over flow.
        way_min: the longest way from an entry, at the filling velocity.
        air: air points in the order in which water reaches them.
    """

    volume_m3: float
    without_bore: tuple[str, ...]
    entry: str
    flow_l_s: float
    volume_min: float
    way_min: float
    air: tuple[AirPoint, ...]

    @property
    def least_min(self) -> float:
        """No filling that keeps the velocity is done sooner."""
        return float(np.nanmax([self.volume_min, self.way_min]))


def pipe_volume_m3(length_m: ArrayLike, diameter_mm: ArrayLike) -> Numbers:
    """Water that a pipe holds [m³]; a diameter of zero or less gives NaN. The two broadcast."""
    return np.asarray(length_m, dtype=float) * bore_m2(diameter_mm)


def _ways_m(segments: Segments, pieces: Whole, starts: Whole) -> Numbers:
    """Shortest way of each node from the nearest start, over these pieces and all valves [m]."""
    rows, valves = segments.pieces, segments.valves
    one = np.concatenate([rows.one[pieces], valves.one])
    other = np.concatenate([rows.other[pieces], valves.other])
    length = np.concatenate([shapely.length(rows.lines[pieces]), np.zeros(len(valves.ids))])
    table = pd.DataFrame(
        {"one": one, "other": other, "cost": np.maximum(length, np.finfo(float).tiny)}
    )
    # Of twins the shorter: the sparse graph would add them up.
    table = table.sort_values("cost").drop_duplicates(["one", "other"])
    ends = (table["one"].to_numpy(), table["other"].to_numpy())
    graph = csr_array((table["cost"].to_numpy(), ends), shape=(rows.nodes, rows.nodes))
    way: Numbers = dijkstra(graph, directed=False, indices=starts, min_only=True)
    return way


def _entry_piece(segments: Segments, pieces: Whole, starts: Whole, bore_mm: Numbers) -> int:
    """The widest piece at a start, where water is let in; of all pieces where none is there."""
    leaves = np.isin(segments.pieces.one[pieces], starts)
    leaves |= np.isin(segments.pieces.other[pieces], starts)
    at = pieces[leaves] if leaves.any() else pieces  # a part that no start reaches
    return int(at[np.argmax(np.nan_to_num(bore_mm[at], nan=-1.0))])


def _air(
    segments: Segments, kinds: pd.Series[str], pieces: Whole, way_m: Numbers
) -> list[AirPoint]:
    found = []
    inside, rows, places = set(pieces.tolist()), segments.pieces, segments.fittings
    for name, piece, along in zip(places.ids, places.piece, places.along_m, strict=True):
        kind, length = str(kinds[name]), float(rows.lines[piece].length)
        ends = way_m[rows.one[piece]] + along, way_m[rows.other[piece]] + length - along
        way = float(min(ends))
        if kind in AIR_KINDS and int(piece) in inside and np.isfinite(way):
            minutes = way / FILL_VELOCITY_M_S / SECONDS_PER_MINUTE
            found.append(AirPoint(name, kind, way, minutes))
    return sorted(found, key=lambda point: (point.way_m, point.valve))


def fill_plan(
    segments: Segments,
    pipes: pd.DataFrame,
    valve_kinds: pd.Series[str],
    *,
    pieces: Collection[int] | Whole | None = None,
    starts: Whole | None = None,
) -> FillPlan:
    """How to fill the whole network from its feeds, or a part of it from some nodes.

    Water is let in through one pipe, and the flow is what that carries at 1 ft/s. The time is at
    least that of the volume, and at least that of the longest way; which of the two counts
    depends on how the valves are opened.

    Args:
        segments: the network.
        pipes: the record's pipes, for their bore.
        valve_kinds: kind of each valve, by id.
        pieces: rows of the pieces to fill; all where None.
        starts: nodes where water comes in; the feeds where None.

    Returns:
        Volume, flow, times and air points; the time of the volume is NaN where the entry has no
        bore.
    """
    rows = np.arange(len(segments.pieces.lines)) if pieces is None else np.asarray(list(pieces))
    begin = segments.feed_nodes if starts is None else starts
    bore = pipes["diameter_mm"].to_numpy(dtype=float)[segments.pieces.pipe]
    volume = pipe_volume_m3(shapely.length(segments.pieces.lines[rows]), bore[rows])
    entry = _entry_piece(segments, rows, begin, bore)
    flow = float(flow_at_velocity_l_s(FILL_VELOCITY_M_S, bore[entry]))
    way = _ways_m(segments, rows, np.unique(begin))
    ends = np.concatenate([segments.pieces.one[rows], segments.pieces.other[rows]])
    reached = way[ends][np.isfinite(way[ends])]
    longest = float(reached.max()) if len(reached) else float("nan")
    names = np.array(segments.pipe_ids, dtype=object)
    return FillPlan(
        volume_m3=float(np.nansum(volume)),
        without_bore=tuple(np.unique(names[segments.pieces.pipe[rows[np.isnan(volume)]]])),
        entry=str(names[segments.pieces.pipe[entry]]),
        flow_l_s=flow,
        volume_min=float(fill_time_min(np.nansum(volume), flow)),
        way_min=longest / FILL_VELOCITY_M_S / SECONDS_PER_MINUTE,
        air=tuple(_air(segments, valve_kinds, rows, way)),
    )
