"""The engine against a solver of the tests' own, and against hand-worked cases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import (
    DARCY_WEISBACH,
    ISOLATION,
    REDUCING,
    head_of_pressure_m,
)
from nightwater.pipes.losses import hazen_williams_loss_m
from nightwater.units import KPA_PER_M_WATER

from . import nets, newton


def solved(net, open_sets=None):
    on = np.ones((1, len(net.heads)), dtype=bool) if open_sets is None else open_sets
    with Engine(net) as engine:
        return engine.solve(on)


def own_solver(net, on):
    """The same network for the tests' own solver; one feed that holds a level."""
    k = net.emitters.coefficients(np.full(len(net.heads), 400.0)) * np.sqrt(KPA_PER_M_WATER) / 1000
    at: dict[int, float] = {}
    for node, each, runs in zip(net.head_node.tolist(), k, on, strict=True):
        if runs:
            at[node] = at.get(node, 0.0) + each
    sizes = (net.start, net.end, net.length_m, net.diameter_mm / 1000, net.roughness)
    return newton.Net(
        net.elevation_m,
        {net.feeds[0].node: net.feeds[0].fixed_m},
        list(zip(*(column.tolist() for column in sizes), strict=True)),
        k=at,
    )


def random_network(rng: np.random.Generator, nodes: int, loops: int):
    """A tree with extra pipes, as a course has: mains, thinner laterals, hills."""
    levels = 1300 + rng.uniform(-15, 15, nodes)
    pipes = [
        (int(rng.integers(max(0, node - 6), node)), node, rng.uniform(5, 180),
         rng.choice([54.6, 80.4, 103.4, 152.2, 198.2]), rng.uniform(130, 150))
        for node in range(1, nodes)
    ]  # fmt: skip
    for _ in range(loops):
        one, other = rng.choice(nodes, 2, replace=False)
        pipes.append((int(one), int(other), rng.uniform(20, 300), 152.2, 145.0))
    heads = rng.integers(1, nodes, size=nodes).tolist()
    tables = [nets.orifice(rng.uniform(0.5, 2.2), 400.0) for _ in heads]
    feed = nets.reservoir(0, float(levels.max() + 75))
    return nets.network(pipes, levels, [feed], heads, nets.emitters(tables, len(heads)))


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), nodes=st.integers(3, 40), loops=st.integers(0, 5))
def test_pressures_of_random_networks_are_those_of_another_solver(seed, nodes, loops) -> None:
    """Within 0.01 m everywhere, and 1e-3 L/s at every head."""
    rng = np.random.default_rng(seed)
    net = random_network(rng, nodes, loops)
    on = rng.random((3, nodes)) < 0.3
    answer = solved(net, on)
    for row in range(3):
        heads_m, flows = newton.solve(own_solver(net, on[row]))
        theirs = answer.node_pressure_kpa[row] / KPA_PER_M_WATER + net.elevation_m
        if heads_m.min() < 1250 or (heads_m < net.elevation_m)[net.head_node[on[row]]].any():
            continue  # an outlet under suction: the two take different liberties there
        assert np.abs(theirs - heads_m).max() < 0.01
        assert np.abs(answer.link_flow_l_s[row] / 1000 - flows[: len(net.start)]).max() < 2e-5
        assert answer.flow_l_s[row].sum() == pytest.approx(
            flows[len(net.start) :].sum() * 1000, abs=2e-3
        )


def test_water_that_enters_is_water_that_leaves() -> None:
    net = random_network(np.random.default_rng(4), 60, 4)
    on = np.random.default_rng(5).random((6, 60)) < 0.25
    answer = solved(net, on)
    assert answer.feed_flow_l_s.sum(axis=1) == pytest.approx(answer.flow_l_s.sum(axis=1), rel=1e-4)
    assert (answer.flow_l_s[~on] == 0).all()


