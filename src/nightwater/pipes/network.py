"""The pipe network out of the record: joints, feeds, loops, and the way to every head."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import networkx as nx
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from nightwater.findings import Finding, error, note, warning
from nightwater.ground.record import Ground
from nightwater.pipes.joints import JOINT_M, Stretches, stretches_of
from nightwater.pipes.losses import USUAL_C, resistance

REACH_M: Final = 30.0  # how far a head or pump may stand from the pipe that is taken for its own
NEAR_M: Final = 5.0  # farther than this is told
_BLOCKED_PER_M: Final = 1e30  # a pipe without a usable bore is passed only where all else fails

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Network:
    """The network as the planner needs it.

    Attributes:
        routes: head id → ids of the pipes that carry its water, from the head to the feed. A
            head that no water reaches is not there.
        looped: ids of the pipes that lie on a loop.
        feeds: ids of the pumps (or, without any, the sources) that stand on a pipe.
    """

    routes: Mapping[str, tuple[str, ...]]
    looped: frozenset[str]
    feeds: tuple[str, ...]


EMPTY: Final = Network({}, frozenset(), ())


def _places(frame: pd.DataFrame) -> NDArray[np.object_]:
    shapes: NDArray[np.object_] = np.asarray(frame["geometry"].to_numpy(), dtype=object)
    return shapes


def _usable(shapes: NDArray[np.object_]) -> Whole:
    sound = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return np.flatnonzero(sound).astype(np.int64)


@dataclass(frozen=True)
class _Attached:
    """Points and the stretches they stand on, row by row; `along_m` from the stretch's start."""

    ids: tuple[str, ...]
    stretch: Whole
    distance_m: Numbers
    along_m: Numbers


def _attach(frame: pd.DataFrame, stretches: Stretches) -> _Attached:
    shapes = _places(frame)
    there = _usable(shapes)
    tree = shapely.STRtree(stretches.lines)
    (which, stretch), distance = tree.query_nearest(
        shapes[there], max_distance=REACH_M, return_distance=True, all_matches=False
    )
    ids = tuple(str(frame.index[row]) for row in there[which])
    along = shapely.line_locate_point(stretches.lines[stretch], shapes[there[which]])
    return _Attached(ids, stretch.astype(np.int64), distance, along)


def _edge_resistance(ground: Ground, stretches: Stretches) -> Numbers:
    roughness = ground.pipes["hazen_williams_c"].fillna(USUAL_C).to_numpy(dtype=float)
    diameter = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    rows, length = stretches.pipe, shapely.length(stretches.lines)
    known = resistance(length, diameter[rows], roughness[rows])
    return np.where(np.isnan(known), length * _BLOCKED_PER_M, known)


@dataclass(frozen=True)
class _Tree:
    """The tree of least resistance: per node its distance and the stretch before it."""

    distance: Numbers
    before: Whole
    stretch: Whole


def _best_edges(stretches: Stretches, weight: Numbers, nodes: int) -> dict[tuple[int, int], int]:
    """The easiest stretch between each pair of nodes, both ways."""
    best: dict[tuple[int, int], int] = {}
    for edge in np.argsort(-weight, kind="stable"):
        one, other = int(stretches.start[edge]), int(stretches.end[edge])
        best[one, other] = best[other, one] = int(edge)
    return best


def _tree(stretches: Stretches, weight: Numbers, feeds: Whole) -> _Tree:
    """Dijkstra from all feeds at once."""
    nodes = stretches.nodes
    best = _best_edges(stretches, weight, nodes)
    pairs = np.array(list(best), dtype=np.int64).reshape(-1, 2)
    edges = np.array(list(best.values()), dtype=np.int64)
    # A zero would mean "no edge" to the sparse graph; the least positive number is as good.
    cost = np.maximum(weight[edges], np.finfo(float).tiny)
    graph = csr_array((cost, (pairs[:, 0], pairs[:, 1])), shape=(nodes, nodes))
    distance, before, _ = dijkstra(graph, indices=feeds, min_only=True, return_predecessors=True)
    stretch = np.array(
        [best.get((node, int(previous)), -1) for node, previous in enumerate(before)],
        dtype=np.int64,
    )
    return _Tree(distance, before.astype(np.int64), stretch)


