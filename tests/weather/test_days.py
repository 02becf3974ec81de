"""Hours to local days: sums close, clocks change, gaps are filled or told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.weather import air
from nightwater.weather.columns import DAY_COLUMNS, HOUR_COLUMNS, columns_of
from nightwater.weather.days import days_from_hours

Build = Callable[..., pd.DataFrame]
NAN = float("nan")
ZONE = "UTC-07:00"


def test_a_whole_day_by_hand(hours_of: Build) -> None:
    hours = hours_of(1)
    day = days_from_hours(hours, ZONE).iloc[0]
    assert day["tmax_c"] == hours["temp_c"].max()
    assert day["tmin_c"] == hours["temp_c"].min()
    assert day["rh_max_pct"] == hours["rh_pct"].max()
    assert day["rh_min_pct"] == hours["rh_pct"].min()
    assert day["wind_m_s"] == pytest.approx(hours["wind_m_s"].mean())
    assert day["solar_mj_m2"] == pytest.approx(hours["solar_w_m2"].mean() * 0.0864)
    vapour = air.saturation_vapour_pressure_kpa(hours["dew_c"]).mean()
    assert day["dew_c"] == pytest.approx(float(air.dew_point_c(vapour)))
    assert (day["hours"], day["flags"], day["wind_height_m"]) == (24, [], 2.0)


def test_rows_are_local_dates_with_the_contracts_columns(hours_of: Build) -> None:
    days = days_from_hours(hours_of(3), ZONE)
    assert list(days.index) == [date(2025, 7, 1), date(2025, 7, 2), date(2025, 7, 3)]
    assert list(days.columns) == [*DAY_COLUMNS, "hours", "flags"]


def test_vapour_comes_from_humidity_where_there_is_no_dew_point(hours_of: Build) -> None:
    hours = hours_of(1).drop(columns="dew_c")
    vapour = air.saturation_vapour_pressure_kpa(hours["temp_c"]) * hours["rh_pct"] / 100
    expected = float(air.dew_point_c(vapour.mean()))
    assert days_from_hours(hours, ZONE)["dew_c"].iloc[0] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("start", "rows", "expected"),
    [
        ("2025-03-08T07:00Z", 24 + 23 + 24, [24, 23, 24]),  # Denver springs on 9 March
        ("2025-11-01T06:00Z", 24 + 25 + 24, [24, 25, 24]),  # and falls back on 2 November
    ],
)
def test_days_of_23_and_25_hours_are_whole(start: str, rows: int, expected: list[int]) -> None:
    index = pd.date_range(start, periods=rows, freq="h")
    hours = pd.DataFrame({"temp_c": 10.0 + np.arange(rows) % 7, "rain_mm": 1.0}, index=index)
    days = days_from_hours(hours, "America/Denver")
    assert days["hours"].tolist() == expected
    assert days["rain_mm"].tolist() == expected
    assert list(days["flags"]) == [[]] * 3


def test_one_or_two_missing_hours_are_drawn_and_marked(hours_of: Build) -> None:
    hours = hours_of(2)
    whole = days_from_hours(hours, ZONE)
    holed = days_from_hours(hours.drop(hours.index[[10, 11]]), ZONE)
    assert list(holed["flags"]) == [["hours-filled", "rain-incomplete"], []]
    assert holed["hours"].tolist() == [22, 24]
    assert holed["solar_mj_m2"].iloc[0] == pytest.approx(whole["solar_mj_m2"].iloc[0], rel=0.02)


def test_three_missing_hours_are_not_drawn(hours_of: Build) -> None:
    hours = hours_of(2)
    days = days_from_hours(hours.drop(hours.index[[10, 11, 12]]), ZONE)
    assert list(days["flags"]) == [["hours-missing", "rain-incomplete"], []]
    assert np.isnan(days["solar_mj_m2"].iloc[0])
    assert days["tmax_c"].notna().all()  # 21 hours are enough for extremes


def test_a_gap_at_the_end_is_never_drawn(hours_of: Build) -> None:
    days = days_from_hours(hours_of(1).iloc[:-1], ZONE)
    assert days["flags"].iloc[0] == ["hours-missing", "rain-incomplete"]


def test_fewer_than_18_hours_make_no_extremes(hours_of: Build) -> None:
    days = days_from_hours(hours_of(1).iloc[:17], ZONE)
    assert days[["tmax_c", "tmin_c", "wind_m_s", "dew_c"]].isna().all(axis=None)
    assert days["hours"].iloc[0] == 17


def test_rain_of_missing_hours_is_not_invented(hours_of: Build) -> None:
    hours = hours_of(1, rain_mm=[2.0] * 24)
    hours.loc[hours.index[5:7], "rain_mm"] = NAN
    days = days_from_hours(hours, ZONE)
    assert days["rain_mm"].iloc[0] == 44
    assert days["flags"].iloc[0] == ["rain-incomplete"]


def test_a_series_without_rain_has_none_and_no_mark(hours_of: Build) -> None:
    days = days_from_hours(hours_of(2).drop(columns="rain_mm"), ZONE)
    assert days["rain_mm"].isna().all()
    assert list(days["flags"]) == [[], []]


def test_missing_columns_stay_missing(hours_of: Build) -> None:
    days = days_from_hours(hours_of(1)[["temp_c"]], ZONE)
    assert days[["rh_max_pct", "dew_c", "wind_m_s", "solar_mj_m2"]].isna().all(axis=None)
    assert days["tmax_c"].notna().all()


def test_duplicate_hours_count_once(hours_of: Build) -> None:
    hours = hours_of(1, rain_mm=1.0)
    twice = pd.concat([hours, hours.iloc[[4]]]).sort_index()
    assert days_from_hours(twice, ZONE)["rain_mm"].iloc[0] == 24


def test_days_without_any_row_do_not_appear(hours_of: Build) -> None:
    hours = hours_of(5)
    days = days_from_hours(pd.concat([hours.iloc[:24], hours.iloc[96:]]), ZONE)
    assert list(days.index) == [date(2025, 7, 1), date(2025, 7, 5)]


def test_origin_goes_with_the_day(hours_of: Build) -> None:
    hours = hours_of(2).assign(origin="typical")
    assert days_from_hours(hours, ZONE)["origin"].tolist() == ["typical", "typical"]


def test_zones_off_by_half_an_hour_keep_their_hours() -> None:
    index = pd.date_range("2025-01-01T18:30Z", periods=48, freq="h")  # midnight in India
    hours = pd.DataFrame({"temp_c": np.arange(48.0), "rain_mm": 0.5}, index=index)
    days = days_from_hours(hours, "Asia/Kolkata")
    assert days["hours"].tolist() == [24, 24]
    assert days["tmax_c"].tolist() == [23, 47]


def test_no_hours_give_no_days(hours_of: Build) -> None:
    assert days_from_hours(hours_of(1).iloc[:0], ZONE).empty


def test_unknown_zone_is_refused(hours_of: Build) -> None:
    with pytest.raises(UserError, match="no time zone"):
        days_from_hours(hours_of(1), "Nowhere")


@given(
    rain=st.lists(st.floats(0, 30), min_size=30, max_size=30),
    zone=st.sampled_from(["UTC", "America/Denver", "Asia/Kolkata", "Pacific/Auckland"]),
)
def test_rain_is_neither_lost_nor_made(rain: list[float], zone: str) -> None:
    index = pd.date_range("2025-03-08T20:00Z", periods=30, freq="h")
    hours = pd.DataFrame({"temp_c": 10.0, "rain_mm": rain}, index=index)
    assert days_from_hours(hours, zone)["rain_mm"].sum() == pytest.approx(sum(rain))


def test_columns_of_a_step() -> None:
    assert columns_of("day") == DAY_COLUMNS
    assert columns_of("hour") == HOUR_COLUMNS
