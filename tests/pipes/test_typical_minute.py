"""Each head's pressure in a typical minute: sets that keep to a flow, and what heads hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.ground.record import Ground, ground_from
from nightwater.pipes.engine import Engine
from nightwater.pipes.losses import hazen_williams_loss_m
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.pipes.typical_minute import (
    TypicalMinute,
    typical_flow_l_s,
    typical_minute,
    typical_sets,
)
from nightwater.units import KPA_PER_M_WATER

CRS = "EPSG:32613"
SET_KPA = 500.0
DESIGN_KPA = 400.0
WIDE_MM = 1000.0  # a bore in which nothing is lost

Rows = dict[str, dict[str, Any]]


def frame(rows: Rows) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def ground(heads: Rows, *, bore_mm: float = WIDE_MM, length_m: float = 1000.0) -> Ground:
    """A level main along x from a pump that holds 500 kPa; heads at distances along it."""
    main = {"geometry": MultiLineString([LineString([(0, 0), (length_m, 0)])]),
            "diameter_mm": bore_mm, "hazen_williams_c": 140.0,
            "start_elevation_m": 0.0, "end_elevation_m": 0.0}  # fmt: skip
    rows = {
        name: {"nozzle": "n", "station": f"s-{name}", "elevation_m": 0.0, "regulated": None,
               "pressure_kpa": np.nan, **row, "geometry": Point(row["at_m"], 0)}
        for name, row in heads.items()
    }  # fmt: skip
    pump = {"capacity_l_s": 20.0, "head_m": 60.0, "set_pressure_kpa": SET_KPA,
            "elevation_m": 0.0, "geometry": Point(0, 0)}  # fmt: skip
    tables = {
        "pipes": frame({"main": main}),
        "nozzles": frame({"n": {"pressure_kpa": DESIGN_KPA, "flow_l_s": 1.0, "radius_m": 18.0}}),
        "heads": frame(rows).drop(columns="at_m"),
        "pumps": frame({"p": pump}),
    }
    return ground_from(CRS, tables)


def row_of_heads(count: int, step_m: float = 20.0, **more: Any) -> Rows:
    return {f"h{place}": {"at_m": (place + 1) * step_m, **more} for place in range(count)}


def minute(made: Ground, pump_use: float = 0.85) -> TypicalMinute:
    return typical_minute(made, build_hydraulic_network(made)[0], pump_use)


class TestPressures:
    def test_a_head_that_says_nothing_holds_its_own_pressure(self) -> None:
        found = minute(ground({"h": {"at_m": 500}}))
        assert found.heads.loc["h", "line_kpa"] == pytest.approx(SET_KPA, abs=0.1)
        assert found.heads.loc["h", "holds"]
        assert found.nozzle_kpa["h"] == DESIGN_KPA

    def test_a_head_said_to_hold_none_has_the_line(self) -> None:
        found = minute(ground({"h": {"at_m": 500, "regulated": False}}))
        assert not found.heads.loc["h", "holds"]
        assert found.nozzle_kpa["h"] == pytest.approx(SET_KPA, abs=0.1)

    @pytest.mark.parametrize("regulated", [True, False, None])
    def test_uphill_every_head_has_what_the_line_has(self, regulated: bool | None) -> None:
        """Held 500 kPa less 20 m of water: 500 − 20 · 9.80665 · 0.9991 ≈ 304 kPa."""
        found = minute(ground({"h": {"at_m": 500, "elevation_m": 20.0, "regulated": regulated}}))
        assert found.nozzle_kpa["h"] == pytest.approx(SET_KPA - 20 * KPA_PER_M_WATER, abs=0.2)

    def test_its_own_recorded_pressure_is_what_a_head_holds(self) -> None:
        found = minute(ground({"h": {"at_m": 500, "pressure_kpa": 350.0}}))
        assert found.nozzle_kpa["h"] == 350.0

    def test_friction_is_that_of_its_own_set(self) -> None:
        """Two heads of 1 L/s together at the end of 500 m of 50 mm: 2 L/s by Hazen–Williams."""
        both = {name: {"at_m": 500, "station": "s", "pressure_kpa": 300.0} for name in "ab"}
        found = minute(ground(both, bore_mm=50.0, length_m=500.0))
        flow = 2 * math.sqrt(300.0 / DESIGN_KPA)
        lost_m = float(hazen_williams_loss_m(flow, 500.0, 50.0, 140.0))
        expected = SET_KPA - lost_m * KPA_PER_M_WATER
        assert found.heads["line_kpa"].to_numpy() == pytest.approx(expected, rel=2e-3)
        assert 300.0 < expected < SET_KPA - 50.0  # something is lost, and not too much

    def test_each_head_is_read_in_the_set_of_its_own_station(self) -> None:
        made = ground(row_of_heads(30, regulated=False), bore_mm=90.0)
        network, _ = build_hydraulic_network(made)
        found = typical_minute(made, network, 0.5)
        assert found.sets > 1
        sets, fullest = typical_sets(network, typical_flow_l_s(made, network, 0.5))
        assert (found.sets, found.fullest_l_s) == (len(sets), fullest)
        with Engine(network) as engine:  # no head of this record regulates, so it is the same
            solved = engine.solve(network.heads_of_stations(sets))
        for row, stations in enumerate(sets):
            names = [name.removeprefix("s-") for name in stations]
            at = [network.heads.index(name) for name in names]
            own = found.heads["line_kpa"].reindex(names).to_numpy()
            assert own == pytest.approx(solved.pressure_kpa[row, at], rel=1e-9)

    def test_heads_without_a_station_or_a_nozzle_are_not_told(self) -> None:
        heads: Rows = {"a": {"at_m": 100}, "b": {"at_m": 200, "station": None},
                       "c": {"at_m": 300, "nozzle": None}}  # fmt: skip
        assert minute(ground(heads)).heads.index.tolist() == ["a"]

    def test_without_any_station_nothing_is_solved(self) -> None:
        found = minute(ground({"a": {"at_m": 100, "station": None}}))
        assert found.heads.empty
        assert (found.sets, found.fullest_l_s) == (0, 0.0)


class TestFlow:
    def test_it_is_the_pumps_share_while_their_curve_gives_it(self) -> None:
        made = ground({"h": {"at_m": 500}})
        network, _ = build_hydraulic_network(made)
        assert typical_flow_l_s(made, network, 0.5) == pytest.approx(10.0)

    def test_never_more_than_pumps_give_at_the_pressure_they_hold(self) -> None:
        """Duty 20 L/s at 60 m; to hold 57 m there is only a little more than duty."""
        made = ground({"h": {"at_m": 500}})
        pumps = made.pumps.assign(capacity_l_s=20.0, head_m=45.0)  # below the 51 m it holds
        weak = made.with_table("pumps", pumps)
        network, _ = build_hydraulic_network(weak)
        assert typical_flow_l_s(weak, network, 1.0) < 20.0

    def test_a_town_main_tells_no_flow(self) -> None:
        made = ground({"h": {"at_m": 500}, "i": {"at_m": 600}})
        source = pd.DataFrame({"pressure_kpa": [600.0], "geometry": [Point(0, 0)]}, index=["t"])
        tables = {"pipes": made.pipes, "nozzles": made.nozzles, "heads": made.heads}
        town = ground_from(CRS, {**tables, "sources": source})
        network, _ = build_hydraulic_network(town)
        assert typical_flow_l_s(town, network, 0.85) == math.inf
        assert minute(town).sets == 2  # each station alone


def flows_of(sets: Sequence[Sequence[str]], each: dict[str, float]) -> list[float]:
    return [sum(each[name] for name in one) for one in sets]


class TestSets:
    @settings(max_examples=25, deadline=None)
    @given(
        count=st.integers(1, 25),
        most_l_s=st.floats(0.5, 12.0),
        seed=st.integers(0, 2**16),
    )
    def test_every_station_runs_once_and_no_set_is_too_full(
        self, count: int, most_l_s: float, seed: int
    ) -> None:
        rng = np.random.default_rng(seed)
        heads = {
            f"h{place}": {"at_m": float(at), "station": f"s{rng.integers(0, count)}"}
            for place, at in enumerate(rng.uniform(1, 999, 2 * count))
        }
        made = ground(heads)
        network, _ = build_hydraulic_network(made)
        each = made.heads["station"].value_counts().astype(float).to_dict()  # 1 L/s a head
        sets, fullest = typical_sets(network, most_l_s)
        assert sorted(name for one in sets for name in one) == sorted(each)
        water = flows_of(sets, each)
        assert fullest == pytest.approx(max(water))
        for one, flow in zip(sets, water, strict=True):
            assert flow <= most_l_s + 1e-9 or len(one) == 1

    def test_no_more_sets_than_the_flow_asks_for(self) -> None:
        network, _ = build_hydraulic_network(ground(row_of_heads(20)))
        sets, fullest = typical_sets(network, 5.0)
        assert [len(one) for one in sets] == [5, 5, 5, 5]
        assert fullest == pytest.approx(5.0)

    def test_neighbours_run_in_different_sets(self) -> None:
        network, _ = build_hydraulic_network(ground(row_of_heads(24)))
        sets, _ = typical_sets(network, 6.0)
        of = {name: row for row, one in enumerate(sets) for name in one}
        beside = [of[f"s-h{place}"] == of[f"s-h{place + 1}"] for place in range(23)]
        assert not any(beside)

    def test_the_same_record_gives_the_same_sets(self) -> None:
        made = ground(row_of_heads(17))
        found = [typical_sets(build_hydraulic_network(made)[0], 4.0) for _ in range(2)]
        assert found[0] == found[1]

    def test_without_a_flow_each_runs_alone(self) -> None:
        network, _ = build_hydraulic_network(ground(row_of_heads(6)))
        sets, fullest = typical_sets(network, math.inf)
        assert sorted(map(len, sets)) == [1] * 6
        assert fullest == pytest.approx(1.0)
