"""The way of water to every head, loops, and what is doubtful about a drawing."""

from __future__ import annotations

from collections.abc import Callable
from time import process_time
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.findings import Finding, Severity
from nightwater.ground.record import Ground
from nightwater.pipes.network import Network, build_network

Make = Callable[..., Ground]
PUMP = {"P1": (0.0, 0.0)}
MAIN = [(0.0, 0.0), (100.0, 0.0)]


def codes(found: list[Finding]) -> list[str]:
    return sorted({finding.code for finding in found})


def only(found: list[Finding], code: str) -> list[str]:
    return [finding.subject for finding in found if finding.code == code]


def test_a_head_on_a_lateral_loads_lateral_and_main(network_ground: Make) -> None:
    ground = network_ground(
        {"main": MAIN, "lateral": [(50, 0), (50, 30)]}, {"H": (50.0, 20.0)}, pumps=PUMP
    )
    network, found = build_network(ground)
    assert network.routes == {"H": ("lateral", "main")}
    assert network.feeds == ("P1",)
    assert not network.looped
    assert found == []


def test_water_takes_the_way_of_least_resistance(network_ground: Make) -> None:
    """A ring of two ways of equal length: all by the one of the larger bore."""
    pipes = {
        "thin": [(0, 0), (0, 50), (100, 50), (100, 0)],
        "thick": [(0, 0), (0, -50), (100, -50), (100, 0)],
        "spur": [(100, 0), (150, 0)],
    }
    ground = network_ground(
        pipes, {"H": (140.0, 0.0)}, pumps=PUMP, diameter_mm={"thin": 100, "thick": 150}
    )
    network, _ = build_network(ground)
    assert network.routes["H"] == ("spur", "thick")
    assert network.looped == {"thin", "thick"}


def test_roughness_counts_as_bore_does(network_ground: Make) -> None:
    pipes = {
        "old": [(0, 0), (50, 40), (100, 0)],
        "new": [(0, 0), (50, -40), (100, 0)],
        "spur": [(100, 0), (150, 0)],
    }
    ground = network_ground(
        pipes, {"H": (140.0, 0.0)}, pumps=PUMP, roughness={"old": 90, "new": 150}
    )
    assert build_network(ground)[0].routes["H"] == ("spur", "new")


def test_a_head_on_the_far_side_of_a_tee_still_loads_its_whole_pipe(network_ground: Make) -> None:
    """A pipe is one thing with one limit, wherever along it the water leaves."""
    ground = network_ground(
        {"main": MAIN, "a": [(30, 0), (30, 20)], "b": [(70, 0), (70, 20)]},
        {"A": (30.0, 10.0), "B": (70.0, 10.0)},
        pumps=PUMP,
    )
    routes = build_network(ground)[0].routes
    assert routes == {"A": ("a", "main"), "B": ("b", "main")}


@pytest.mark.parametrize("away_m", [0.0, 0.4, 0.6])
def test_a_head_at_a_joint_loads_no_pipe_beyond_it(network_ground: Make, away_m: float) -> None:
    """A lateral drawn from head to head: each is fed by the piece before, not the one behind."""
    pipes = {"2": [(20, 0), (40, 0)], "1": [(0, 0), (20, 0)], "3": [(20, 0), (20, 30)]}
    ground = network_ground(pipes, {"H": (20.0 + away_m, 0.0)}, pumps=PUMP)
    loaded = ("2", "1") if away_m > 0.5 else ("1",)
    assert build_network(ground)[0].routes == {"H": loaded}


def test_a_head_at_the_pump_loads_no_pipe(network_ground: Make) -> None:
    ground = network_ground({"main": MAIN}, {"H": (0.0, 0.0)}, pumps=PUMP)
    network, found = build_network(ground)
    assert network.routes == {"H": ()}
    assert found == []


def test_water_from_the_nearer_of_two_pumps(network_ground: Make) -> None:
    ground = network_ground(
        {"west": [(0, 0), (50, 0)], "east": [(50, 0), (100, 0)]},
        {"W": (20.0, 1.0), "E": (80.0, 1.0)},
        pumps={"P1": (0.0, 0.0), "P2": (100.0, 0.0)},
    )
    network, found = build_network(ground)
    assert network.routes == {"W": ("west",), "E": ("east",)}
    assert network.feeds == ("P1", "P2")
    assert found == []


