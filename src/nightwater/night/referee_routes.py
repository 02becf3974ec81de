"""The referee's own way of water from the pumps to each head, and what each pipe may carry.

A pipe end that lies on another pipe joins it there; a head and a pump join the nearest
pipe. Water takes the way of least Hazen–Williams resistance from the nearest feed.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import networkx as nx
import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.night.referee_record import StationFacts

_JOINT_M: Final = 0.5
_HEAD_REACH_M: Final = 30.0
_FLOW_POWER: Final = 1.852
_DIAMETER_POWER: Final = 4.8704
_DEFAULT_C: Final = 140.0
_FEED: Final = "feed"

Spot = tuple[int, float]


@dataclass(frozen=True)
class Routes:
    """Pipes with their limits, and the pipes behind each head.

    Attributes:
        pipes: ids, in the order of the rows below.
        limits_l_s: flow each may carry, loop margin taken off; shape (pipes,).
        looped: ids of the pipes that lie on a loop.
        by_head: rows of the pipes between pump and each head that is reached.
    """

    pipes: tuple[str, ...]
    limits_l_s: NDArray[np.float64]
    looped: frozenset[str]
    by_head: dict[str, tuple[int, ...]]

    def station_loads(
        self, facts: StationFacts, flow_l_s: float
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Rows of the pipes that a running station loads, each once, and its flow there."""
        loads: dict[int, float] = defaultdict(float)
        for head, flow in facts.head_flows:
            share = flow_l_s / len(facts.head_flows) if math.isnan(flow) else flow
            for row in self.by_head.get(head, ()):
                loads[row] += share
        return np.array(list(loads), dtype=np.int64), np.array(list(loads.values()))


@dataclass(frozen=True)
class _Lines:
    """The parts of all pipes; `row` is the pipe of each part."""

    parts: NDArray[np.object_]
    row: NDArray[np.int64]
    tree: shapely.STRtree


def _lines(ground: Ground) -> _Lines:
    parts, row = shapely.get_parts(ground.pipes.geometry.to_numpy(), return_index=True)
    sound = ~shapely.is_empty(parts)
    return _Lines(parts[sound], row[sound].astype(np.int64), shapely.STRtree(parts[sound]))


def _spots(lines: _Lines, parts: NDArray[np.int64], points: NDArray[np.object_]) -> list[Spot]:
    """Where points lie along their parts, ends made exact."""
    length = shapely.length(lines.parts[parts])
    along = shapely.line_locate_point(lines.parts[parts], points)
    along = np.where(along <= _JOINT_M, 0.0, np.where(along >= length - _JOINT_M, length, along))
    return [(int(part), float(m)) for part, m in zip(parts, along, strict=True)]


def _ends(lines: _Lines) -> tuple[NDArray[np.object_], list[Spot]]:
    points = np.concatenate([shapely.get_point(lines.parts, 0), shapely.get_point(lines.parts, -1)])
    length = shapely.length(lines.parts)
    spots = [(part, 0.0) for part in range(len(length))]
    spots += [(part, float(along)) for part, along in enumerate(length)]
    return points, spots


def _joints(lines: _Lines) -> list[tuple[Spot, Spot]]:
    """Pairs of spots that are one joint."""
    points, spots = _ends(lines)
    end, part = lines.tree.query(points, predicate="dwithin", distance=_JOINT_M)
    touched = _spots(lines, part, points[end])
    pairs = ((spots[int(e)], spot) for e, spot in zip(end, touched, strict=True))
    return [(one, other) for one, other in pairs if one != other]


def _attached(lines: _Lines, points: NDArray[np.object_], reach_m: float) -> dict[int, Spot]:
    """The spot on the nearest pipe of each point within reach, by the point's row."""
    there = np.flatnonzero(~(shapely.is_missing(points) | shapely.is_empty(points)))
    which, part = lines.tree.query_nearest(points[there], max_distance=reach_m, all_matches=False)
    return dict(zip(there[which].tolist(), _spots(lines, part, points[there[which]]), strict=True))


