"""Stuck sensors, odd levels, cloudbursts, and the names of rows in findings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import UserError
from nightwater.weather.places import counted, row_name, several
from nightwater.weather.suspects import check_levels, check_rain, check_stuck, runs_of_equal
from nightwater.weather.zones import zone_named

Build = Callable[..., pd.DataFrame]
NAN = float("nan")


def test_runs_of_equal_values() -> None:
    run, length = runs_of_equal(pd.Series([1.0, 1.0, 2.0, NAN, NAN, 2.0, 2.0, 2.0]))
    assert length.tolist() == [2, 2, 1, 1, 1, 3, 3, 3]
    assert run.nunique() == 5


@pytest.mark.parametrize(
    ("column", "rows"), [("tmax_c", 6), ("tmin_c", 6), ("dew_c", 6), ("wind_m_s", 10)]
)
def test_a_stuck_daily_sensor_is_found_at_its_limit(days_of: Build, column: str, rows: int) -> None:
    days = days_of(30)
    days.loc[days.index[4 : 4 + rows - 1], column] = 9.9
    assert check_stuck(days, "day") == []
    days.loc[days.index[4 + rows - 1], column] = 9.9
    (found,) = check_stuck(days, "day")
    assert (found.code, found.subject) == ("weather-sensor-stuck", f"weather:{column}")
    assert f"9.9 for {rows} rows from 2025-07-05" in found.message


def test_a_stuck_hourly_thermometer_is_found(hours_of: Build) -> None:
    hours = hours_of()
    hours.loc[hours.index[30:60], "temp_c"] = 21.4
    (found,) = check_stuck(hours, "hour")
    assert "21.4 for 30 rows" in found.message


def test_calm_nights_and_dark_hours_are_not_stuck(hours_of: Build) -> None:
    hours = hours_of()
    hours.loc[hours.index[:48], "wind_m_s"] = 0.0
    assert check_stuck(hours, "hour") == []


def test_a_wind_sensor_that_never_turns_is_found(hours_of: Build) -> None:
    (found,) = check_stuck(hours_of(4, wind_m_s=0.0), "hour")
    assert "wind_m_s repeats 0 for 96 rows" in found.message


def test_constant_light_is_found_but_night_is_not(hours_of: Build) -> None:
    hours = hours_of()
    assert check_stuck(hours, "hour") == []
    hours.loc[hours.index[8:14], "solar_w_m2"] = 512.0
    (found,) = check_stuck(hours, "hour")
    assert found.subject == "weather:solar_w_m2"


def test_missing_values_are_not_a_run(days_of: Build) -> None:
    assert check_stuck(days_of(20, tmax_c=NAN), "day") == []


@pytest.mark.parametrize(
    ("column", "value"), [("tmax_c", 50.0), ("wind_m_s", 14.0), ("rh_max_pct", 0.8)]
)
def test_levels_of_another_unit_are_doubted(days_of: Build, column: str, value: float) -> None:
    subjects = [f.subject for f in check_levels(days_of(20, **{column: value}), "day")]
    assert subjects == [f"weather:{column}"]


def test_a_short_series_says_nothing_of_its_level(days_of: Build) -> None:
    assert check_levels(days_of(9, tmax_c=50.0), "day") == []


def test_cloudbursts_are_told(days_of: Build) -> None:
    days = days_of()
    days.loc[days.index[3], "rain_mm"] = 260.0
    (found,) = check_rain(days, "day")
    assert found.code == "weather-rain-heavy"
    assert "1 day (2025-07-04), at most 260.0 mm" in found.message


def test_a_years_rain_in_tenths_is_doubted(days_of: Build) -> None:
    days = days_of(365, rain_mm=23.0)
    assert [found.code for found in check_rain(days, "day")] == ["weather-level-odd"]
    assert check_rain(days_of(365, rain_mm=2.3), "day") == []


def test_rain_is_not_judged_by_a_few_days(days_of: Build) -> None:
    assert check_rain(days_of(20, rain_mm=30.0), "day") == []


def test_row_names() -> None:
    assert row_name(date(2025, 7, 1)) == "2025-07-01"
    assert row_name(pd.Timestamp("2025-07-01T07:00", tz="America/Denver")) == "2025-07-01T13:00Z"


def test_counts_with_their_nouns() -> None:
    index = pd.Index([date(2025, 7, 1), date(2025, 7, 2)])
    assert counted(np.array([False, True]), index, "day") == "1 day (2025-07-02)"
    assert counted(np.array([True, True]), index, "day") == "2 days (the first: 2025-07-01)"
    assert several(1, "row") == "1 row"
    assert several(1200, "row") == "1,200 rows"


@pytest.mark.parametrize(
    ("name", "hours"),
    [("UTC", 0), ("UTC-08:00", -8), ("UTC+5:30", 5.5), ("UTC-7", -7), ("America/Phoenix", -7)],
)
def test_zones_by_name_and_by_offset(name: str, hours: float) -> None:
    at = pd.Timestamp("2025-07-01", tz=zone_named(name))
    offset = at.utcoffset()
    assert offset is not None
    assert offset.total_seconds() == hours * 3600


@pytest.mark.parametrize("name", ["", "Mountain", "UTC+x", "../etc/passwd", "America"])
def test_names_that_are_no_zone_are_refused(name: str) -> None:
    with pytest.raises(UserError, match="no time zone"):
        zone_named(name)