def test_one_pipe_by_hand() -> None:
    """600 m of 154 mm, C 130; loss and orifice worked with a pocket calculator's bisection."""
    net = nets.network([(0, 1, 600, 154, 130)], [0, 0], [nets.reservoir(0, 60)], [1],
                       nets.emitters([nets.orifice(20.0, 400.0)], 1))  # fmt: skip
    answer = solved(net)
    low, high = 0.0, 40.0
    for _ in range(60):
        flow = (low + high) / 2
        left = 60 - float(hazen_williams_loss_m(flow, 600, 154, 130))
        wants = 20.0 * np.sqrt(left * KPA_PER_M_WATER / 400.0)
        low, high = (flow, high) if flow < wants else (low, flow)
    # our constant 10.667 and 4.8704 beside EPANET's 4.727 and 4.871: 0.2 % of the loss
    assert answer.flow_l_s[0, 0] == pytest.approx(flow, rel=5e-4)
    assert answer.velocity_m_s[0, 0] == pytest.approx(flow / (np.pi / 4 * 154**2) * 1000, rel=5e-4)


def test_a_head_at_no_distance_has_the_flow_of_its_catalogue() -> None:
    """q = K √p: at four times the pressure twice the flow."""
    tables = [nets.orifice(1.5, 400.0)]
    for kpa, flow in ((400.0, 1.5), (1600.0, 3.0), (100.0, 0.75)):
        feed = nets.reservoir(0, head_of_pressure_m(kpa))
        net = nets.network([(0, 1, 0.1, 500, 150)], [0, 0], [feed], [1], nets.emitters(tables, 1))
        assert solved(net).flow_l_s[0, 0] == pytest.approx(flow, rel=2e-4)


def test_a_nozzle_with_a_table_has_its_own_flow_at_its_pressure() -> None:
    points = np.array([[300.0, 0.9, 15.0], [400.0, 1.0, 17.0], [500.0, 1.05, 18.0]])
    feed = nets.reservoir(0, head_of_pressure_m(450.0))
    net = nets.network([(0, 1, 0.1, 500, 150)], [0, 0], [feed], [1],
                       nets.emitters([(points, 0.5)], 1))  # fmt: skip
    answer = solved(net)
    k = (1.0 / 20 + 1.05 / np.sqrt(500)) / 2  # K straight between two points
    assert answer.flow_l_s[0, 0] == pytest.approx(k * np.sqrt(450.0), rel=2e-3)
    assert answer.radius_m[0, 0] == pytest.approx(17.5, abs=0.01)
    assert answer.findings == ()


def test_another_exponent_is_kept() -> None:
    """x = 0.415 of a measured sprinkler: q = q_ref (p / p_ref)^x."""
    feed = nets.reservoir(0, head_of_pressure_m(250.0))
    net = nets.network([(0, 1, 0.1, 500, 150)], [0, 0], [feed], [1],
                       nets.emitters([(np.array([[400.0, 1.0, 15.0]]), 0.415)], 1))  # fmt: skip
    assert solved(net).flow_l_s[0, 0] == pytest.approx(0.625**0.415, rel=2e-3)


@pytest.mark.parametrize(("kpa", "flow"), [(700.0, 1.0), (400.1, 1.0), (300.0, np.sqrt(0.75))])
def test_a_regulated_head_takes_its_design_flow_and_no_more(kpa, flow) -> None:
    feed = nets.reservoir(0, head_of_pressure_m(kpa))
    outlets = nets.emitters([nets.orifice(1.0, 400.0)], 1, regulated=[True])
    net = nets.network([(0, 1, 0.1, 500, 150)], [0, 0], [feed], [1], outlets)
    answer = solved(net)
    assert answer.flow_l_s[0, 0] == pytest.approx(flow, rel=2e-3)
    assert answer.pressure_kpa[0, 0] == pytest.approx(kpa, abs=0.2)  # of the pipe, unregulated
    assert answer.radius_m[0, 0] == pytest.approx(15.0 * min(1.0, np.sqrt(kpa / 400)), rel=2e-3)


