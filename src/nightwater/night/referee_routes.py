"""The referee's own way of water from the pumps to each head, and what each pipe may carry.

The rules are those of docs/how/pipes.md, done again by other means: a pipe end within
0.5 m of another pipe joins it there; a pump on a pipe feeds it there, one beside it feeds
the nearer end of its stretch; a head stands on the nearest pipe within 30 m and takes its
water from the easier end of its stretch, one within 0.5 m of a joint from the joint; water
takes the way of least Hazen–Williams resistance from the nearest feed.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Hashable, Iterable
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
_REACH_M: Final = 30.0
_FLOW_POWER: Final = 1.852
_DIAMETER_POWER: Final = 4.8704
_DEFAULT_C: Final = 140.0
_BLOCKED_PER_M: Final = 1e30
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
    sound = ~shapely.is_empty(parts) & (shapely.length(parts) > 0)
    return _Lines(parts[sound], row[sound].astype(np.int64), shapely.STRtree(parts[sound]))


@dataclass(frozen=True)
class _Places:
    """Points on their nearest parts, one row for each pair that is equally near."""

    point: NDArray[np.int64]
    part: NDArray[np.int64]
    along_m: NDArray[np.float64]
    distance_m: NDArray[np.float64]


def _near(lines: _Lines, points: NDArray[np.object_]) -> _Places:
    """The nearest part of each point within reach."""
    there = np.flatnonzero(~(shapely.is_missing(points) | shapely.is_empty(points)))
    (which, part), distance = lines.tree.query_nearest(
        points[there], max_distance=_REACH_M, return_distance=True
    )
    along = shapely.line_locate_point(lines.parts[part], points[there[which]])
    return _Places(there[which].astype(np.int64), part.astype(np.int64), along, distance)


def _ends(lines: _Lines) -> tuple[NDArray[np.object_], list[Spot]]:
    points = np.concatenate([shapely.get_point(lines.parts, 0), shapely.get_point(lines.parts, -1)])
    length = shapely.length(lines.parts)
    spots = [(part, 0.0) for part in range(len(length))]
    spots += [(part, float(along)) for part, along in enumerate(length)]
    return points, spots


def _joints(lines: _Lines) -> list[tuple[Spot, Spot]]:
    """Pairs of spots that are one joint: an end on another pipe, or two ends together."""
    points, spots = _ends(lines)
    end, part = lines.tree.query(points, predicate="dwithin", distance=_JOINT_M)
    along = shapely.line_locate_point(lines.parts[part], points[end])
    length = shapely.length(lines.parts[part])
    inner = (along > _JOINT_M) & (along < length - _JOINT_M)
    tees = [
        (spots[int(e)], (int(p), float(m)))
        for e, p, m in zip(end[inner], part[inner], along[inner], strict=True)
    ]
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=_JOINT_M)
    met = [(spots[int(a)], spots[int(b)]) for a, b in zip(one, other, strict=True) if a < b]
    return tees + met


def _resistance_per_m(ground: Ground) -> NDArray[np.float64]:
    """Relative resistance; a pipe without a usable bore is passed only where all else fails."""
    roughness = ground.pipes["hazen_williams_c"].fillna(_DEFAULT_C).to_numpy(dtype=float)
    diameter = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_m = 1.0 / (roughness**_FLOW_POWER * (diameter / 1000) ** _DIAMETER_POWER)
    known: NDArray[np.float64] = np.where((diameter > 0) & (roughness > 0), per_m, _BLOCKED_PER_M)
    return known


def _cuts(lines: _Lines, spots: Iterable[Spot]) -> list[list[float]]:
    """Where each part is cut, its own ends included, in order."""
    along = [{0.0, float(length)} for length in shapely.length(lines.parts)]
    for part, measure in spots:
        along[part].add(measure)
    return [sorted(measures) for measures in along]


def _graph(
    ground: Ground, lines: _Lines, cuts: list[list[float]], joints: list[tuple[Spot, Spot]]
) -> Any:
    """Stretches of pipe between cuts, and joints without resistance."""
    per_m = _resistance_per_m(ground)
    graph: Any = nx.Graph()
    for part, measures in enumerate(cuts):
        row = int(lines.row[part])
        for one, other in pairwise(measures):
            weight = (other - one) * per_m[row]
            graph.add_edge((part, one), (part, other), weight=weight, row=row)
    for joint in joints:
        if not graph.has_edge(*joint):  # both ends of a pipe shorter than a joint
            graph.add_edge(*joint, weight=0.0, row=-1)
    return graph


def _stretch(cuts: list[list[float]], part: int, along_m: float) -> tuple[Spot, Spot]:
    """The two cuts between which a place lies."""
    measures = cuts[part]
    place = min(max(bisect_right(measures, along_m), 1), len(measures) - 1)
    return (part, measures[place - 1]), (part, measures[place])


def _looped(graph: Any, joints: list[tuple[Spot, Spot]], ids: tuple[str, ...]) -> frozenset[str]:
    """Pipes with a stretch whose loss would cut nothing off; one within a joint has none."""
    bridges = {frozenset(edge) for edge in nx.bridges(graph)}
    place: dict[Spot, int] = {}
    for number, together in enumerate(nx.connected_components(nx.Graph(joints))):
        place |= dict.fromkeys(together, number)
    return frozenset(
        ids[row]
        for one, other, row in graph.edges(data="row")
        if row >= 0
        and frozenset((one, other)) not in bridges
        and place.get(one, one) != place.get(other, other)
    )


@dataclass(frozen=True)
class _Reached:
    """Resistance from the feed and the pipes on the way, for each spot that water reaches."""

    resistance: dict[Hashable, float]
    rows: dict[Hashable, tuple[int, ...]]


def _reached(graph: Any) -> _Reached:
    distance: Any
    distance, ways = nx.single_source_dijkstra(graph, _FEED)
    rows: dict[Hashable, tuple[int, ...]] = {_FEED: ()}
    for spot in distance:  # nearest first, so the spot before is known already
        if spot != _FEED:
            before = ways[spot][-2]
            row = graph.edges[before, spot]["row"]
            behind = rows[before]
            rows[spot] = behind if row < 0 or row in behind else (*behind, row)
    return _Reached(distance, rows)


def _head_rows(
    lines: _Lines, cuts: list[list[float]], heads: _Places, reached: _Reached
) -> dict[int, tuple[int, ...]]:
    """Rows of the pipes behind each head; of equally near pipes the one that is easier fed."""
    best: dict[int, tuple[float, int]] = {}
    found: dict[int, tuple[int, ...]] = {}
    for head, part, along in zip(heads.point, heads.part, heads.along_m, strict=True):
        fed = [s for s in _stretch(cuts, int(part), float(along)) if s in reached.rows]
        if not fed:
            continue
        at_joint = [spot for spot in fed if abs(spot[1] - along) <= _JOINT_M]
        end = min(at_joint or fed, key=lambda spot: reached.resistance[spot])
        rank = (reached.resistance[end], int(part))
        if int(head) not in best or rank < best[int(head)]:
            best[int(head)] = rank
            behind, own = reached.rows[end], int(lines.row[part])
            found[int(head)] = behind if at_joint or own in behind else (*behind, own)
    return found


def _feed_spots(lines: _Lines, cuts: list[list[float]], feeds: _Places) -> list[Spot]:
    spots = []
    for part, along in zip(feeds.part, feeds.along_m, strict=True):
        low, high = _stretch(cuts, int(part), float(along))
        spots.append(low if along - low[1] <= high[1] - along else high)
    return spots


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
    lines = _lines(ground)
    if not len(lines.parts):
        return Routes((), np.empty(0), frozenset(), {})
    feeds = _near(
        lines, (ground.pumps if len(ground.pumps) else ground.sources).geometry.to_numpy()
    )
    on_pipe = feeds.distance_m <= _JOINT_M
    pairs = zip(feeds.part[on_pipe], feeds.along_m[on_pipe], strict=True)
    joints = _joints(lines)
    spots = [(int(part), float(along)) for part, along in pairs]
    cuts = _cuts(lines, [*spots, *(spot for joint in joints for spot in joint)])
    graph = _graph(ground, lines, cuts, joints)
    looped = _looped(graph, joints, ids)
    graph.add_node(_FEED)
    for spot in _feed_spots(lines, cuts, feeds):
        graph.add_edge(_FEED, spot, weight=0.0, row=-1)
    heads = _near(lines, ground.heads.geometry.to_numpy())
    by_row = _head_rows(lines, cuts, heads, _reached(graph))
    by_head = {str(ground.heads.index[row]): rows for row, rows in by_row.items()}
    return Routes(ids, _limits_l_s(ground, looped, rules), looped, by_head)
