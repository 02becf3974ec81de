"""The pipes of the invented club, judged by the pipe package."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nightwater.demo.laterals import BRANCH_M, MOST_M3, grow_laterals
from nightwater.demo.network import ZONE_SHARE, july_night_m3
from nightwater.demo.vellenby import SETTINGS
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.network import build_network


@pytest.fixture(scope="module")
def built(ground):
    return build_network(ground)


@pytest.fixture(scope="module")
def carried(ground, built, spots):
    """Water each pipe carries on an average July night [m³]."""
    night = dict(zip(ground.heads.index, july_night_m3(spots), strict=True))
    found = dict.fromkeys(ground.pipes.index, 0.0)
    for head, pipes in built[0].routes.items():
        for pipe in pipes:
            found[pipe] += night[head]
    return found


def test_water_reaches_every_head_and_nothing_is_in_doubt(ground, built):
    network, findings = built
    assert findings == []
    assert set(network.routes) == set(ground.heads.index)
    assert network.feeds == tuple(ground.pumps.index)


def test_only_the_drawn_loop_is_a_loop(ground, built):
    kinds = ground.pipes["kind"].reindex(sorted(built[0].looped)).value_counts().to_dict()
    assert kinds == {"header": 4, "loop": 3, "main": 2}


def test_every_head_stands_beside_a_lateral_and_nearest_to_one(ground):
    laterals = ground.pipes[ground.pipes["kind"] == "lateral"]
    points, lines = ground.heads.geometry.to_numpy(), laterals.geometry.to_numpy()
    _, gap = shapely.STRtree(lines).query_nearest(points, return_distance=True, all_matches=False)
    assert gap.max() <= BRANCH_M + 0.05
    others = ground.pipes.geometry[ground.pipes["kind"] != "lateral"].to_numpy()
    (rows, _), beyond = shapely.STRtree(others).query_nearest(
        points, return_distance=True, all_matches=False
    )
    assert (beyond > gap[rows] - 0.05).mean() > 0.99


def test_a_lateral_carries_two_large_heads_and_never_three(ground):
    limits = pipe_limits_l_s(ground.pipes, (), SETTINGS.night)
    lateral = ground.pipes.index[ground.pipes["kind"] == "lateral"][0]
    large = ground.nozzles.loc["N27", "flow_l_s"]
    assert 2 * large <= limits[lateral] < 3 * large


def test_no_lateral_holds_more_than_its_design(ground, carried):
    laterals = ground.pipes.index[ground.pipes["kind"] == "lateral"]
    most = max(carried[pipe] for pipe in laterals)
    assert most <= 1.25 * MOST_M3


def test_the_pump_binds_before_any_pipe(ground, built, carried):
    """Pipes carry an average July night in less of the window than the pumps need."""
    limits = pipe_limits_l_s(ground.pipes, built[0].looped, SETTINGS.night)
    minutes = {pipe: volume * 1000 / 60 / limits[pipe] for pipe, volume in carried.items()}
    total_m3 = sum(carried[pipe] for pipe in ground.pipes.index[:1]) and carried_total(
        ground, carried
    )
    pump = total_m3 * 1000 / 60 / (ground.pumps["capacity_l_s"].sum() * SETTINGS.night.pump_use)
    assert pump == pytest.approx(497, abs=3)
    assert max(minutes.values()) < 0.9 * pump


def carried_total(ground, carried):
    """Everything leaves by the two 10 in mains."""
    header = ground.pipes.index[ground.pipes["kind"] == "header"]
    outer = [header[0], header[-1]]
    return sum(carried[pipe] for pipe in outer)


def test_the_two_mains_share_the_night_about_evenly(ground, carried):
    header = ground.pipes.index[ground.pipes["kind"] == "header"]
    west, east = carried[header[0]], carried[header[-1]]
    assert west / (west + east) == pytest.approx(0.5, abs=0.08)


def test_isolation_valves_stand_on_pipes(ground):
    valves = ground.valves[ground.valves["kind"] != "quick_coupler"].geometry
    assert valves.distance(ground.pipes.union_all()).max() < 0.05


def test_drains_and_couplers_stand_closed(ground):
    rows = ground.valves
    shut = rows["kind"].isin(["drain", "quick_coupler"])
    assert not rows["open"][shut].astype(bool).any()
    assert rows["open"][~shut].astype(bool).all()


class TestGrowth:
    """The lateral builder on its own."""

    MAIN = np.array([[0.0, 0.0], [100.0, 0.0]])

    def test_a_head_aside_gets_a_straight_pipe_that_stops_short_of_it(self):
        (lateral,) = grow_laterals([self.MAIN], np.array([[50.0, 20.0]]), np.array([1.0]))
        ((start, end),) = lateral.runs
        assert start == pytest.approx((50.0, 0.0))
        assert end == pytest.approx((50.0, 20.0 - BRANCH_M))
        assert (lateral.heads, lateral.night_m3) == ([0], 1.0)

    def test_the_next_head_goes_on_from_the_first(self):
        spots = np.array([[50.0, 20.0], [50.0, 40.0]])
        (lateral,) = grow_laterals([self.MAIN], spots, np.ones(2))
        assert len(lateral.runs) == 1
        assert lateral.runs[0][-1] == pytest.approx((50.0, 40.0 - BRANCH_M))

    def test_a_full_lateral_takes_no_more(self):
        spots = np.array([[50.0, 20.0], [50.0, 40.0], [50.0, 60.0]])
        laterals = grow_laterals([self.MAIN], spots, np.full(3, MOST_M3 / 2))
        assert [len(lateral.heads) for lateral in laterals] == [2, 1]

    def test_two_laterals_never_meet(self):
        random = np.random.default_rng(7)
        spots = random.uniform([0, -60], [100, 60], (60, 2))
        laterals = grow_laterals([self.MAIN], spots, np.full(60, MOST_M3 / 8))
        lines = [shapely.MultiLineString(lateral.runs) for lateral in laterals]
        ends = [shapely.get_point(shapely.get_parts(line), -1) for line in lines]
        for own, points in enumerate(ends):
            others = [line for place, line in enumerate(lines) if place != own]
            assert shapely.distance(points, shapely.union_all(others)).min() > 0.5

    def test_a_head_on_the_main_still_gets_a_pipe_of_its_own(self):
        (lateral,) = grow_laterals([self.MAIN], np.array([[50.0, 0.0]]), np.array([1.0]))
        assert shapely.LineString(lateral.runs[0]).length == pytest.approx(2.0)

    def test_every_head_is_fed_once(self):
        random = np.random.default_rng(3)
        spots = random.uniform([0, -60], [100, 60], (40, 2))
        laterals = grow_laterals([self.MAIN], spots, np.ones(40))
        assert sorted(head for lateral in laterals for head in lateral.heads) == list(range(40))


def test_a_zone_valve_leaves_no_room_beside_it():
    """57 gpm of a 2 in lateral over the 36 gpm of eight small heads."""
    assert pytest.approx(57 / 36, abs=0.02) == ZONE_SHARE
