"""Each rule of the course: the planner keeps it, and the referee tells a night that does not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import Finding, Severity
from nightwater.night.build import plan_night
from nightwater.night.hours import NightHours, calm_span
from nightwater.night.neighbours import neighbour_pairs
from nightwater.night.plan import Night
from nightwater.night.referee import referee
from nightwater.night.window import night_window
from nightwater.pipes.energy import power_per_flow_kw_s_l

NIGHT = "2025-07-10"


def judged(course: Any, night: Night, weather: pd.DataFrame | None = None) -> list[Finding]:
    return referee(night, course.ground, course.settings, course.holds, weather)


def codes(course: Any, night: Night, weather: pd.DataFrame | None = None) -> set[str]:
    return {f.code for f in judged(course, night, weather) if f.severity is not Severity.NOTE}


def windy(*speeds: float, origin: str = "forecast") -> pd.DataFrame:
    """Wind by the hour from 21:00 on the course's clock (03:00 UTC)."""
    times = pd.date_range("2025-07-11T03:00", periods=len(speeds), freq="h", tz="UTC")
    return pd.DataFrame(
        {
            "step": "hour",
            "time": [t.isoformat() for t in times],
            "wind_m_s": list(speeds),
            "origin": origin,
        }
    )


@pytest.fixture
def course(row_of: Any) -> Any:
    """Two greens, a tee and five fairways; the pump takes four heads at once."""
    kinds = ["green", "green", "tee"] + ["fairway"] * 5
    return row_of(*((kind, 1, (10, 10)) for kind in kinds), pump_l_s=6.8)


def spans(night: Night, *stations: str) -> tuple[int, int]:
    mine = [run for run in night.runs if run.station in stations]
    return min(r.start_min for r in mine), max(r.start_min + r.run_min for r in mine)


# Greens, rescue slot, area hours, run by


@pytest.mark.parametrize(("rule", "first", "last"), [("late", 330, 460), ("first", 0, 130)])
def test_greens_keep_their_end_of_the_night(course: Any, rule: str, first: int, last: int) -> None:
    ruled = course.rules(greens=rule, greens_within_min=130, rescue_min=20)
    night = ruled.night()
    start, end = spans(night, "S0", "S1")
    assert first <= start
    assert end <= last
    assert night.left_out == ()
    assert codes(ruled, night) == set()


def test_greens_at_the_wrong_end_are_told(course: Any) -> None:
    early = course.rules(greens="first", greens_within_min=60).night()
    late = course.rules(greens="late", greens_within_min=60)
    assert codes(late, early) == {"run-greens-hours"}


def test_the_rescue_slot_stays_free(row_of: Any) -> None:
    full = row_of(*(("rough", 1, (60,)) for _ in range(8)), pump_l_s=1.7)
    assert "run-in-rescue-slot" in codes(full.rules(rescue_min=30), full.night())
    ruled = full.rules(rescue_min=30)
    night = ruled.night()
    assert night.finish_min <= 450
    assert codes(ruled, night) == set()
    assert len(night.left_out) == 1


def test_an_area_has_hours_of_its_own(course: Any) -> None:
    ruled = course.rules(area_windows={"A3": ("23:00", "01:00")})
    night = ruled.night()
    start, end = spans(night, "S3")
    assert start >= 120
    assert end <= 240
    assert codes(ruled, night) == set()
    assert codes(ruled, course.night()) == {"run-area-window"}


def test_what_must_run_by_runs_first_and_in_time(row_of: Any) -> None:
    """Rough is the last kind; a product to be watered in makes it the first."""
    full = row_of(*(("green", 1, (60,)) for _ in range(9)), ("rough", 1, (60,)), pump_l_s=1.7)
    assert "S9" in {left.station for left in full.night().left_out}
    ruled = full.rules(run_by={"areas:A9": (NIGHT, "23:00", "fertiliser, to be watered in")})
    night = ruled.night()
    assert spans(night, "S9")[1] <= 120
    assert codes(ruled, night) == {"left-out"} - {"left-out"}
    found = judged(ruled, full.night())
    told = next(f for f in found if f.code == "run-by-left-out")
    assert "fertiliser" in told.message


def test_what_ran_too_late_is_told(course: Any) -> None:
    late = course.rules(area_windows={"A3": ("01:00", "")}).night()
    ruled = course.rules(run_by={"stations:S3": (NIGHT, "23:00", "a product")})
    assert codes(ruled, late) == {"run-by-late"}


def test_a_rule_of_another_night_ends_by_itself(course: Any) -> None:
    ruled = course.rules(run_by={"stations:S3": ("2025-07-09", "21:05", "a product")})
    assert codes(ruled, ruled.night()) == set()


def test_a_rule_that_names_no_ground_is_told(course: Any) -> None:
    ruled = course.rules(run_by={"moon:1": (NIGHT, "23:00", "a product")})
    assert codes(ruled, ruled.night()) == {"run-by-not-understood"}


# Neighbours


def test_neighbours_are_pairs_nearer_than_the_distance(course: Any) -> None:
    assert neighbour_pairs(course.ground, 40.5) == tuple((f"S{i}", f"S{i + 1}") for i in range(7))
    assert neighbour_pairs(course.ground, 40.0) == ()
    assert neighbour_pairs(course.ground, 0.0) == ()


def test_neighbours_do_not_run_at_once(course: Any) -> None:
    ruled = course.rules(apart_m=41.0)
    night = ruled.night()
    assert night.left_out == ()
    assert codes(ruled, night) == set()
    assert codes(ruled, course.night()) == {"neighbours-at-once"}


# Power, ramp, starts