def test_a_metre_up_costs_9_8_kpa() -> None:
    net = nets.network([(0, 1, 10, 100, 140), (0, 2, 10, 100, 140)], [100, 105, 95],
                       [nets.reservoir(0, 150)], [1, 2])  # fmt: skip
    pressure = solved(net, np.zeros((1, 2), dtype=bool)).pressure_kpa[0]
    assert pressure == pytest.approx([45 * 9.80665, 55 * 9.80665], abs=0.01)


def test_darcy_weisbach_by_swamee_and_jain() -> None:
    """EPANET 2.2 User Manual, table 3.2: f by Swamee and Jain over Reynolds 4,000."""
    outlets = nets.emitters([nets.orifice(50.0, 1.0)], 1, regulated=[True])
    net = nets.network([(0, 1, 1000, 300, 0.26)], [0, 0], [nets.reservoir(0, 60)], [1], outlets)
    answer = solved(replace(net, formula=DARCY_WEISBACH))
    speed = 0.05 / (np.pi / 4 * 0.3**2)
    reynolds = speed * 0.3 / (1.1e-5 * 0.3048**2)  # EPANET's water: 1.1e-5 ft²/s
    f = 0.25 / np.log10(0.26 / 300 / 3.7 + 5.74 / reynolds**0.9) ** 2
    loss = f * 1000 / 0.3 * speed**2 / (2 * 9.81456)  # its g: 32.2 ft/s²
    assert answer.pressure_kpa[0, 0] / KPA_PER_M_WATER == pytest.approx(60 - loss, abs=0.01)


def test_a_reducing_valve_holds_its_pressure_and_only_downwards() -> None:
    pipes = [(0, 1, 10, 100, 140), (1, 2, 0, 100, 140), (2, 3, 10, 100, 140)]
    for level, kpa in ((80.0, 400.0), (35.0, 35 * KPA_PER_M_WATER)):
        net = nets.network(
            pipes, [0, 0, 0, 0], [nets.reservoir(0, level)], [3],
            kind=np.array(["pipe", REDUCING, "pipe"]),
            setting_m=np.array([np.nan, head_of_pressure_m(400.0), np.nan]),
        )  # fmt: skip
        answer = solved(net)
        assert answer.node_pressure_kpa[0, 2] == pytest.approx(kpa, abs=4)
        assert np.isnan(answer.velocity_m_s[0, 1])


def test_a_shut_valve_lets_nothing_through_a_loop() -> None:
    pipes = [(0, 1, 50, 100, 140), (1, 3, 0.1, 100, 140), (0, 2, 50, 100, 140),
             (2, 3, 50, 100, 140)]  # fmt: skip
    kinds = np.array(["pipe", ISOLATION, "pipe", "pipe"])
    both = nets.network(pipes, [0, 0, 0, 0], [nets.reservoir(0, 50)], [3], kind=kinds)
    shut = replace(both, is_open=np.array([True, False, True, True]))
    assert abs(solved(both).link_flow_l_s[0, 1]) > 0.3
    assert abs(solved(shut).link_flow_l_s[0, 1]) < 1e-4
    assert solved(shut).link_flow_l_s[0, 2] == pytest.approx(solved(shut).flow_l_s[0, 0], rel=1e-3)


def pumped(set_kpa, curves, heads, *, suction_m=-3.0, variable=True, flow_l_s=10.0):
    feed = nets.pumps(0, curves, suction_m=suction_m, set_kpa=set_kpa, variable=variable)
    tables = [nets.orifice(flow_l_s, 400.0)] * heads
    pipes = [(0, 1, 1, 500, 150)]
    return nets.network(pipes, [0, 0], [feed], [1] * heads, nets.emitters(tables, heads))


BOOSTER = {"capacity_l_s": 40.0, "head_m": 60.0, "pump_efficiency": 0.75}


