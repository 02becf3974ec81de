"""Minutes fitted to the map: brute force on small courses, meaning of worth, caps, floors, gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import sparse
from shapely.geometry import MultiPolygon, box

from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import MinuteRules
from nightwater.night.fitted_minutes import CAP_COST, Fit, FitRequest, fit_minutes, reach_of_cells
from nightwater.night.plain_rules import adequacy, minutes_by_footprint
from nightwater.spray.grid import TurfGrid, turf_grid

CRS = "EPSG:32613"
ALL_COUNT = MinuteRules(reach_from=0.0, reach_full=1e-6)
Rates = NDArray[np.float64]


def strip(kinds: Sequence[str], length_m: int = 6) -> Ground:
    """Areas of 1 m by `length_m` m side by side, one of each kind."""
    rows = {
        f"A{number}": {
            "kind": kind,
            "geometry": MultiPolygon([box(number, 0, number + 1, length_m)]),
        }
        for number, kind in enumerate(kinds)
    }
    return ground_from(CRS, {"areas": pd.DataFrame.from_dict(rows, orient="index")})


def asked(
    rates: Rates,
    need_mm: float | Rates = 6.0,
    kinds: Sequence[str] = ("fairway",),
    **stations: float,
) -> FitRequest:
    """Cells × stations as given, on a strip of areas of as many cells."""
    cells, count = rates.shape
    grid: TurfGrid = turf_grid(strip(kinds, cells // len(kinds)))
    assert len(grid) == cells
    row = {"flow_l_s": 1.0, "floor_min": 1.0, "longest_min": 60.0} | stations
    table = pd.DataFrame([row] * count, index=[f"S{number}" for number in range(count)])
    names = np.array([kinds[place] for place in grid.area], dtype=object)
    need = np.broadcast_to(np.asarray(need_mm, dtype=float), cells).copy()
    return FitRequest(grid, sparse.csr_array(rates), need, names, table)


def cost_m3(request: FitRequest, rules: MinuteRules, minutes: Sequence[float]) -> float:
    """The cost written out cell by cell, as the docs say; every cell counts in full."""
    flow = request.stations["flow_l_s"].to_numpy()
    cost = float((flow * np.array(minutes)).sum() * 60 / 1000)
    depths = request.by_station.toarray() @ np.array(minutes)
    for depth, need, kind in zip(depths, request.need_mm, request.kinds, strict=True):
        litres = request.grid.cell_m2 / 1000
        cost += rules.shortage_worth[kind] * litres * max(0.0, need - depth)
        cost += rules.excess_cost[kind] * litres * max(0.0, depth - need)
        cap = rules.wettest_share.get(kind, np.inf) * need
        cost += CAP_COST * litres * max(0.0, depth - cap)
    return cost


def brute_force(request: FitRequest, rules: MinuteRules, most: int) -> float:
    """The least cost over all whole minutes up to a most, no run shorter than its floor."""
    floors = request.stations["floor_min"].astype(int)
    choices = [[0, *range(max(floor, 1), most + 1)] for floor in floors]
    return min(cost_m3(request, rules, minutes) for minutes in product(*choices))


@settings(deadline=None, max_examples=15)
@given(seed=st.integers(0, 1000), floor=st.sampled_from([1.0, 4.0]), over=st.floats(0, 1))
def test_whole_minutes_are_as_good_as_brute_force(seed: int, floor: float, over: float) -> None:
    random = np.random.default_rng(seed)
    rates = random.uniform(0.1, 1.5, (8, 3)) * (random.uniform(size=(8, 3)) < 0.7)
    request = asked(
        rates, random.uniform(1, 6, 8), flow_l_s=0.02, floor_min=floor, longest_min=12.0
    )
    rules = replace(ALL_COUNT, excess_cost=dict(ALL_COUNT.excess_cost, fairway=over))
    fit = fit_minutes(request, rules, 1e-6, block_cells=1)
    found = cost_m3(request, rules, fit.stations["run_min"].tolist())
    best = brute_force(request, rules, 12)
    wet = (rates > 0).any(axis=1)
    left = sum(
        rules.shortage_worth["fairway"] / 1000 * need
        for need, wetted in zip(request.need_mm, wet, strict=True)
        if not wetted
    )
    assert best <= found + 1e-9
    # Station by station is no exhaustive search; with floors it may stick at a neighbour's run.
    assert found <= best * (1.05 if floor == 1.0 else 1.5) + 1e-9
    assert fit.cost_m3 + left == pytest.approx(found, rel=1e-9)
    assert fit.bound_m3 + left <= best + 1e-9


def test_even_water_gives_the_minutes_of_the_average() -> None:
    fit = fit_minutes(asked(np.full((12, 1), 0.5), 6.0, flow_l_s=0.05), ALL_COUNT)
    assert fit.stations["run_min"].tolist() == [12]  # 6 mm at 0.5 mm a minute
    assert fit.depth_mm == pytest.approx(np.full(12, 6.0))
    assert adequacy(fit.depth_mm, np.full(12, 6.0), fit.counted) == 1.0
    assert fit.stations["footprint_need_mm"].tolist() == pytest.approx([6.0])
    assert fit.stations["footprint_depth_mm"].tolist() == pytest.approx([6.0])


def dry_end() -> FitRequest:
    """One station soaks the first half; the second reaches only the dry other one."""
    rates = np.zeros((12, 2))
    rates[:6, 0], rates[6:, 0], rates[6:, 1] = 1.0, 0.3, 0.7
    return asked(rates, 6.0, flow_l_s=0.05)


def test_a_dry_end_is_watered_by_the_head_that_reaches_it() -> None:
    fit = fit_minutes(dry_end(), ALL_COUNT)
    # 6 min bring the first half its 6 mm and the other 1.8; 4.2 mm more are 6 min of the second.
    assert fit.stations["run_min"].tolist() == [6, 6]
    assert fit.depth_mm.tolist() == pytest.approx([6.0] * 12)


def test_more_worth_leaves_fewer_cells_dry_and_takes_more_water() -> None:
    random = np.random.default_rng(4)
    request = asked(random.uniform(0.2, 1.0, (60, 2)), 8.0, flow_l_s=0.3)
    shares, waters = [], []
    for worth in (2.0, 5.0, 20.0, 100.0):
        rules = replace(ALL_COUNT, shortage_worth={"fairway": worth})
        fit = fit_minutes(request, rules)
        shares.append(adequacy(fit.depth_mm, request.need_mm, fit.counted))
        waters.append(fit.stations["run_min"].sum())
    assert shares == sorted(shares)
    assert waters == sorted(waters)
    assert shares[-1] > shares[0]


def test_kinds_have_worths_of_their_own() -> None:
    request = asked(np.zeros((12, 2)), 6.0, ("green", "rough"), flow_l_s=0.05)
    rates = 0.5 * (request.grid.area[:, None] == np.arange(2))  # each its own area
    request = replace(request, by_station=sparse.csr_array(rates))
    worth = {"green": 40.0, "rough": 1.0}  # a litre on the rough is worth one, and costs one
    costs = dict(ALL_COUNT.excess_cost, rough=0.5)
    fit = fit_minutes(request, replace(ALL_COUNT, shortage_worth=worth, excess_cost=costs))
    minutes = fit.stations["run_min"]
    assert minutes["S0"] == 12
    # 0.05 L/s for a minute are 3 L and bring 6 cells 0.5 L each: exactly what they are worth.
    assert fit_minutes(
        replace(request, stations=request.stations.assign(flow_l_s=0.06)),
        replace(ALL_COUNT, shortage_worth=worth, excess_cost=costs),
    ).stations["run_min"].tolist() == [12, 0]


def test_the_wettest_cell_stays_under_its_cap() -> None:
    rates = np.full((10, 1), 0.2)
    rates[:2] = 1.0
    request = asked(rates, 6.0, flow_l_s=0.02)
    free = fit_minutes(request, ALL_COUNT)
    capped = fit_minutes(request, replace(ALL_COUNT, wettest_share={"fairway": 3.0}))
    assert free.depth_mm.max() == pytest.approx(30.0)  # the dry ones get their 6 mm
    assert capped.depth_mm.max() <= 18.0 + 1e-9


def test_a_gap_in_the_pattern_counts_for_nothing() -> None:
    rates = np.full((20, 1), 0.5)
    rates[18:] = 0.02
    request = asked(rates, 6.0, flow_l_s=0.1)
    fit = fit_minutes(request, MinuteRules())
    assert fit.counted.tolist() == [True] * 18 + [False] * 2
    assert fit.stations["run_min"].tolist() == [12]
    # With the gap counted, and dear enough, the rest is soaked.
    dear = replace(ALL_COUNT, shortage_worth={"fairway": 900.0})
    assert fit_minutes(request, dear).stations["run_min"].tolist() == [60]


def test_cells_without_a_need_are_left_out() -> None:
    rates = np.full((10, 1), 0.5)
    need = np.full(10, 6.0)
    need[5:] = np.nan
    fit = fit_minutes(asked(rates, need, flow_l_s=0.02), ALL_COUNT)
    assert fit.counted.tolist() == [True] * 5 + [False] * 5
    assert fit.stations["run_min"].tolist() == [12]


def test_a_run_is_none_or_at_least_its_floor() -> None:
    request = asked(np.full((6, 1), 0.5), 1.0, flow_l_s=0.05, floor_min=6.0)
    assert fit_minutes(request, ALL_COUNT).stations["run_min"].tolist() == [6]
    little = replace(request, need_mm=np.full(6, 0.1))
    assert fit_minutes(little, ALL_COUNT).stations["run_min"].tolist() == [0]


def test_a_station_that_shall_not_run_has_none_and_its_neighbour_knows() -> None:
    rates = np.full((8, 2), 0.25)
    request = asked(rates, 6.0, flow_l_s=0.02)
    both = fit_minutes(request, ALL_COUNT).stations["run_min"]
    assert both.sum() == 24
    stations = request.stations.assign(longest_min=[0.0, 60.0])
    alone = fit_minutes(replace(request, stations=stations), ALL_COUNT).stations["run_min"]
    assert alone.tolist() == [0, 24]


def test_no_station_that_may_run_leaves_no_water() -> None:
    request = asked(np.full((8, 2), 0.25))
    stations = request.stations.assign(longest_min=0.0)
    fit = fit_minutes(replace(request, stations=stations), ALL_COUNT)
    assert fit.stations["run_min"].tolist() == [0, 0]
    assert fit.gap == 0.0


@settings(deadline=None, max_examples=10)
@given(seed=st.integers(0, 1000))
def test_order_of_cells_and_stations_changes_nothing_in_cost(seed: int) -> None:
    random = np.random.default_rng(seed)
    rates = random.uniform(0.1, 1.0, (24, 4)) * (random.uniform(size=(24, 4)) < 0.5)
    request = asked(rates, 6.0, flow_l_s=0.05)
    mirrored = asked(rates[::-1, ::-1].copy(), 6.0, flow_l_s=0.05)
    one, other = fit_minutes(request, ALL_COUNT, 1e-6), fit_minutes(mirrored, ALL_COUNT, 1e-6)
    assert one.bound_m3 == pytest.approx(other.bound_m3, rel=1e-3)
    assert one.cost_m3 == pytest.approx(other.cost_m3, rel=0.03)


@settings(deadline=None, max_examples=15)
@given(seed=st.integers(0, 1000))
def test_it_never_costs_more_than_the_rule_by_footprint(seed: int) -> None:
    random = np.random.default_rng(seed)
    rates = random.uniform(0.1, 1.0, (40, 5)) * (random.uniform(size=(40, 5)) < 0.4)
    request = asked(rates, random.uniform(2, 9, 40), flow_l_s=0.05, longest_min=200.0)
    fit: Fit = fit_minutes(request, ALL_COUNT)
    rule = np.rint(minutes_by_footprint(request.by_station, request.need_mm))
    ours = cost_m3(request, ALL_COUNT, fit.stations["run_min"].tolist())
    theirs = cost_m3(request, ALL_COUNT, rule.tolist())
    assert ours <= theirs * (1 + 1e-9)


def test_reach_is_the_rate_over_the_mean_of_its_kind() -> None:
    rates = sparse.csr_array(np.array([[1.0], [3.0], [0.0], [8.0], [2.0]]))
    kinds = np.array(["green", "green", "green", "tee", "tee"], dtype=object)
    assert reach_of_cells(rates, kinds).tolist() == pytest.approx([0.5, 1.5, 0.0, 1.6, 0.4])