def _pipes_to(tree: _Tree, stretches: Stretches) -> list[tuple[int, ...]]:
    """Rows of the pipes between each node and its feed, nearest first."""
    routes: list[tuple[int, ...]] = [()] * len(tree.distance)
    for node in np.argsort(tree.distance):
        if not np.isfinite(tree.distance[node]) or tree.stretch[node] < 0:
            continue
        row = int(stretches.pipe[tree.stretch[node]])
        behind = routes[int(tree.before[node])]
        routes[node] = behind if row in behind else (row, *behind)
    return routes


def _head_routes(
    ground: Ground, heads: _Attached, tree: _Tree, stretches: Stretches
) -> dict[str, tuple[str, ...]]:
    """A head loads the pipe it stands on, and all pipes between that and the feed.

    One at a joint loads only the pipes that bring water to the joint, whichever of the pipes
    that meet there it was found on.
    """
    names = [str(pipe) for pipe in ground.pipes.index]
    routes = _pipes_to(tree, stretches)
    lengths = shapely.length(stretches.lines[heads.stretch])
    found = {}
    for head, stretch, along, length in zip(
        heads.ids, heads.stretch, heads.along_m, lengths, strict=True
    ):
        away = {int(stretches.start[stretch]): along, int(stretches.end[stretch]): length - along}
        at_joint = [node for node, metres in away.items() if metres <= JOINT_M]
        node = min(at_joint or away, key=lambda end: tree.distance[end])
        if np.isfinite(tree.distance[node]):
            own, behind = int(stretches.pipe[stretch]), routes[node]
            rows = behind if at_joint or own in behind else (own, *behind)
            found[head] = tuple(names[row] for row in rows)
    return found


def looped_pipes(ground: Ground, stretches: Stretches) -> frozenset[str]:
    """Ids of the pipes with a stretch whose loss would cut nothing off."""
    graph: Any = nx.MultiGraph()
    ends = zip(stretches.start.tolist(), stretches.end.tolist(), strict=True)
    graph.add_edges_from((one, other) for one, other in ends if one != other)
    bridges = {frozenset(edge) for edge in nx.bridges(nx.Graph(graph))}
    twins = {frozenset((u, v)) for u, v in graph.edges() if graph.number_of_edges(u, v) > 1}
    single = bridges - twins
    return frozenset(
        str(ground.pipes.index[row])
        for one, other, row in zip(stretches.start, stretches.end, stretches.pipe, strict=True)
        if one != other and frozenset((int(one), int(other))) not in single
    )


def _feeds(ground: Ground, stretches: Stretches) -> tuple[tuple[str, ...], Whole, list[Finding]]:
    """The nodes where water enters: at the pumps, else at the sources."""
    table = "pumps" if len(ground.pumps) else "sources"
    frame = ground.table(table)
    attached = _attach(frame, stretches)
    nodes = []
    shapes = dict(zip((str(i) for i in frame.index), _places(frame), strict=True))
    for name, stretch in zip(attached.ids, attached.stretch, strict=True):
        line = stretches.lines[stretch]
        nearer_start = shapely.line_locate_point(line, shapes[name]) < shapely.length(line) / 2
        nodes.append(stretches.start[stretch] if nearer_start else stretches.end[stretch])
    away = [str(name) for name in frame.index if str(name) not in attached.ids]
    findings = [
        warning(
            "feed-off-pipe",
            f"{table}:{name}",
            f"{table[:-1].capitalize()} {name} stands on no pipe within {REACH_M:.0f} m.",
            "Give its place, or draw the pipe that leaves it.",
        )
        for name in away
    ]
    if not nodes:
        findings.append(
            error(
                "no-feed",
                "pipes:*",
                "No pump or source stands on a pipe, so the pipes' limits cannot be kept.",
                "Survey the pump station as pumps, with its place.",
            )
        )
    return attached.ids, np.array(nodes, dtype=np.int64), findings