def test_a_set_pressure_is_held_by_a_slower_pump() -> None:
    net = pumped(500.0, [nets.curve(**BOOSTER)], 2)
    answer = solved(net)
    assert answer.node_pressure_kpa[0, 0] == pytest.approx(500.0, abs=0.01)
    assert answer.holds.all()
    flow, rise = answer.feed_flow_l_s[0, 0], 3 + 500 / KPA_PER_M_WATER
    assert answer.duty.head_m[0, 0] == pytest.approx(rise, abs=1e-3)
    speed = answer.duty.speed[0, 0]
    assert speed < 1
    # the affinity laws: the like point at full speed lies on the curve
    assert 80 - 20 * (flow / speed / 40) ** 2 == pytest.approx(rise / speed**2, rel=1e-6)
    kw = flow * rise * 9.80665 / 1000 / 0.75 / 0.92
    assert answer.duty.power_kw[0, 0] == pytest.approx(kw, rel=1e-6)
    assert answer.energy_kwh(30) == pytest.approx(kw / 2, rel=1e-6)


def test_a_pump_without_a_drive_throttles_and_pays_for_it() -> None:
    slow = solved(pumped(500.0, [nets.curve(**BOOSTER)], 2))
    full = solved(pumped(500.0, [nets.curve(**BOOSTER)], 2, variable=False))
    assert full.pressure_kpa == pytest.approx(slow.pressure_kpa)
    flow = full.feed_flow_l_s[0, 0]
    assert full.duty.head_m[0, 0] == pytest.approx(80 - 20 * (flow / 40) ** 2, rel=1e-6)
    assert full.duty.power_kw[0, 0] > slow.duty.power_kw[0, 0]


def test_pumps_start_one_after_another() -> None:
    two = [nets.curve(**BOOSTER), nets.curve(**BOOSTER)]
    net = pumped(500.0, two, 8)
    on = np.zeros((3, 8), dtype=bool)
    on[1, :2], on[2, :] = True, True
    answer = solved(net, on)
    running = answer.duty.speed > 0
    assert running.tolist() == [[False, False], [True, False], [True, True]]
    assert answer.duty.station_kw[0] == 0
    assert answer.duty.flow_l_s.sum(axis=1) == pytest.approx(answer.feed_flow_l_s[:, 0], abs=1e-3)


@pytest.mark.parametrize("points", ["0:80 40:60 60:35", "0:80 20:75 40:60 50:48 80:2"])
def test_a_pump_that_cannot_hold_runs_on_its_curve(points) -> None:
    own = nets.curve(curve=points)
    net = pumped(600.0, [own], 6)
    answer = solved(net)
    flow = float(answer.feed_flow_l_s[0, 0])
    assert not answer.holds[0, 0]
    assert answer.node_pressure_kpa[0, 0] < 599
    # where the pump's curve crosses what the heads take, and EPANET has the same curve as ours
    rise = answer.node_pressure_kpa[0, 0] / KPA_PER_M_WATER + 3
    assert rise == pytest.approx(float(own.head_m(flow)), abs=0.02)
    assert answer.duty.speed[0, 0] == 1.0
    (told,) = [each for each in answer.findings if each.code == "pump-cannot-hold"]
    assert told.subject == "pumps:P1"
    assert "600 kPa" in told.message


def test_the_pumps_curve_is_solved_like_another_solver() -> None:
    own = nets.curve(curve="0:80 40:60 60:35")
    net = replace(pumped(np.nan, [own], 6), elevation_m=np.array([0.0, 4.0]))
    answer = solved(net)
    k = 6 * 10.0 / np.sqrt(400.0) * np.sqrt(KPA_PER_M_WATER) / 1000
    theirs = newton.Net(
        np.array([0.0, 4.0, 0.0]), {2: -3.0}, [(0, 1, 1.0, 0.5, 150.0)],
        [(2, 0, own.shutoff_m, own.slope * 1000**own.power, own.power)], {1: k},
    )  # fmt: skip
    heads, _ = newton.solve(theirs)
    ours = answer.node_pressure_kpa[0] / KPA_PER_M_WATER + net.elevation_m
    assert ours == pytest.approx(heads[:2], abs=0.01)