def test_power_of_a_litre_a_second_by_hand() -> None:
    """9.80665 kPa/m × 80 m × 1 L/s = 0.785 kW of water, over 0.8 and 0.9."""
    pumps = pd.DataFrame(
        {
            "capacity_l_s": [10.0, 30.0],
            "head_m": [80.0, np.nan],
            "set_pressure_kpa": [np.nan, 40 * 9.80665],
            "pump_efficiency": [0.8, 0.8],
            "motor_efficiency": [0.9, 0.9],
        }
    )
    one = 9.80665 * 80 / 1000 / 0.72
    assert power_per_flow_kw_s_l(pumps) == pytest.approx((10 * one + 30 * one / 2) / 40)


def test_a_power_ceiling_limits_the_flow(course: Any) -> None:
    pumped = course.cells("pumps", head_m=80.0, pump_efficiency=0.8, motor_efficiency=0.9)
    ruled = pumped.rules(max_kw=4.0)
    night = ruled.night()
    assert max(night.flow_l_s) == pytest.approx(3.4)  # 3.67 L/s at 4 kW: two heads
    assert codes(ruled, night) == set()
    assert codes(ruled, pumped.night()) == {"power-over"}


def test_power_of_pumps_without_a_head_is_not_known(course: Any) -> None:
    ruled = course.rules(max_kw=4.0)
    assert "power-unknown" in {f.code for f in judged(ruled, ruled.night())}


def test_the_ramp_is_kept_and_a_steep_night_is_an_error(course: Any) -> None:
    slow = course.cells("pumps", ramp_l_s_min=1.7)
    night = slow.night()
    step = np.diff(np.concatenate([[0.0], night.flow_l_s, [0.0]]))
    assert np.abs(step).max() <= 1.7 + 1e-6
    assert codes(slow, night) == set()
    steep = [f for f in judged(slow, course.night()) if f.code == "pump-steps-steep"]
    assert [f.severity for f in steep] == [Severity.ERROR]


def test_a_station_steeper_than_the_ramp_is_left_out_and_named(course: Any) -> None:
    night = course.cells("pumps", ramp_l_s_min=1.0).night()
    assert night.runs == ()
    assert "follow" in night.left_out[0].reason


def test_pumps_start_no_more_often_than_they_may(row_of: Any) -> None:
    course = row_of(("green", 1, (5, 5, 5)), pump_l_s=6.8)
    limited = course.cells("pumps", max_starts_h=1)
    night = limited.night()
    assert [run.start_min for run in night.runs] == [0, 60, 120]
    assert codes(limited, night) == set()
    assert codes(limited, course.night()) == {"pump-starts-many"}


def test_a_pause_between_stations_is_closed(row_of: Any) -> None:
    course = row_of(("green", 1, (5,)), ("tee", 1, (5,))).cells("pumps", max_starts_h=1)
    ruled = course.rules(kind_windows={"tee": ("21:20", "")})
    assert sorted(run.start_min for run in ruled.night().runs) == [15, 20]


# Wind


def hours(course: Any, weather: pd.DataFrame | None) -> NightHours:
    window = night_window(pd.Timestamp(NIGHT).date(), course.settings.site, course.settings.night)
    return NightHours(course.settings, pd.Timestamp(NIGHT).date(), window, weather)


def test_the_longest_calm_stretch_is_found(course: Any) -> None:
    weather = windy(2, 6, 2, 2, 2, 7, 2, 2)
    assert calm_span(hours(course, weather)) == (120, 300)


def test_what_was_observed_counts_before_what_was_forecast(course: Any) -> None:
    weather = pd.concat([windy(2, 2, origin="observed"), windy(9, 9, 9, 1, 9, 9, 9, 9)])
    assert calm_span(hours(course, weather)) == (0, 120)


@pytest.mark.parametrize("weather", [None, windy().iloc[:0], windy(np.nan, np.nan)])
def test_without_wind_by_the_hour_no_hour_is_calm(
    course: Any, weather: pd.DataFrame | None
) -> None:
    assert calm_span(hours(course, weather)) is None


def test_wind_sensitive_kinds_run_in_the_calm(course: Any) -> None:
    weather = windy(6, 6, 6, 6, 2, 2, 6, 6)
    ruled = course.rules(wind_kinds=("tee",), calm_m_s=4.5)
    night = plan_night(
        ruled.ground, ruled.sums, ruled.settings, pd.Timestamp(NIGHT).date(), ruled.holds,
        weather=weather,
    )  # fmt: skip
    start, end = spans(night, "S2")
    assert start >= 240
    assert end <= 360
    assert spans(night, "S3")[0] < 60
    assert codes(ruled, night, weather) == set()
    assert codes(ruled, course.night(), weather) == {"run-in-wind"}


def test_where_the_calm_is_full_the_rest_runs_in_the_wind(row_of: Any) -> None:
    course = row_of(*(("tee", 1, (40,)) for _ in range(3)), pump_l_s=1.7)
    weather = windy(6, 6, 6, 2, 6, 6, 6, 6)
    ruled = course.rules(wind_kinds=("tee",))
    night = plan_night(
        ruled.ground, ruled.sums, ruled.settings, pd.Timestamp(NIGHT).date(), ruled.holds,
        weather=weather,
    )  # fmt: skip
    assert night.left_out == ()
    assert sum(180 <= run.start_min <= 200 for run in night.runs) == 1
    assert codes(ruled, night, weather) == {"run-in-wind"}


def test_no_rule_set_changes_nothing(course: Any) -> None:
    plain = course.night()
    assert codes(course, plain) == set()
    assert replace(plain, findings=()) == replace(course.rules(rescue_min=0).night(), findings=())