def test_a_pump_in_the_middle_of_a_pipe_feeds_it_there(network_ground: Make) -> None:
    ground = network_ground(
        {"main": MAIN, "l": [(10, 0), (10, 9)]}, {"H": (10.0, 5.0)}, pumps={"P": (60.0, 0.0)}
    )
    assert build_network(ground)[0].routes == {"H": ("l", "main")}


def test_sources_feed_where_no_pump_is_known(network_ground: Make) -> None:
    ground = network_ground({"main": MAIN}, {"H": (40.0, 1.0)}, sources={"W": (100.0, 0.0)})
    network, found = build_network(ground)
    assert network.feeds == ("W",)
    assert network.routes == {"H": ("main",)}
    assert found == []


def test_no_pipes_is_told_once(network_ground: Make) -> None:
    network, found = build_network(network_ground({}, {"H": (1.0, 1.0)}, pumps=PUMP))
    assert network == Network({}, frozenset(), ())
    assert codes(found) == ["no-pipes"]


def test_no_feed_is_an_error_and_no_head_has_a_route(network_ground: Make) -> None:
    ground = network_ground({"main": MAIN}, {"H": (40.0, 1.0)}, pumps={"P1": (0.0, 500.0)})
    network, found = build_network(ground)
    assert network.routes == {}
    assert [f.code for f in found if f.severity is Severity.ERROR] == ["no-feed"]
    assert only(found, "feed-off-pipe") == ["pumps:P1"]


def test_pieces_that_no_pump_reaches_are_named(network_ground: Make) -> None:
    pipes = {"main": MAIN, "lost": [(50, 0.8), (50, 30)], "further": [(50, 30), (80, 30)]}
    ground = network_ground(pipes, {"H": (50.0, 20.0), "M": (20.0, 2.0)}, pumps=PUMP)
    network, found = build_network(ground)
    assert network.routes == {"M": ("main",)}
    assert only(found, "pipe-not-reached") == ["pipes:lost", "pipes:further"]
    assert only(found, "head-not-fed") == ["heads:H"]


@pytest.mark.parametrize(
    ("away_m", "told"), [(4.9, []), (5.1, ["head-far-from-pipe"]), (30.1, ["head-not-fed"])]
)
def test_heads_away_from_their_pipe(network_ground: Make, away_m: float, told: list[str]) -> None:
    ground = network_ground({"main": MAIN}, {"H": (50.0, away_m)}, pumps=PUMP)
    network, found = build_network(ground)
    assert codes(found) == told
    assert ("H" in network.routes) == (away_m < 30)


def test_far_heads_are_one_note_that_names_the_worst(network_ground: Make) -> None:
    heads = {"A": (10.0, 6.0), "B": (20.0, 11.0), "C": (30.0, 1.0)}
    _, found = build_network(network_ground({"main": MAIN}, heads, pumps=PUMP))
    (one,) = found
    assert one.subject == "heads:B"
    assert one.message.startswith("2 heads stand more than 5 m")
    assert "11.0 m" in one.message


def test_heads_without_a_place_are_told_as_not_fed(network_ground: Make) -> None:
    ground = network_ground({"main": MAIN}, {"H": (1.0, 1.0), "Lost": (2.0, 2.0)}, pumps=PUMP)
    nowhere = ground.heads.assign(geometry=[Point(1, 1), None])
    network, found = build_network(ground.with_table("heads", nowhere))
    assert set(network.routes) == {"H"}
    assert only(found, "head-not-fed") == ["heads:Lost"]


@pytest.mark.parametrize("bore_mm", [0.0, -10.0, np.nan])
def test_a_pipe_without_bore_is_told_and_passed_only_at_need(
    network_ground: Make, bore_mm: float
) -> None:
    pipes = {"short": [(0, 0), (20, 0)], "long": [(0, 0), (10, 60), (20, 0)]}
    pipes["spur"] = [(20, 0), (40, 0)]
    ground = network_ground(pipes, {"H": (39.0, 1.0)}, pumps=PUMP, diameter_mm={"short": bore_mm})
    network, found = build_network(ground)
    assert only(found, "pipe-no-limit") == ["pipes:short"]
    assert network.routes["H"] == ("spur", "long")
    alone = network_ground({"short": [(0, 0), (20, 0)]}, {"H": (19.0, 1.0)}, pumps=PUMP)
    unknown = alone.pipes.assign(diameter_mm=bore_mm)
    assert build_network(alone.with_table("pipes", unknown))[0].routes == {"H": ("short",)}


