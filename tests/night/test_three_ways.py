"""Tonight's minutes beside two rules of thumb: by hand on few cells, and what must hold on many."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import sparse

from nightwater.night.plain_rules import adequacy
from nightwater.night.three_ways import ThreeWays, ThreeWaysRequest, three_ways

# Two stations on four cells of 2 m²: each wets two, and both wet the third a little.
RATES = np.array([[0.2, 0.0], [0.4, 0.0], [0.1, 0.1], [0.0, 0.4]])
STATIONS = pd.DataFrame(
    {
        "kind": ["green", "rough"],
        "need_mm": [6.0, 4.0],
        "flow_l_s": [2.0, 1.0],
        "wetted_m2": [600.0, 360.0],
        "run_min": [30.0, 10.0],
    },
    index=["S1", "S2"],
)


def asked(**changes: Any) -> ThreeWaysRequest:
    usual = ThreeWaysRequest(
        by_station=sparse.csr_array(RATES),
        need_mm=np.array([6.0, 6.0, 4.0, 4.0]),
        kinds=np.array(["green", "green", "rough", "rough"], dtype=object),
        cell_m2=2.0,
        reach_from=0.25,
        stations=STATIONS,
    )
    return replace(usual, **changes)


def found(**changes: Any) -> ThreeWays:
    ways = three_ways(asked(**changes))
    assert ways is not None
    return ways


def test_tonight_stands_as_it_is() -> None:
    ways = found()
    by_map = ways.ways["map"]
    # Depths 6, 12, 4, 4 mm: every cell has its need. Water 2 · 30 · 60 + 1 · 10 · 60 L.
    assert ways.share == by_map.own_share == 1.0
    assert (by_map.scale, by_map.water_m3) == (1.0, pytest.approx(4.2))
    assert by_map.stations["run_min"].tolist() == [30.0, 10.0]
    assert by_map.stations["same_min"].tolist() == [30.0, 10.0]
    assert by_map.served == {"green": 1.0, "rough": 1.0}


def test_by_kind_is_scaled_until_it_serves_as_much() -> None:
    way = found().ways["kind"]
    # Greens 12 mm/h for 6 mm: 30 min. Rough 10 mm/h for 4 mm: 24 min. Depths 6, 12, 5.4, 9.6.
    assert way.stations["run_min"].tolist() == pytest.approx([30.0, 24.0])
    assert way.scale == pytest.approx(1.0)
    assert way.water_m3 == pytest.approx((2 * 30 + 24) * 0.06)


def test_by_footprint_is_scaled_until_it_serves_as_much() -> None:
    way = found().ways["footprint"]
    # S1: (0.2·6 + 0.4·6 + 0.1·4) / (0.2² + 0.4² + 0.1·0.2); S2: 2.0 / (0.1·0.2 + 0.4²).
    first, second = 4.0 / 0.22, 2.0 / 0.18
    assert way.stations["run_min"].tolist() == pytest.approx([first, second])
    depth = RATES @ [first, second]
    scale = max(np.array([6.0, 6.0, 4.0, 4.0]) / depth)
    assert way.scale == pytest.approx(scale)
    assert way.stations["same_min"].tolist() == pytest.approx([first * scale, second * scale])
    assert way.water_m3 == pytest.approx((2 * first + second) * scale * 0.06)
    assert way.own_share == 0.5  # 3.6, 7.3, 2.9 and 4.4 mm
    assert way.lacking_m3 == pytest.approx(0.0)
    assert way.same_lack_m3 == pytest.approx(way.water_m3)  # the map lacks nothing either


def test_depths_and_needs_are_means_over_the_ground_that_each_wets() -> None:
    ways = found()
    # S1 wets the first three cells as 2 : 4 : 1, S2 the last two as 1 : 4.
    assert ways.need_mm.tolist() == pytest.approx([(12 + 24 + 4) / 7, 4.0])
    depth = ways.ways["map"].stations["depth_mm"]
    assert depth.tolist() == pytest.approx([(2 * 6 + 4 * 12 + 4) / 7, 4.0])


def test_ground_out_of_reach_counts_in_no_share_and_is_told() -> None:
    rates = np.vstack([RATES, [[0.01, 0.0]], [[0.0, 0.0]]])
    ways = found(
        by_station=sparse.csr_array(rates),
        need_mm=np.array([6.0, 6.0, 4.0, 4.0, 6.0, 0.0]),
        kinds=np.array(["green", "green", "rough", "rough", "green", "rough"], dtype=object),
    )
    assert (ways.share, ways.reached_m2, ways.gap_m2) == (1.0, 8.0, 2.0)


def test_a_need_that_is_not_known_leaves_its_cell_out() -> None:
    ways = found(need_mm=np.array([6.0, np.nan, 4.0, 4.0]))
    assert (ways.reached_m2, ways.gap_m2) == (6.0, 0.0)
    assert np.isfinite(ways.ways["footprint"].water_m3)


def test_no_minutes_of_a_rule_may_serve_as_much() -> None:
    # A station of the rough whose area needs nothing by its sum, though its cells do.
    stations = STATIONS.assign(need_mm=[6.0, 0.0])
    way = found(stations=stations).ways["kind"]
    assert way.scale == np.inf
    assert way.water_m3 == np.inf
    assert way.same_lack_m3 == np.inf  # the map lacks nothing, the rough would
    assert way.stations["same_min"].tolist() == [np.inf, 0.0]
    assert 0 < way.own_share < 1


@pytest.mark.parametrize(
    "changes",
    [
        {"stations": STATIONS.assign(run_min=0.0)},
        {"stations": STATIONS.assign(run_min=1.0)},
        {"need_mm": np.full(4, np.nan)},
        {"stations": STATIONS[:0], "by_station": sparse.csr_array((4, 0))},
    ],
)
def test_nothing_to_compare_gives_none(changes: dict[str, Any]) -> None:
    assert three_ways(asked(**changes)) is None


@pytest.mark.parametrize("seed", range(6))
def test_every_way_serves_at_least_tonights_share_and_no_less_water_would(seed: int) -> None:
    random = np.random.default_rng(seed)
    cells, count = 300, 12
    rates = sparse.random(
        cells, count, 0.3, rng=random, data_rvs=lambda n: random.uniform(0.1, 0.5, n)
    )
    need = random.uniform(3, 8, cells)
    stations = pd.DataFrame(
        {
            "kind": random.choice(["green", "rough"], count),
            "need_mm": random.uniform(3, 8, count),
            "flow_l_s": random.uniform(1, 3, count),
            "wetted_m2": random.uniform(300, 600, count),
            "run_min": np.round(random.uniform(0, 30, count)),
        },
        index=[f"S{n}" for n in range(count)],
    )
    kinds = random.choice(["green", "rough"], cells).astype(object)
    request = asked(
        by_station=sparse.csr_array(rates), need_mm=need, kinds=kinds, stations=stations
    )
    ways = three_ways(request)
    assert ways is not None
    reached = np.round(ways.reached_m2 / request.cell_m2)
    for way in ways.ways.values():
        depth = request.by_station @ way.stations["same_min"].to_numpy()
        fewer = request.by_station @ (way.stations["same_min"].to_numpy() * 0.999)
        rate = np.asarray(request.by_station.sum(axis=1)).ravel()
        mean = {kind: rate[(kinds == kind) & (rate > 0)].mean() for kind in set(kinds)}
        counted = rate / [mean[kind] for kind in kinds] > 0.25
        assert counted.sum() == reached
        assert adequacy(depth, need, counted) >= ways.share
        if way is not ways.ways["map"]:
            assert adequacy(fewer, need, counted) < adequacy(depth, need, counted)
        short = np.maximum(need - depth, 0)[counted]
        assert way.lacking_m3 == pytest.approx(short.sum() * 2.0 / 1000)
        even = np.maximum(need - depth * way.same_lack_m3 / way.water_m3, 0)[counted]
        assert even.sum() * 2.0 / 1000 == pytest.approx(ways.ways["map"].lacking_m3)
        water = float((stations["flow_l_s"] * way.stations["same_min"]).sum()) * 0.06
        assert way.water_m3 == pytest.approx(water)
        whole = sum(way.served[kind] * (counted & (kinds == kind)).sum() for kind in way.served)
        assert whole / reached == pytest.approx(adequacy(depth, need, counted))
