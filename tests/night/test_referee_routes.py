"""The referee's own pipe network: by hand, and against the planner's over random networks."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import MinuteRules, NightRules
from nightwater.night.referee_record import station_facts
from nightwater.night.referee_routes import Routes, routes_of
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.network import build_network

CRS = "EPSG:32613"
RULES = NightRules(max_velocity_m_s=1.5, loop_margin=0.8)
Points = list[tuple[float, float]]


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def network(
    pipes: dict[str, Points | list[Points]],
    heads: dict[str, tuple[float, float]],
    pumps: dict[str, tuple[float, float]] | None = None,
    **columns: list[Any],
) -> Ground:
    """A ground of pipes (one line or several), heads and pumps; the first pump is at 0, 0."""
    lines = {}
    for name, given_points in pipes.items():
        parts = given_points if isinstance(given_points[0], list) else [given_points]
        lines[name] = {
            "diameter_mm": 100.0,
            "geometry": MultiLineString([LineString(part) for part in parts]),
        }
    pump_at = {"P": (0.0, 0.0)} if pumps is None else pumps
    ground = ground_from(
        CRS,
        {
            "pipes": frame(lines),
            "heads": frame({k: {"geometry": Point(xy), "station": "S"} for k, xy in heads.items()}),
            "stations": frame({"S": {"flow_listed_l_s": 3.0}}),
            "pumps": frame(
                {k: {"capacity_l_s": 10.0, "geometry": Point(xy)} for k, xy in pump_at.items()}
            ),
        },
    )
    return ground.with_table("pipes", ground.pipes.assign(**columns)) if columns else ground


def ways(ground: Ground) -> dict[str, set[str]]:
    routes = routes_of(ground, RULES)
    return {head: {routes.pipes[row] for row in rows} for head, rows in routes.by_head.items()}


MAIN: Points = [(0, 0), (100, 0)]


def test_head_at_the_end_of_a_lateral_loads_lateral_and_main() -> None:
    ground = network({"M": MAIN, "L": [(50, 0), (50, 20)]}, {"H": (50, 20)})
    assert ways(ground) == {"H": {"M", "L"}}


def test_head_on_the_main_does_not_load_the_lateral() -> None:
    ground = network({"M": MAIN, "L": [(50, 0), (50, 20)]}, {"H": (80, 1)})
    assert ways(ground) == {"H": {"M"}}


def test_pipe_beyond_the_head_is_not_loaded() -> None:
    ground = network({"M": MAIN, "N": [(100, 0), (200, 0)]}, {"H": (30, 2), "K": (150, 2)})
    assert ways(ground) == {"H": {"M"}, "K": {"M", "N"}}


@pytest.mark.parametrize(("away_m", "beyond"), [(0.0, set()), (0.4, set()), (0.6, {"N"})])
def test_head_at_a_joint_loads_no_pipe_beyond_it(away_m: float, beyond: set[str]) -> None:
    pipes: dict[str, Any] = {"N": [(100, 0), (200, 0)], "M": MAIN, "L": [(100, 0), (100, 20)]}
    assert ways(network(pipes, {"H": (100 + away_m, 0)})) == {"H": {"M"} | beyond}


@pytest.mark.parametrize(("gap_m", "joined"), [(0.0, True), (0.4, True), (0.6, False)])
def test_joint_reaches_half_a_metre(gap_m: float, joined: bool) -> None:
    ground = network({"M": MAIN, "L": [(50, gap_m), (50, 20)]}, {"H": (50, 20)})
    assert ("H" in ways(ground)) is joined


@pytest.mark.parametrize(("gap_m", "joined"), [(0.0, True), (0.4, True), (0.6, False)])
def test_ends_meet_within_half_a_metre(gap_m: float, joined: bool) -> None:
    ground = network({"M": MAIN, "N": [(100 + gap_m, 0), (200, 0)]}, {"H": (200, 0)})
    assert ("H" in ways(ground)) is joined


def test_pipes_that_only_cross_are_not_joined() -> None:
    ground = network({"M": MAIN, "X": [(50, -30), (50, 30)]}, {"H": (50, 30)})
    assert ways(ground) == {}


def test_pipe_in_several_parts_is_one_pipe() -> None:
    ground = network({"M": [MAIN, [(50, 0), (50, 20)]]}, {"H": (50, 20)})
    assert ways(ground) == {"H": {"M"}}


@pytest.mark.parametrize(("away_m", "reached"), [(29.0, True), (31.0, False)])
def test_head_reaches_thirty_metres(away_m: float, reached: bool) -> None:
    assert ("H" in ways(network({"M": MAIN}, {"H": (50, away_m)}))) is reached


def test_head_without_a_place_has_no_way() -> None:
    ground = network({"M": MAIN}, {"H": (50, 0), "K": (60, 0)})
    lost = ground.with_table("heads", ground.heads.assign(geometry=[Point(50, 0), None]))
    assert set(ways(lost)) == {"H"}


def test_pump_in_the_middle_feeds_both_sides() -> None:
    ground = network({"M": MAIN, "N": [(100, 0), (200, 0)]}, {"H": (10, 0)}, {"P": (110, 0)})
    assert ways(ground) == {"H": {"M", "N"}}


def test_pump_beside_a_pipe_feeds_its_nearer_end() -> None:
    pipes = {"M": MAIN, "N": [(100, 0), (200, 0)]}
    assert ways(network(pipes, {"H": (10, 0)}, {"P": (110, 5)})) == {"H": {"M"}}


def test_nearest_of_two_pumps_feeds() -> None:
    pipes = {"M": MAIN, "N": [(100, 0), (200, 0)]}
    ground = network(pipes, {"H": (10, 0), "K": (190, 0)}, {"P": (0, 0), "Q": (200, 0)})
    assert ways(ground) == {"H": {"M"}, "K": {"N"}}


def test_without_pumps_the_sources_feed() -> None:
    ground = network({"M": MAIN}, {"H": (50, 0)}, {})
    assert ways(ground) == {}
    fed = ground.with_table("sources", frame({"W": {"kind": "well", "geometry": Point(0, 0)}}))
    assert ways(fed) == {"H": {"M"}}


def test_no_pipes_is_no_network() -> None:
    ground = network({"M": MAIN}, {"H": (50, 0)})
    bare = ground.with_table("pipes", ground.pipes.iloc[:0])
    assert routes_of(bare, RULES).pipes == ()


TWO_WAYS: dict[str, Points | list[Points]] = {
    "short": [(0, 0), (100, 0)],
    "long": [(0, 0), (0, 80), (100, 80), (100, 0)],
    "tail": [(100, 0), (160, 0)],
}


def test_water_takes_the_easier_way() -> None:
    assert ways(network(TWO_WAYS, {"H": (160, 0)})) == {"H": {"short", "tail"}}


def test_bore_outweighs_length() -> None:
    # 260 m of 100 mm against 100 m of 60 mm: 0.6^4.87 = 0.083, so the long way is easier
    ground = network(TWO_WAYS, {"H": (160, 0)}, diameter_mm=[60.0, 100.0, 100.0])
    assert ways(ground) == {"H": {"long", "tail"}}


def test_roughness_counts_to_the_power_of_1852() -> None:
    # 100 m at C 80 resist like 100 · (150/80)^1.852 = 320 m at C 150
    ground = network(TWO_WAYS, {"H": (160, 0)}, hazen_williams_c=[80.0, 150.0, 150.0])
    assert ways(ground) == {"H": {"long", "tail"}}
    milder = network(TWO_WAYS, {"H": (160, 0)}, hazen_williams_c=[95.0, 150.0, 150.0])
    assert ways(milder) == {"H": {"short", "tail"}}  # 233 m


def test_unknown_roughness_is_140() -> None:
    # 100 m at C 83 resist like 263 m at C 140; at 84 like 258 m, and the long way is 260 m
    for c, way in ((83.0, "long"), (84.0, "short")):
        ground = network(TWO_WAYS, {"H": (160, 0)}, hazen_williams_c=[c, None, None])
        assert ways(ground)["H"] == {way, "tail"}


def test_pipe_without_a_bore_is_passed_only_where_all_else_fails() -> None:
    ground = network(TWO_WAYS, {"H": (160, 0)}, diameter_mm=[None, 100.0, 100.0])
    assert ways(ground) == {"H": {"long", "tail"}}
    only = network(
        {"M": MAIN, "N": [(100, 0), (200, 0)]}, {"H": (200, 0)}, diameter_mm=[None, 90.0]
    )
    assert ways(only) == {"H": {"M", "N"}}
    assert math.isnan(routes_of(only, RULES).limits_l_s[0])


def test_ring_is_looped_and_its_tail_is_not() -> None:
    assert routes_of(network(TWO_WAYS, {}), RULES).looped == {"short", "long"}


def test_two_pipes_side_by_side_are_a_loop() -> None:
    ground = network({"A": MAIN, "B": MAIN, "T": [(100, 0), (150, 0)]}, {})
    assert routes_of(ground, RULES).looped == {"A", "B"}


def test_tree_has_no_loops() -> None:
    ground = network({"M": MAIN, "L": [(50, 0), (50, 20)], "K": [(50, 20), (70, 20)]}, {})
    assert routes_of(ground, RULES).looped == frozenset()


def test_closed_ring_hung_on_a_pipe_is_a_loop() -> None:
    ring = [(100.0, 0.0), (150.0, 40.0), (200.0, 0.0), (150.0, -40.0), (100.0, 0.0)]
    ground = network({"M": MAIN, "R": ring, "T": [(200, 0), (250, 0)]}, {"H": (250, 0)})
    assert routes_of(ground, RULES).looped == {"R"}
    assert ways(ground) == {"H": {"M", "R", "T"}}


def test_pipe_shorter_than_a_joint_joins_what_it_touches() -> None:
    ground = network(
        {"M": MAIN, "s": [(100, 0), (100.3, 0)], "N": [(100.3, 0), (200, 0)]}, {"H": (200, 0)}
    )
    assert {"M", "N"} <= ways(ground)["H"]
    assert routes_of(ground, RULES).looped == frozenset()


def test_limits_are_velocity_times_bore() -> None:
    ground = network(TWO_WAYS, {}, max_velocity_m_s=[None, None, 1.0])
    found = routes_of(ground, RULES)
    limits = dict(zip(found.pipes, found.limits_l_s, strict=True))
    bore_m2 = math.pi / 4 * 0.1**2
    assert limits["tail"] == pytest.approx(1.0 * bore_m2 * 1000)
    assert limits["short"] == pytest.approx(0.8 * 1.5 * bore_m2 * 1000)  # looped


def test_trade_limit_of_a_two_inch_lateral() -> None:
    # 2.149 in at 5 ft/s: 57 gpm (TRADE, common practice), so two heads of 27.5 gpm and not three
    ground = network({"L": MAIN}, {}, diameter_mm=[2.149 * 25.4])
    limit = routes_of(ground, NightRules()).limits_l_s[0]
    assert limit / 3.785411784 * 60 == pytest.approx(56.6, abs=0.1)


def routes_by_hand() -> Routes:
    return Routes(("A", "B"), np.array([1.0, 2.0]), frozenset(), {"H": (0, 1), "K": (1,)})


def test_loads_of_a_station_add_up_on_shared_pipes() -> None:
    ground = network({"M": MAIN}, {"H": (10, 0), "K": (20, 0)})
    facts = station_facts(ground, MinuteRules())["S"]
    rows, flows = routes_by_hand().station_loads(facts, 3.0)  # the listed flow, half a head
    assert dict(zip(rows.tolist(), flows.tolist(), strict=True)) == {0: 1.5, 1: 3.0}


def test_head_that_nothing_reaches_loads_nothing() -> None:
    ground = network({"M": MAIN}, {"X": (10, 0)})
    facts = station_facts(ground, MinuteRules())["S"]
    rows, flows = routes_by_hand().station_loads(facts, 3.0)
    assert len(rows) == len(flows) == 0


@st.composite
def random_networks(draw: st.DrawFn) -> Ground:
    """Streets of a grid with odd bores and roughness, heads beside them, one or two pumps."""
    across, up = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    streets = [((x, y), (x + 1, y)) for x in range(across) for y in range(up + 1)]
    streets += [((x, y), (x, y + 1)) for x in range(across + 1) for y in range(up)]
    kept = draw(st.lists(st.sampled_from(streets), min_size=1, max_size=14, unique=True))
    # odd spacings and bores, so that no two ways are equally easy
    place = {n: 97.3 * n + 11.7 * n**2 for n in range(5)}
    pipes: dict[str, Points | list[Points]] = {
        f"P{i}": [(place[a], 1.3 * place[b]), (place[c], 1.3 * place[d])]
        for i, ((a, b), (c, d)) in enumerate(kept)
    }
    bores = [draw(st.sampled_from([53.0, 66.7, 81.1, 103.9])) + 0.37 * i for i in range(len(pipes))]
    heads = {}
    for i in range(draw(st.integers(1, 8))):
        (x1, y1), (x2, y2) = pipes[draw(st.sampled_from(sorted(pipes)))]  # type: ignore[misc]
        share = draw(st.floats(0.05, 0.95))
        heads[f"H{i}"] = (x1 + share * (x2 - x1) + 2.3, y1 + share * (y2 - y1) + 2.9)
    corners = sorted({corner for street in kept for corner in street})
    pumps = {
        f"W{i}": (place[x], 1.3 * place[y])
        for i, (x, y) in enumerate(draw(st.lists(st.sampled_from(corners), min_size=1, max_size=2)))
    }
    return network(pipes, heads, pumps, diameter_mm=bores)


@settings(max_examples=150, deadline=None)
@given(random_networks())
def test_two_ways_of_computing_agree(ground: Ground) -> None:
    """Planner and referee share no code and find the same ways, loops and limits."""
    theirs, _ = build_network(ground)
    ours = routes_of(ground, RULES)
    assert ours.looped == theirs.looped
    assert ways(ground) == {head: set(route) for head, route in theirs.routes.items()}
    limits = pipe_limits_l_s(ground.pipes, theirs.looped, RULES)
    assert dict(zip(ours.pipes, ours.limits_l_s, strict=True)) == pytest.approx(limits)
