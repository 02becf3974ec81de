"""The record as a network that can be solved: cuts, valves, feeds, levels, what is left out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.findings import UserError
from nightwater.ground.record import Ground, ground_from
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import ISOLATION, PIPE, REDUCING
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.units import KPA_PER_M_WATER

CRS = "EPSG:32613"


def frame(rows: dict[str, dict]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def line(*points) -> MultiLineString:
    return MultiLineString([LineString(points)])


NOZZLE = {"n": {"pressure_kpa": 400.0, "flow_l_s": 1.0, "radius_m": 18.0}}
PUMP = {"capacity_l_s": 40.0, "head_m": 60.0, "set_pressure_kpa": 500.0, "geometry": Point(0, 0)}


def ground(pipes=None, heads=None, *, pumps=None, sources=None, valves=None) -> Ground:
    """A main along x with a head at each of some distances, unless something else is said."""
    lines = pipes or {"main": {"geometry": line((0, 0), (100, 0))}}
    points = {"h1": (40, 1), "h2": (70, -1)} if heads is None else heads
    tables = {
        "pipes": frame({k: {"diameter_mm": 100.0, **row} for k, row in lines.items()}),
        "nozzles": frame(NOZZLE),
        "heads": frame(
            {
                name: {"geometry": Point(at[:2]), "nozzle": "n", "station": f"s-{name}",
                       "regulated": False, **({"elevation_m": at[2]} if len(at) > 2 else {})}
                for name, at in points.items()
            }
        ),
        "pumps": frame({"p": PUMP} if pumps is None else pumps),
        "sources": frame(sources or {}),
        "valves": frame(valves or {}),
    }  # fmt: skip
    return ground_from(CRS, {name: rows for name, rows in tables.items() if len(rows)})


def codes(findings) -> list[str]:
    return sorted({each.code for each in findings})


def test_a_main_is_cut_where_heads_stand() -> None:
    network, findings = build_hydraulic_network(ground())
    assert network.heads == ("h1", "h2")
    assert sorted(network.length_m) == [30, 30, 40]
    assert network.places[network.head_node].tolist() == [[40, 0], [70, 0]]
    assert set(network.owner) == {"main"}
    assert codes(findings) == ["ground-taken-level", "pump-curve-assumed", "suction-level-assumed"]


def test_heads_close_together_share_a_stand_and_an_end_is_its_own() -> None:
    heads = {"a": (50, 1), "b": (50.1, -1), "c": (100.1, 0), "d": (0.1, 2)}
    network, _ = build_hydraulic_network(ground(heads=heads))
    assert network.head_node[0] == network.head_node[1]
    assert len(network.length_m) == 2
    assert network.length_m.sum() == pytest.approx(100)


def test_every_metre_of_pipe_is_kept() -> None:
    rng = np.random.default_rng(3)
    heads = {f"h{n}": (float(x), 2.0) for n, x in enumerate(rng.uniform(0, 100, 60))}
    valves = {f"v{n}": {"kind": "isolation", "open": True, "geometry": Point(x, 0)}
              for n, x in enumerate((0.0, 20.0, 20.0, 100.0))}  # fmt: skip
    network, _ = build_hydraulic_network(ground(heads=heads, valves=valves))
    assert network.length_m[network.kind == PIPE].sum() == pytest.approx(100, abs=0.01)
    assert (network.length_m[network.kind == PIPE] >= 0).all()
    assert (network.kind == ISOLATION).sum() == 4
    with Engine(network) as engine:
        assert engine.solve(np.arange(60) % 6 == 0).findings == ()


def test_levels_come_from_heads_pumps_and_ends_of_pipes() -> None:
    pipes = {"main": {"geometry": line((0, 0), (100, 0)), "start_elevation_m": 10.0,
                      "end_elevation_m": 30.0}}  # fmt: skip
    heads = {"h1": (40, 1, 25.0), "h2": (70, 0)}
    network, findings = build_hydraulic_network(ground(pipes, heads))
    level = dict(zip(network.places[:, 0].tolist(), network.elevation_m.tolist(), strict=True))
    assert (level[0], level[40], level[100]) == (10, 25, 30)
    assert 25 < level[70] < 30
    assert "ground-taken-level" not in codes(findings)


def test_a_shut_valve_cuts_off_what_is_behind_it() -> None:
    valve = {"v": {"kind": "isolation", "open": False, "geometry": Point(55, 0)}}
    network, findings = build_hydraulic_network(ground(valves=valve))
    assert network.heads == ("h1",)
    assert network.left_out == {"h2"}
    (told,) = [each for each in findings if each.code == "heads-cut-off"]
    assert "1 of 2 heads" in told.message
    assert "Shut valves: v." in told.message
    with Engine(network) as engine:
        assert engine.solve([[True]]).flow_l_s[0, 0] > 1


def test_a_valve_that_says_nothing_stands_open_and_drains_are_not_there() -> None:
    valves = {
        "v": {"kind": "isolation", "geometry": Point(55, 0)},
        "d": {"kind": "drain", "open": False, "geometry": Point(60, 0)},
        "q": {"kind": "quick_coupler", "open": False, "geometry": Point(65, 0)},
    }
    network, _ = build_hydraulic_network(ground(valves=valves))
    assert network.heads == ("h1", "h2")
    assert network.owner[network.kind != PIPE].tolist() == ["v"]


@pytest.mark.parametrize("points", [((0, 0), (100, 0)), ((100, 0), (0, 0))])
def test_a_reducing_valve_faces_away_from_the_pump_however_its_pipe_is_drawn(points) -> None:
    valve = {"r": {"kind": "pressure_reducing", "setting_kpa": 300.0, "geometry": Point(55, 0)}}
    pipes = {"main": {"geometry": line(*points)}}
    network, _ = build_hydraulic_network(ground(pipes, valves=valve))
    (row,) = np.flatnonzero(network.kind == REDUCING)
    with Engine(network) as engine:
        answer = engine.solve([[False, True]])
    assert answer.node_pressure_kpa[0, network.end[row]] == pytest.approx(300, abs=0.5)
    assert answer.pressure_kpa[0, 0] > 450
    assert answer.pressure_kpa[0, 1] < 300.1


def test_valves_that_do_nothing_are_told() -> None:
    valves = {
        "far": {"kind": "isolation", "geometry": Point(50, 9)},
        "unset": {"kind": "pressure_reducing", "geometry": Point(50, 0)},
    }
    _, findings = build_hydraulic_network(ground(valves=valves))
    assert {"valve-off-pipe", "reducer-without-setting"} <= set(codes(findings))


def test_a_pipe_without_a_bore_passes_nothing_and_is_an_error() -> None:
    pipes = {
        "main": {"geometry": line((0, 0), (60, 0))},
        "end": {"geometry": line((60, 0), (100, 0)), "diameter_mm": 0.0},
    }
    network, findings = build_hydraulic_network(ground(pipes, {"h1": (40, 1), "h2": (99, 40)}))
    assert set(network.owner) == {"main"}
    assert {"pipe-without-bore", "heads-cut-off"} <= set(codes(findings))


def test_pipes_joined_nowhere_are_left_out_not_crashed_upon() -> None:
    pipes = {
        "main": {"geometry": line((0, 0), (60, 0))},
        "island": {"geometry": line((0, 500), (60, 500))},
    }
    network, findings = build_hydraulic_network(ground(pipes, {"h1": (40, 1), "h2": (30, 500)}))
    assert network.heads == ("h1",)
    assert "heads-cut-off" in codes(findings)


def test_pumps_side_by_side_that_hold_the_same_are_one_feed() -> None:
    pumps = {f"p{n}": PUMP | {"geometry": Point(3 * n, 0)} for n in range(3)}
    pumps["other"] = PUMP | {"geometry": Point(2, 0), "set_pressure_kpa": 650.0}
    pumps["away"] = PUMP | {"geometry": Point(95, 0)}
    network, _ = build_hydraulic_network(ground(pumps=pumps))
    assert [[pump.id for pump in feed.pumps] for feed in network.feeds] == [
        ["p0", "p1", "p2"], ["other"], ["away"],
    ]  # fmt: skip


def test_a_pump_draws_from_its_own_source_or_the_nearest() -> None:
    sources = {
        "pond": {"level_m": -2.0, "geometry": Point(5, 5)},
        "well": {"level_m": -40.0, "geometry": Point(500, 5)},
    }
    near, findings = build_hydraulic_network(ground(sources=sources))
    named, _ = build_hydraulic_network(
        ground(sources=sources, pumps={"p": PUMP | {"source": "well"}})
    )
    assert (near.feeds[0].suction_m, named.feeds[0].suction_m) == (-2, -40)
    assert "suction-level-assumed" not in codes(findings)


@pytest.mark.parametrize(
    ("source", "head_m"),
    [({"level_m": 55.0}, 55.0), ({"pressure_kpa": 400.0}, 400 / KPA_PER_M_WATER)],
)
def test_without_pumps_a_source_presses_by_itself(source, head_m) -> None:
    made = ground(pumps={}, sources={"tower": source | {"geometry": Point(0, 0)}})
    network, _ = build_hydraulic_network(made)
    with Engine(network) as engine:
        answer = engine.solve([[False, False]])
    assert answer.pressure_kpa[0] / KPA_PER_M_WATER == pytest.approx([head_m] * 2, abs=1e-3)
    assert answer.duty.flow_l_s.shape == (1, 0)


def test_pumps_that_say_too_little_are_told() -> None:
    bare = {"capacity_l_s": 40.0, "geometry": Point(0, 0)}
    with pytest.raises(UserError, match="neither a curve, nor a head at capacity"):
        build_hydraulic_network(ground(pumps={"p": bare}))
    both = {"p": bare, "q": bare | {"set_pressure_kpa": 500.0}}
    network, findings = build_hydraulic_network(ground(pumps=both))
    assert {"pump-without-head", "feed-never-fails"} <= set(codes(findings))
    with Engine(network) as engine:
        answer = engine.solve([[True, True]])
    assert answer.node_pressure_kpa[0, network.feeds[0].node] == pytest.approx(500, abs=0.01)
    assert answer.duty.power_kw[0, 0] > 0


def test_a_wrong_curve_is_told_with_its_pump() -> None:
    network, findings = build_hydraulic_network(ground(pumps={"p": PUMP | {"curve": "0:80 20:90"}}))
    (told,) = [each for each in findings if each.code == "pump-curve-wrong"]
    assert told.subject == "pumps:p"
    assert network.feeds[0].pumps[0].curve is None


def test_a_source_without_level_or_pressure_feeds_nothing() -> None:
    with pytest.raises(UserError, match="neither a level nor a pressure"):
        build_hydraulic_network(ground(pumps={}, sources={"pond": {"geometry": Point(0, 0)}}))


@pytest.mark.parametrize(
    "pipes", [None, {"m": {"geometry": line((0, 0), (9, 0)), "diameter_mm": 0}}]
)
def test_a_record_without_usable_pipes_is_refused(pipes) -> None:
    made = ground_from(CRS, {}) if pipes is None else ground(pipes)
    with pytest.raises(UserError, match="Survey the pipes first"):
        build_hydraulic_network(made)


def test_heads_without_a_nozzle_take_no_water_and_are_told() -> None:
    made = ground()
    heads = made.heads.assign(nozzle=["n", None])
    network, findings = build_hydraulic_network(made.with_table("heads", heads))
    assert "heads-without-flow" in codes(findings)
    with Engine(network) as engine:
        flow = engine.solve([[True, True]]).flow_l_s[0]
    assert flow[0] > 1
    assert flow[1] == 0


def test_measured_heads_keep_their_measured_flow() -> None:
    made = ground()
    heads = made.heads.assign(
        measured_flow_l_s=[0.8, 0.5], pressure_kpa=[np.nan, 300.0], nozzle=["n", None],
        measured_radius_m=[16.0, np.nan],
    )  # fmt: skip
    network, _ = build_hydraulic_network(made.with_table("heads", heads))
    flow, radius = network.emitters.flow_and_radius(np.array([400.0, 300.0]))
    assert flow == pytest.approx([0.8, 0.5])
    assert radius[0] == pytest.approx(16)


def test_regulated_heads_of_the_record_take_their_design_flow() -> None:
    made = ground()
    network, _ = build_hydraulic_network(
        made.with_table("heads", made.heads.assign(regulated=[None, False]))
    )
    with Engine(network) as engine:
        flow = engine.solve([[True, True]]).flow_l_s[0]
    assert flow[0] == pytest.approx(1.0)
    assert flow[1] > 1.1
