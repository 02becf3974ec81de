"""Net water per area, for the soil account."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.night.plan import Run
from nightwater.proof.irrigation import planned_irrigation

COLUMNS = ["night", "area", "depth_mm", "evidence"]


def test_planned_depth_is_need_before_the_multiplier(busy: Any) -> None:
    table = planned_irrigation(busy.night)
    assert list(table.columns) == COLUMNS
    assert set(table["area"]) == {f"A{i}" for i in range(8)}
    assert set(table["evidence"]) == {"planned"}
    assert set(table["night"]) == {busy.night.night}
    # each area has three stations of 24 min at 18 mm/h over 1.2
    assert table["depth_mm"].tolist() == pytest.approx([6.0] * 8)


def test_ground_without_minutes_counts_with_nothing(make_case: Callable[[list[Run]], Any]) -> None:
    night = make_case([Run("S0", 0, 24, 1, 1)]).night
    depth = planned_irrigation(night).set_index("area")["depth_mm"]
    assert depth["A0"] == pytest.approx(6.0 / 3)  # one of its three stations
    assert depth["A1"] == 0.0


def test_depth_is_weighed_by_wetted_ground(make_case: Callable[[list[Run]], Any]) -> None:
    night = make_case([Run("S0", 0, 24, 1, 1)]).night
    wide = replace(night.sums[0], wetted_m2=night.sums[0].wetted_m2 * 2)
    depth = planned_irrigation(replace(night, sums=(wide, *night.sums[1:]))).set_index("area")
    assert depth.loc["A0", "depth_mm"] == pytest.approx(6.0 / 2)


def test_night_without_sums_tells_nothing(busy: Any) -> None:
    table = planned_irrigation(replace(busy.night, sums=()))
    assert table.empty
    assert list(table.columns) == COLUMNS


def test_unknown_wetted_ground_gives_no_depth(busy: Any) -> None:
    sums = tuple(replace(row, wetted_m2=math.nan) for row in busy.night.sums)
    assert planned_irrigation(replace(busy.night, sums=sums))["depth_mm"].isna().all()


def test_proved_depth_of_a_sound_night_is_the_planned_one(busy: Any) -> None:
    table = busy.proved().irrigation
    assert list(table.columns) == COLUMNS
    assert set(table["evidence"]) == {"proved"}
    assert table["depth_mm"].tolist() == pytest.approx([6.0] * 8, abs=0.03)


def test_failed_part_of_a_night_is_missing_in_the_account(busy: Any) -> None:
    # S16 to S23 run after 22:40: a third of each area's stations
    table = busy.proved(pump_trip_at="22:39").irrigation
    assert set(table["evidence"]) == {"proved"}
    assert table["depth_mm"].tolist() == pytest.approx([4.0] * 8, abs=0.05)


def test_areas_keep_plan_and_proof_side_by_side(busy: Any) -> None:
    area = busy.proved(pump_trip_at="22:39").areas[0]
    assert (area.area, area.kind, area.evidence) == ("A0", "green", "proved")
    assert area.planned_mm == pytest.approx(6.0)
    assert area.depth_mm == pytest.approx(4.0, abs=0.05)


def test_area_that_nobody_asked_for_needs_no_proof(make_case: Callable[[list[Run]], Any]) -> None:
    case = make_case([Run("S0", 0, 24, 1, 1)])
    evidence = case.proved(meter_lost=("20:00", "06:00")).irrigation.set_index("area")["evidence"]
    assert evidence["A0"] == "planned"
    assert evidence["A1"] == "proved"  # not planned and, by the log, not opened


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 23), st.integers(1, 60)), max_size=24))
def test_water_closes_between_stations_and_areas(
    make_case: Callable[[list[Run]], Any], rows: list[tuple[int, int]]
) -> None:
    """Depth times ground over all areas is what the runs applied, multiplier taken off."""
    night = make_case([Run(f"S{i}", 0, length, 1, 1) for i, length in rows]).night
    table = planned_irrigation(night).set_index("area")["depth_mm"]
    ground = {area: sum(r.wetted_m2 for r in night.sums if r.area == area) for area in table.index}
    litres = sum(depth * ground[area] for area, depth in table.items())
    applied = sum(run.run_min * 60 * 2.0 / 1.2 for run in night.runs)
    assert litres == pytest.approx(applied)