def _unreached(ground: Ground, tree: _Tree, stretches: Stretches) -> list[Finding]:
    dry = ~np.isfinite(tree.distance[stretches.start])
    rows = np.unique(stretches.pipe[dry])
    names = [str(ground.pipes.index[row]) for row in rows]
    return [
        warning(
            "pipe-not-reached",
            f"pipes:{name}",
            f"Pipe {name} is joined to no pump: its ends meet no other pipe within {JOINT_M} m.",
            "Move its end onto the pipe that feeds it, or draw the missing piece.",
        )
        for name in names
    ]


def _without_bore(ground: Ground) -> list[Finding]:
    diameter = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    return [
        warning(
            "pipe-no-limit",
            f"pipes:{name}",
            f"Pipe {name} has no inside diameter above zero, so no flow limit is kept for it.",
            "Enter its inside diameter.",
        )
        for name in ground.pipes.index[~(diameter > 0)]
    ]


def _head_findings(
    ground: Ground, heads: _Attached, routes: Mapping[str, tuple[str, ...]]
) -> list[Finding]:
    dry = [str(name) for name in ground.heads.index if str(name) not in routes]
    findings = [
        warning(
            "head-not-fed",
            f"heads:{name}",
            f"Head {name} hangs on no pipe that a pump reaches; only the pump's limit is kept "
            "for it.",
            "Draw the lateral that feeds it.",
        )
        for name in dry
    ]
    far = heads.distance_m > NEAR_M
    if far.any():
        worst = int(np.argmax(heads.distance_m))
        findings.append(
            note(
                "head-far-from-pipe",
                f"heads:{heads.ids[worst]}",
                f"{int(far.sum())} heads stand more than {NEAR_M:.0f} m from the nearest pipe, "
                f"{heads.ids[worst]} {heads.distance_m[worst]:.1f} m; it is taken for theirs.",
                "Draw the laterals where they lie.",
            )
        )
    return findings


def build_network(ground: Ground) -> tuple[Network, list[Finding]]:
    """The network of a record and what is doubtful about it.

    Pipe ends within 0.5 m of another pipe join it. A head, and a pump, stands on the
    nearest pipe within 30 m. Water takes the way of least Hazen–Williams resistance (at equal
    flow) from the nearest feed; in a loop this is one of the ways it can take, which is why
    limits in loops are kept with a margin, see docs/how/pipes.md.

    Args:
        ground: the record; pipes with diameter_mm, hazen_williams_c (140 where not known).

    Returns:
        The network, empty where there are no pipes, and findings.
    """
    if ground.pipes.empty or not len(_usable(_places(ground.pipes))):
        doubt = warning(
            "no-pipes",
            "pipes:*",
            "The record has no pipes; only pump and controllers limit the night.",
            "Survey the pipes, so that no lateral is asked to carry too much.",
        )
        return EMPTY, [doubt]
    stretches = stretches_of(_places(ground.pipes), _feed_places(ground))
    feeds, nodes, findings = _feeds(ground, stretches)
    looped = looped_pipes(ground, stretches)
    findings += _without_bore(ground)
    if not len(nodes):
        return Network({}, looped, feeds), findings
    tree = _tree(stretches, _edge_resistance(ground, stretches), nodes)
    heads = _attach(ground.heads, stretches)
    routes = _head_routes(ground, heads, tree, stretches)
    findings += _unreached(ground, tree, stretches)
    findings += _head_findings(ground, heads, routes)
    return Network(routes, looped, feeds), findings


def _feed_places(ground: Ground) -> NDArray[np.object_]:
    shapes = _places(ground.table("pumps" if len(ground.pumps) else "sources"))
    return shapes[_usable(shapes)]