def test_two_parallel_pipes_are_a_loop(network_ground: Make) -> None:
    pipes = {"one": MAIN, "two": [(0, 0), (50, 5), (100, 0)], "tail": [(100, 0), (150, 0)]}
    network, _ = build_network(network_ground(pipes, {"H": (140.0, 0.0)}, pumps=PUMP))
    assert network.looped == {"one", "two"}


def test_a_pipe_with_one_stretch_on_a_loop_is_looped(network_ground: Make) -> None:
    pipes = {"main": [(0, 0), (100, 0)], "bypass": [(30, 0), (50, 20), (70, 0)]}
    network, _ = build_network(network_ground(pipes, {"H": (99.0, 1.0)}, pumps=PUMP))
    assert network.looped == {"main", "bypass"}


def test_a_bridge_between_two_rings_is_no_loop(network_ground: Make) -> None:
    pipes = {
        "ring1": [(0, 0), (0, 20), (20, 20), (20, 0), (0, 0)],
        "bridge": [(20, 0), (60, 0)],
        "ring2": [(60, 0), (80, 0), (80, 20), (60, 20), (60, 0)],
        "spur": [(80, 20), (99, 20)],
    }
    network, found = build_network(network_ground(pipes, {"H": (98.0, 20.0)}, pumps=PUMP))
    assert network.looped == {"ring1", "ring2"}
    assert network.routes["H"] == ("spur", "ring2", "bridge", "ring1")
    assert found == []


@st.composite
def trees(draw: st.DrawFn) -> tuple[dict[str, list[tuple[float, float]]], dict[str, int]]:
    """A random tree on a wide grid: node k hangs on an earlier one; no two ever touch."""
    count = draw(st.integers(1, 12))
    spots = [(0.0, 0.0)]
    pipes, parent = {}, {}
    for node in range(1, count + 1):
        up = draw(st.integers(0, node - 1))
        spots.append((node * 100.0, 1000.0 * draw(st.integers(1, 5)) + 37.0 * node))
        pipes[f"L{node}"] = [spots[up], spots[node]]
        parent[f"L{node}"] = up
    return pipes, parent


def _crossing_free(pipes: dict[str, Any]) -> bool:
    from shapely import STRtree, linestrings, points

    lines = [linestrings(points_) for points_ in pipes.values()]
    ends = [points(p) for points_ in pipes.values() for p in points_]
    for line, own in zip(lines, pipes.values(), strict=True):
        near = STRtree(ends).query(line, predicate="dwithin", distance=1.0)
        if any((ends[i].x, ends[i].y) not in own for i in near):
            return False
    return True


@settings(deadline=None, max_examples=60)
@given(trees())
def test_routes_of_a_tree_are_its_paths(
    network_ground: Make, tree: tuple[dict[str, list[tuple[float, float]]], dict[str, int]]
) -> None:
    pipes, parent = tree
    if not _crossing_free(pipes):
        return
    heads = {f"H{name[1:]}": points[1] for name, points in pipes.items()}
    network, found = build_network(network_ground(pipes, heads, pumps=PUMP))
    assert not network.looped
    assert not [f for f in found if f.code != "head-far-from-pipe"]
    for head, route in network.routes.items():
        node, path = int(head[1:]), []
        while node:
            path.append(f"L{node}")
            node = parent[f"L{node}"]
        # A head at a fork may hang on any of its pipes; the way up from there is the path.
        assert list(route) == path or list(route[1:]) == path
        assert len(set(route)) == len(route)


def test_a_course_of_1_400_heads_takes_well_under_a_second(network_ground: Make) -> None:
    pipes: dict[str, Any] = {"main": [(0, 0), (14100, 0)]}
    heads = {}
    for i in range(700):
        x = 20.0 * (i + 1)
        pipes[f"L{i}"] = [(x, 0), (x, 40)]
        heads |= {f"H{i}a": (x, 20.0), f"H{i}b": (x + 0.5, 39.0)}
    ground = network_ground(pipes, heads, pumps=PUMP)
    start = process_time()
    network, found = build_network(ground)
    assert process_time() - start < 2.0  # 0.1 s when written; room for slow machines
    assert len(network.routes) == 1400
    assert found == []
