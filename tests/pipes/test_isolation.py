"""Shutting a break off, against hand-drawn networks and against trying every set of valves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations, pairwise
from typing import Any

import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.findings import UserError
from nightwater.ground.record import Ground
from nightwater.pipes.isolation import (
    FewerHands,
    Isolation,
    beyond_valves,
    dry_length_m,
    isolate,
)
from nightwater.pipes.segments import Segments, build_segments

Place = tuple[float, float]
Make = Callable[..., Ground]


def with_valves(ground: Ground, valves: Mapping[str, tuple[Place, dict[str, Any]]]) -> Ground:
    """A ground with valves; isolation and open unless told otherwise."""
    rows = {
        name: {"kind": "isolation", "open": True, "geometry": Point(place), **more}
        for name, (place, more) in valves.items()
    }
    table = pd.DataFrame.from_dict(rows, orient="index")
    whole = ground.table("valves").reindex(table.index)
    return ground.with_table("valves", whole.assign(**{c: table[c] for c in table.columns}))


def valves_at(places: Mapping[str, Place], closed: Iterable[str] = ()) -> dict[str, Any]:
    return {name: (place, {"open": name not in closed}) for name, place in places.items()}


@pytest.fixture
def ring(network_ground: Make) -> Ground:
    """A pump on a stub, a square ring of four pipes, and a spur with a head; heads on each side."""
    ground = network_ground(
        {
            "stub": [(-50, 0), (0, 0)],
            "south": [(0, 0), (100, 0)],
            "east": [(100, 0), (100, 100)],
            "north": [(0, 100), (100, 100)],
            "west": [(0, 0), (0, 100)],
            "spur": [(100, 100), (200, 100)],
        },
        {
            "h-south": (50, 0),
            "h-east": (100, 50),
            "h-north": (50, 100),
            "h-west": (0, 50),
            "h-spur": (150, 100),
        },
        pumps={"pump": (-50, 0)},
    )
    return with_valves(
        ground,
        valves_at(
            {
                "v-stub": (-10, 0),
                "v-s": (10, 0),
                "v-w": (0, 10),
                "v-e": (100, 90),
                "v-n": (90, 100),
                "v-spur": (110, 100),
            }
        ),
    )


def broken(ground: Ground, pipe: str, **more: Any) -> Isolation:
    segments = build_segments(ground)
    return isolate(segments, segments.pieces_of(pipe), **more)


def broken_at(ground: Ground, x: float, y: float, **more: Any) -> Isolation:
    segments = build_segments(ground)
    return isolate(segments, [segments.piece_at(x, y)], **more)


def test_a_ring_keeps_its_other_side(ring: Ground) -> None:
    answer = broken_at(ring, 50, 0)
    assert answer.close == ("v-e", "v-s")
    assert set(answer.heads) == {"h-south", "h-east"}
    assert answer.stop == ()
    assert not answer.unfed


def test_a_spur_needs_its_own_valve_alone(ring: Ground) -> None:
    answer = broken_at(ring, 150, 100)
    assert answer.close == ("v-spur",)
    assert answer.heads == ("h-spur",)


def test_what_hangs_behind_the_break_loses_water_and_its_valve_may_stay_open(ring: Ground) -> None:
    corner = broken_at(ring, 100, 100)  # the joint between v-e, v-n and v-spur
    assert corner.close == ("v-e", "v-n")
    assert corner.heads == ("h-spur",)


def test_a_whole_pipe_is_shut_off_beyond_the_valves_on_it(ring: Ground) -> None:
    assert broken(ring, "south").close == ("v-stub",)  # its corner feeds the whole ring
    assert broken_at(ring, 50, 0).close == ("v-e", "v-s")


def test_a_break_beside_the_pump_wants_the_pump_stopped(ring: Ground) -> None:
    answer = broken_at(ring, -30, 0)
    assert answer.stop == ("pump",)
    assert answer.close == ()
    assert set(answer.heads) == {"h-south", "h-east", "h-north", "h-west", "h-spur"}
    assert answer.fewer is None


def test_one_valve_may_do_for_two_at_the_price_of_dry_ground(ring: Ground) -> None:
    answer = broken_at(ring, 50, 0)
    assert answer.fewer == FewerHands(
        ("v-stub",), ("h-south", "h-east", "h-north", "h-west", "h-spur")
    )
    assert broken_at(ring, 150, 100).fewer is None


def test_a_stuck_valve_moves_the_cut_to_the_next_ones(ring: Ground) -> None:
    answer = broken_at(ring, 50, 0, stuck=["v-e"])
    assert answer.close == ("v-n", "v-s")
    assert set(answer.heads) == {"h-south", "h-east", "h-spur"}
    assert broken_at(ring, 50, 0, stuck=["v-s", "v-e", "v-n"]).close == ("v-stub",)


def test_a_valve_that_stands_closed_is_no_way_and_must_hold(ring: Ground) -> None:
    closed = ring.with_table("valves", ring.valves.assign(open=ring.valves.index != "v-e"))
    answer = broken_at(closed, 50, 0)
    assert answer.close == ("v-s",)
    assert answer.stands_closed == ("v-e",)
    assert set(answer.heads) == {"h-south", "h-east"}


def test_a_closed_valve_can_bring_water_back_behind_the_break(network_ground: Make) -> None:
    ground = network_ground(
        {"a": [(0, 0), (100, 0)], "b": [(100, 0), (200, 0)], "c": [(0, 0), (0, 50), (200, 50)]},
        {"h-a": (50, 0), "h-b": (150, 0), "h-c": (100, 50)},
        pumps={"pump": (0, 0)},
    )
    link = network_ground(
        {
            "a": [(0, 0), (100, 0)],
            "b": [(100, 0), (200, 0)],
            "c": [(0, 0), (0, 50), (200, 50)],
            "link": [(200, 0), (200, 50)],
        },
        {"h-a": (50, 0), "h-b": (150, 0), "h-c": (100, 50)},
        pumps={"pump": (0, 0)},
    )
    places = {"v1": (10.0, 0.0), "v2": (110.0, 0.0), "v3": (200.0, 25.0), "v4": (0.0, 10.0)}
    plain = with_valves(ground, valves_at({k: places[k] for k in ("v1", "v2", "v4")}))
    assert broken_at(plain, 50, 0).detours == ()
    answer = broken_at(with_valves(link, valves_at(places, closed=["v3"])), 50, 0)
    assert set(answer.heads) == {"h-a", "h-b"}
    assert answer.close == ("v1",)
    (detour,) = answer.detours
    assert (detour.close, detour.open, detour.heads) == (("v2",), ("v3",), ("h-b",))


def test_a_break_that_has_no_water_says_so(network_ground: Make) -> None:
    ground = network_ground(
        {"fed": [(0, 0), (100, 0)], "apart": [(0, 50), (100, 50)]},
        {"h": (50, 50)},
        pumps={"pump": (0, 0)},
    )
    answer = broken(with_valves(ground, valves_at({"v": (50, 0)})), "apart")
    assert answer.unfed
    assert answer.heads == ()
    assert answer.close == ()


def test_two_pumps_are_both_cut_off(network_ground: Make) -> None:
    ground = network_ground(
        {"main": [(0, 0), (300, 0)]},
        {"h1": (50, 0), "h2": (150, 0), "h3": (250, 0)},
        pumps={"west": (0, 0), "east": (300, 0)},
    )
    answer = broken_at(with_valves(ground, valves_at({"v1": (100, 0), "v2": (200, 0)})), 150, 0)
    assert answer.close == ("v1", "v2")
    assert answer.heads == ("h2",)


def test_fittings_of_the_broken_part_are_where_to_drain_it(ring: Ground) -> None:
    more = {
        **valves_at({"v-s": (10, 0), "v-e": (100, 90)}),
        "drain": ((60, 0.4), {"kind": "drain", "open": False}),
        "far-drain": ((150, 100), {"kind": "drain", "open": False}),
        "coupler": ((104, 40), {"kind": "quick_coupler", "open": False}),
    }
    answer = broken_at(with_valves(ring, more), 50, 0)
    assert set(answer.fittings) == {"drain", "coupler"}


def test_a_valve_off_every_pipe_closes_nothing_and_is_told(ring: Ground) -> None:
    places = {"v-s": (10.0, 0.0), "lost": (50.0, 50.0)}
    segments = build_segments(with_valves(ring, valves_at(places)))
    assert segments.valves.ids == ("v-s",)
    assert [(f.code, f.subject) for f in segments.findings] == [("valve-off-pipe", "valves:lost")]


def test_a_valve_on_a_joint_closes_the_thinnest_pipe_there(network_ground: Make) -> None:
    ground = network_ground(
        {"main": [(0, 0), (200, 0)], "branch": [(100, 0), (100, 80)]},
        {"h-main": (150, 0), "h-branch": (100, 40)},
        pumps={"pump": (0, 0)},
        diameter_mm={"main": 200.0, "branch": 80.0},
    )
    valved = with_valves(ground, valves_at({"v": (100, 0)}))
    segments = build_segments(valved)
    assert [f.code for f in segments.findings] == ["valve-on-joint"]
    answer = broken(valved, "branch")
    assert (answer.close, answer.heads) == (("v",), ("h-branch",))
    assert broken(valved, "main").stop == ("pump",)


def test_a_valve_between_two_pipes_needs_no_choice(network_ground: Make) -> None:
    ground = network_ground(
        {"near": [(0, 0), (100, 0)], "far": [(100, 0), (200, 0)]},
        {"h": (150, 0)},
        pumps={"pump": (0, 0)},
    )
    segments = build_segments(with_valves(ground, valves_at({"v": (100, 0)})))
    assert segments.findings == ()
    assert isolate(segments, segments.pieces_of("far")).close == ("v",)


def test_length_that_loses_water_is_measured_between_the_valves(ring: Ground) -> None:
    segments = build_segments(ring)
    answer = isolate(segments, [segments.piece_at(50, 0)])
    assert dry_length_m(segments, answer) == pytest.approx(90 + 90)


def test_pipes_that_no_valve_parts_from_the_pump(ring: Ground) -> None:
    assert beyond_valves(build_segments(ring)) == {("pump",): ("stub",)}


def test_sources_feed_where_there_is_no_pump(network_ground: Make) -> None:
    ground = network_ground({"p": [(0, 0), (50, 0)]}, {"h": (40, 0)}, sources={"pond": (0, 0)})
    answer = broken_at(with_valves(ground, valves_at({"v": (20, 0)})), 40, 0)
    assert (answer.close, answer.heads) == (("v",), ("h",))


def test_what_cannot_be_answered_is_refused(network_ground: Make, ring: Ground) -> None:
    segments = build_segments(ring)
    with pytest.raises(UserError, match="no pipe 'nowhere'"):
        segments.pieces_of("nowhere")
    with pytest.raises(UserError, match="No pipe lies within 30 m"):
        segments.piece_at(500, 500)
    with pytest.raises(UserError, match="No pump or source"):
        build_segments(network_ground({"p": [(0, 0), (50, 0)]}, {"h": (0, 0)}))
    with pytest.raises(UserError, match="no pipes"):
        build_segments(ring.with_table("pipes", ring.pipes.iloc[:0]))


# ---- every set of valves tried, on small random networks --------------------------------------

STEP = 100.0
NODES = [(x * STEP, y * STEP) for x in range(3) for y in range(2)]
EDGES = [
    (a, b)
    for a, b in combinations(range(len(NODES)), 2)
    if abs(NODES[a][0] - NODES[b][0]) + abs(NODES[a][1] - NODES[b][1]) == STEP
]
SHARES = (0.2, 0.7)
MOST_VALVES = 7


@dataclass(frozen=True)
class Small:
    """A network on a little grid: edges, valves (edge, share), feeds, closed valves, the break."""

    edges: tuple[tuple[int, int], ...]
    valves: tuple[tuple[int, float], ...]
    feeds: tuple[int, ...]
    closed: frozenset[int]
    stuck: frozenset[int]
    broken: tuple[int, float]

    def graph(self) -> Any:
        """Parts of pipe as nodes; whoever touches is joined by an edge, a valve by a named one."""
        graph: Any = nx.MultiGraph()
        parts: dict[int, list[float]] = {}
        for edge, (a, b) in enumerate(self.edges):
            cuts = sorted((share, v) for v, (on, share) in enumerate(self.valves) if on == edge)
            bounds = [0.0, *(share for share, _ in cuts), 1.0]
            parts[edge] = bounds
            for part in range(len(bounds) - 1):
                graph.add_node((edge, part), head=f"h{edge}-{part}")
            for part, (_, valve) in enumerate(cuts):
                graph.add_edge((edge, part), (edge, part + 1), valve=valve)
            graph.add_edge(("node", a), (edge, 0), valve=None)
            graph.add_edge(("node", b), (edge, len(bounds) - 2), valve=None)
        return graph

    def part_of(self, edge: int, share: float) -> tuple[int, int]:
        return edge, sum(on == edge and cut < share for on, cut in self.valves)

    def wet(self, graph: Any, shut: frozenset[int]) -> set[Any]:
        """What water reaches with these valves closed besides those that stand closed."""
        held = (shut | self.closed) - self.stuck
        open_graph = nx.Graph()
        open_graph.add_nodes_from(graph.nodes)
        open_graph.add_edges_from(
            (a, b) for a, b, valve in graph.edges(data="valve") if valve not in held
        )
        return set(
            chain.from_iterable(
                nx.node_connected_component(open_graph, ("node", feed)) for feed in self.feeds
            )
        )


@st.composite
def small_networks(draw: Any) -> Small:
    edges = tuple(
        draw(st.lists(st.sampled_from(EDGES), min_size=3, max_size=len(EDGES), unique=True))
    )
    spots = [(edge, share) for edge in range(len(edges)) for share in SHARES]
    valves = tuple(draw(st.lists(st.sampled_from(spots), max_size=MOST_VALVES, unique=True)))
    ends = sorted({node for edge in edges for node in edge})
    feeds = tuple(draw(st.lists(st.sampled_from(ends), min_size=1, max_size=2, unique=True)))
    numbers = st.frozensets(st.integers(0, max(0, len(valves) - 1)), max_size=2)
    closed, stuck = draw(numbers), draw(numbers)
    at = draw(st.sampled_from(range(len(edges)))), draw(st.sampled_from((0.1, 0.45, 0.9)))
    known = frozenset(range(len(valves)))
    return Small(edges, valves, feeds, closed & known, stuck & known, at)


def between(edge: tuple[int, int], share: float) -> Place:
    (x1, y1), (x2, y2) = NODES[edge[0]], NODES[edge[1]]
    return x1 + share * (x2 - x1), y1 + share * (y2 - y1)


def ground_of(small: Small, make: Make) -> Ground:
    pipes = {f"p{n}": [NODES[a], NODES[b]] for n, (a, b) in enumerate(small.edges)}
    heads = {}
    for edge, ends in enumerate(small.edges):
        bounds = [0.0, *sorted(s for on, s in small.valves if on == edge), 1.0]
        for part, (low, high) in enumerate(pairwise(bounds)):
            heads[f"h{edge}-{part}"] = between(ends, (low + high) / 2)
    ground = make(pipes, heads, pumps={f"f{n}": NODES[n] for n in small.feeds})
    if not small.valves:
        return ground
    places = {
        f"v{n}": between(small.edges[edge], share) for n, (edge, share) in enumerate(small.valves)
    }
    return with_valves(ground, valves_at(places, closed=[f"v{n}" for n in small.closed]))


def subsets(items: Sequence[int]) -> Iterator[frozenset[int]]:
    for size in range(len(items) + 1):
        yield from map(frozenset, combinations(items, size))


def heads_of(graph: Any, parts: set[Any]) -> set[str]:
    return {graph.nodes[part]["head"] for part in parts if part[0] != "node"}


def tried(small: Small, graph: Any) -> list[tuple[frozenset[int], set[str]]]:
    """Every set of valves that cuts the break off, with the heads that lose water by it."""
    at = small.part_of(*small.broken)
    before = small.wet(graph, frozenset())
    usable = sorted(set(range(len(small.valves))) - small.closed - small.stuck)
    found = []
    for shut in subsets(usable):
        wet = small.wet(graph, shut)
        if at not in wet:
            found.append((shut, heads_of(graph, before - wet)))
    return found


def named(valves: Iterable[int]) -> tuple[str, ...]:
    return tuple(sorted(f"v{n}" for n in valves))


@settings(
    max_examples=70, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(small=small_networks())
def test_no_set_of_valves_does_better(small: Small, network_ground: Make) -> None:
    graph = small.graph()
    segments = build_segments(ground_of(small, network_ground))
    x, y = between(small.edges[small.broken[0]], small.broken[1])
    answer = isolate(segments, [segments.piece_at(x, y)], stuck=named(small.stuck))
    ways = tried(small, graph)
    if not ways:
        assert answer.stop
        return
    assert answer.stop == ()
    least = min(len(heads) for _, heads in ways)
    best = [shut for shut, heads in ways if len(heads) == least]
    fewest = min(len(shut) for shut in best)
    assert [named(shut) for shut in best if len(shut) == fewest] == [answer.close]
    assert {named(shut): heads for shut, heads in ways}[answer.close] == set(answer.heads)
    # Every way to cut it off leaves at least the same heads dry.
    assert all(set(answer.heads) <= heads for _, heads in ways)


@settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(small=small_networks())
def test_no_set_is_smaller_than_the_fewest(small: Small, network_ground: Make) -> None:
    segments = build_segments(ground_of(small, network_ground))
    x, y = between(small.edges[small.broken[0]], small.broken[1])
    answer = isolate(segments, [segments.piece_at(x, y)], stuck=named(small.stuck))
    ways = tried(small, small.graph())
    if not ways:
        assert answer.fewer is None
        return
    fewest = min(len(shut) for shut, _ in ways)
    if answer.fewer is None:
        assert fewest == len(answer.close)
        return
    assert len(answer.fewer.close) == fewest < len(answer.close)
    dry = {named(shut): heads for shut, heads in ways if len(shut) == fewest}
    assert set(answer.fewer.dry_heads) == dry[answer.fewer.close]
    assert len(answer.fewer.dry_heads) == min(map(len, dry.values()))


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(small=small_networks())
def test_pieces_cover_every_pipe_once(small: Small, network_ground: Make) -> None:
    segments: Segments = build_segments(ground_of(small, network_ground))
    length = pd.Series(shapely.length(segments.pieces.lines)).groupby(segments.pieces.pipe).sum()
    assert np.allclose(length, STEP)
    assert len(segments.pieces.lines) == len(small.edges) + len(small.valves)