def _resistance_per_m(ground: Ground) -> NDArray[np.float64]:
    roughness = ground.pipes["hazen_williams_c"].fillna(_DEFAULT_C).to_numpy(dtype=float)
    diameter = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    easy: NDArray[np.float64] = roughness**_FLOW_POWER * (diameter / 1000) ** _DIAMETER_POWER
    return 1.0 / easy


def _graph(ground: Ground, lines: _Lines, cuts: list[Spot], joints: list[tuple[Spot, Spot]]) -> Any:
    """Stretches of pipe between spots, and joints without resistance."""
    per_m = _resistance_per_m(ground)
    along: dict[int, set[float]] = defaultdict(set)
    for part, length in enumerate(shapely.length(lines.parts)):
        along[part] |= {0.0, float(length)}
    for part, measure in (*cuts, *(spot for joint in joints for spot in joint)):
        along[part].add(measure)
    graph: Any = nx.Graph()
    for part, measures in along.items():
        ordered, row = sorted(measures), int(lines.row[part])
        for one, other in pairwise(ordered):
            weight = (other - one) * per_m[row]
            graph.add_edge((part, one), (part, other), weight=weight, row=row)
    for joint in joints:
        if not graph.has_edge(*joint):  # both ends of a pipe shorter than a joint
            graph.add_edge(*joint, weight=0.0, row=-1)
    return graph


def _looped(graph: Any, ids: tuple[str, ...]) -> frozenset[str]:
    bridges = {frozenset(edge) for edge in nx.bridges(graph)}
    return frozenset(
        ids[row]
        for one, other, row in graph.edges(data="row")
        if row >= 0 and frozenset((one, other)) not in bridges
    )


def _rows_to(graph: Any) -> dict[Hashable, tuple[int, ...]]:
    """The pipes between the feed and each spot that water reaches, by spot."""
    distance: Any
    distance, ways = nx.single_source_dijkstra(graph, _FEED)
    rows: dict[Hashable, tuple[int, ...]] = {_FEED: ()}
    for spot in distance:  # nearest first, so the spot before is known already
        if spot != _FEED:
            before = ways[spot][-2]
            row = graph.edges[before, spot]["row"]
            behind = rows[before]
            rows[spot] = behind if row < 0 or row in behind else (*behind, row)
    return rows


def _limits_l_s(ground: Ground, looped: frozenset[str], rules: NightRules) -> NDArray[np.float64]:
    """Velocity limit times bore, loop margin taken off [L/s]."""
    velocity = ground.pipes["max_velocity_m_s"].fillna(rules.max_velocity_m_s)
    bore_m2 = math.pi / 4 * (ground.pipes["diameter_mm"].to_numpy(dtype=float) / 1000) ** 2
    margin = np.where(ground.pipes.index.isin(list(looped)), rules.loop_margin, 1.0)
    limits: NDArray[np.float64] = velocity.to_numpy(dtype=float) * bore_m2 * 1000 * margin
    return limits


def routes_of(ground: Ground, rules: NightRules) -> Routes:
    """The way of water to every head, by the record's pipes alone."""
    ids = tuple(str(pipe) for pipe in ground.pipes.index)
    if not ids:
        return Routes((), np.empty(0), frozenset(), {})
    lines = _lines(ground)
    heads = _attached(lines, ground.heads.geometry.to_numpy(), _HEAD_REACH_M)
    pumps = _attached(lines, ground.pumps.geometry.to_numpy(), _HEAD_REACH_M)
    graph = _graph(ground, lines, [*heads.values(), *pumps.values()], _joints(lines))
    looped = _looped(graph, ids)
    graph.add_edges_from((_FEED, spot, {"weight": 0.0, "row": -1}) for spot in pumps.values())
    reached = _rows_to(graph) if pumps else {}
    by_head = {
        str(ground.heads.index[row]): reached[spot]
        for row, spot in heads.items()
        if spot in reached
    }
    return Routes(ids, _limits_l_s(ground, looped, rules), looped, by_head)