def test_equal_sets_have_equal_answers_and_order_does_not_matter() -> None:
    net = random_network(np.random.default_rng(9), 30, 2)
    on = np.random.default_rng(2).random((4, 30)) < 0.3
    with Engine(net) as engine:
        once = engine.solve(on)
        again = engine.solve(on[[3, 0, 0, 2]])
        alone = engine.solve(on[2])
    assert (again.pressure_kpa == once.pressure_kpa[[3, 0, 0, 2]]).all()
    assert (alone.pressure_kpa[0] == once.pressure_kpa[2]).all()


def test_equal_sets_are_solved_once(monkeypatch) -> None:
    net = random_network(np.random.default_rng(9), 10, 0)
    on = np.zeros((50, 10), dtype=bool)
    on[20:, 3] = True
    with Engine(net) as engine:
        runs = []
        run = engine._project.run
        monkeypatch.setattr(engine._project, "run", lambda **how: runs.append(1) or run(**how))
        engine.solve(on)
    assert len(runs) == 2


def test_starved_and_overfed_heads() -> None:
    net = nets.network([(0, 1, 100, 20, 140), (0, 2, 1, 200, 140)], [0, 0, 0],
                       [nets.reservoir(0, 50)], [1, 2])  # fmt: skip
    answer = solved(net)
    assert answer.starved().tolist() == [[True, False]]
    assert answer.overfed().tolist() == [[False, True]]
    assert answer.starved(floor_kpa=480.0).tolist() == [[True, False]]
    assert answer.starved(floor_kpa=495.0).tolist() == [[True, True]]
    assert not answer.starved(tolerance=1.0).any()


def test_less_than_no_pressure_is_told_with_its_place() -> None:
    outlets = nets.emitters([nets.orifice(30.0, 1.0)], 1, regulated=[True])
    outlets = replace(outlets, design_kpa=np.array([-9999.0]))  # takes its flow whatever
    outlets = replace(outlets, tables=((np.array([[1.0, 30.0, 15.0]]), 0.5),))
    net = nets.network([(0, 1, 300, 80, 140), (1, 2, 300, 80, 140)], [0, 60, 0],
                       [nets.reservoir(0, 50)], [2])  # fmt: skip
    answer = solved(net)
    (told,) = answer.findings
    assert (told.code, told.subject) == ("negative-pressure", "pipes:pipe0")
    assert "kPa in open set 1" in told.message


def test_the_wrong_count_of_heads_is_refused() -> None:
    net = random_network(np.random.default_rng(1), 5, 0)
    with Engine(net) as engine, pytest.raises(UserError, match="for 4 heads and the network has 5"):
        engine.solve(np.zeros((2, 4), dtype=bool))


def test_what_epanet_refuses_is_said_and_nothing_is_left_open() -> None:
    net = random_network(np.random.default_rng(1), 5, 0)
    with pytest.raises(UserError, match="EPANET refuses the network"):
        Engine(replace(net, diameter_mm=np.zeros(len(net.start))))


def test_an_engine_may_be_closed_twice() -> None:
    engine = Engine(random_network(np.random.default_rng(1), 5, 0))
    engine.close()
    engine.close()


def test_no_set_at_all_is_no_answer_and_no_error() -> None:
    net = random_network(np.random.default_rng(1), 5, 0)
    answer = solved(net, np.zeros((0, 5), dtype=bool))
    assert answer.pressure_kpa.shape == (0, 5)
    assert answer.energy_kwh() == 0


def test_stations_and_heads_by_name() -> None:
    net = random_network(np.random.default_rng(1), 4, 0)
    assert net.heads_of_stations([["S1", "nobody"], []]).sum(axis=1).tolist() == [1, 0]
    assert net.heads_named([["H0", "H3"]]).tolist() == [[True, False, False, True]]
    assert max(solved(net).pipe_velocity_m_s().values()) > 0
