"""Reference ET of series: fallbacks and their flags, gaps, heights, shapes of the answer."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather import air
from nightwater.weather.et import (
    carried_clouds,
    daily_reference_et,
    days_of_year,
    hourly_reference_et,
    reference_et,
)

PLACE = {"latitude_deg": 39.2, "elevation_m": 1400.0}
HOUR_PLACE = PLACE | {"longitude_deg": -112.0}
NAN = float("nan")
Build = Callable[..., pd.DataFrame]


def flags_of(result: pd.DataFrame) -> list[list[str]]:
    return list(result["flags"])


# --- days -------------------------------------------------------------------------------


def test_a_fair_july_is_plausible_and_unmarked(days_of: Build) -> None:
    result = daily_reference_et(days_of(31), **PLACE)
    assert list(result.columns) == ["eto_mm", "etr_mm", "flags"]
    assert result["eto_mm"].between(5, 9).all()
    assert (result["etr_mm"] > result["eto_mm"]).all()
    assert flags_of(result) == [[]] * 31


def test_day_of_year_counts_leap_days() -> None:
    days = [date(2023, 1, 1), date(2023, 12, 31), date(2024, 2, 29), date(2024, 12, 31)]
    assert days_of_year(days).tolist() == [1, 365, 60, 366]


@pytest.mark.parametrize(
    ("gone", "flag"),
    [
        (["dew_c"], None),
        (["dew_c", "rh_min_pct"], "humidity-from-rh-max"),
        (["dew_c", "rh_min_pct", "rh_max_pct"], "humidity-from-tmin"),
        (["solar_mj_m2"], "radiation-from-temperature"),
        (["wind_m_s"], "wind-assumed"),
        (["wind_height_m"], "wind-height-assumed"),
    ],
)
def test_each_missing_column_has_its_flag(
    days_of: Build, gone: list[str], flag: str | None
) -> None:
    result = daily_reference_et(days_of().drop(columns=gone), **PLACE)
    assert result["eto_mm"].notna().all()
    assert flags_of(result) == [[flag] if flag else []] * 10


def test_one_missing_cell_marks_one_day(days_of: Build) -> None:
    days = days_of()
    days.loc[days.index[3], "solar_mj_m2"] = NAN
    days.loc[days.index[7], "wind_m_s"] = NAN
    flags = flags_of(daily_reference_et(days, **PLACE))
    assert flags[3] == ["radiation-from-temperature"]
    assert flags[7] == ["wind-assumed"]
    assert [row for row in flags if row] == [flags[3], flags[7]]


def test_mean_humidity_stands_in_before_the_lowest_temperature(days_of: Build) -> None:
    days = days_of(rh_pct=45.0).drop(columns=["dew_c", "rh_max_pct", "rh_min_pct"])
    result = daily_reference_et(days, **PLACE)
    assert flags_of(result)[0] == ["humidity-from-rh-mean"]
    as_dew = days.assign(
        dew_c=air.dew_point_c(
            0.45 * air.mean_saturation_vapour_pressure_kpa(days["tmax_c"], days["tmin_c"])
        )
    )
    expected = daily_reference_et(as_dew, **PLACE)["eto_mm"]
    assert result["eto_mm"].to_numpy() == pytest.approx(expected.to_numpy())


def test_the_dew_point_is_preferred_to_humidity(days_of: Build) -> None:
    days = days_of()
    with_both = daily_reference_et(days, **PLACE)["eto_mm"]
    dew_only = daily_reference_et(days.drop(columns=["rh_max_pct", "rh_min_pct"]), **PLACE)
    assert with_both.equals(dew_only["eto_mm"])


@pytest.mark.parametrize("column", ["tmax_c", "tmin_c"])
def test_without_a_temperature_there_is_no_et(days_of: Build, column: str) -> None:
    days = days_of()
    days.loc[days.index[2], column] = NAN
    result = daily_reference_et(days, **PLACE)
    assert np.isnan(result["eto_mm"].iloc[2])
    assert np.isnan(result["etr_mm"].iloc[2])
    assert "temperature-missing" in flags_of(result)[2]
    assert result["eto_mm"].notna().sum() == 9


def test_a_stated_height_in_a_row_wins_over_the_argument(days_of: Build) -> None:
    days = days_of(wind_height_m=[10.0] * 5 + [NAN] * 5)
    result = daily_reference_et(days, wind_height_m=2.0, **PLACE)
    at_10, at_2 = (
        daily_reference_et(days.drop(columns="wind_height_m"), wind_height_m=height, **PLACE)
        for height in (10.0, 2.0)
    )
    assert result["eto_mm"].iloc[:5].equals(at_10["eto_mm"].iloc[:5])
    assert result["eto_mm"].iloc[5:].equals(at_2["eto_mm"].iloc[5:])
    assert flags_of(result) == [[]] * 10


def test_unstated_height_is_computed_as_2_m(days_of: Build) -> None:
    assumed = daily_reference_et(days_of().drop(columns="wind_height_m"), **PLACE)
    stated = daily_reference_et(days_of(), **PLACE)
    assert assumed["eto_mm"].equals(stated["eto_mm"])


def test_vapour_above_saturation_counts_as_saturated(days_of: Build) -> None:
    fog = days_of(tmax_c=12.0, tmin_c=10.0, dew_c=12.5)
    result = daily_reference_et(fog, **PLACE)
    assert flags_of(result)[0] == ["humidity-over-saturation"]
    # no deficit: only the long-wave term still sees the higher vapour pressure
    just = days_of(tmax_c=12.0, tmin_c=10.0, dew_c=11.0)
    assert result["eto_mm"].iloc[0] == pytest.approx(
        daily_reference_et(just, **PLACE)["eto_mm"].iloc[0], abs=0.1
    )


def test_polar_night_takes_a_clear_sky_and_says_so(days_of: Build) -> None:
    days = days_of(3, solar_mj_m2=0.0, tmax_c=-2.0, tmin_c=-9.0, dew_c=-11.0)
    december = days.set_axis(pd.Index([date(2025, 12, day) for day in (20, 21, 22)], name="date"))
    result = daily_reference_et(december, latitude_deg=71.0, elevation_m=10)
    assert flags_of(result) == [["cloud-assumed-clear"]] * 3
    assert result["eto_mm"].notna().all()


def test_flags_of_the_days_themselves_are_carried_on(days_of: Build) -> None:
    days = days_of(2).assign(flags=[["hours-filled"], []]).drop(columns="wind_m_s")
    assert flags_of(daily_reference_et(days, **PLACE)) == [
        ["hours-filled", "wind-assumed"],
        ["wind-assumed"],
    ]


def test_days_are_independent_of_their_neighbours(days_of: Build) -> None:
    days = days_of(20)
    whole = daily_reference_et(days, **PLACE)
    parts = pd.concat(
        [daily_reference_et(days.iloc[at : at + 5], **PLACE) for at in (0, 5, 10, 15)]
    )
    pd.testing.assert_frame_equal(whole, parts)


def test_the_input_is_not_changed(days_of: Build) -> None:
    days = days_of()
    before = days.copy(deep=True)
    daily_reference_et(days, **PLACE)
    pd.testing.assert_frame_equal(days, before)


def test_no_days_give_no_rows(days_of: Build) -> None:
    assert daily_reference_et(days_of(0), **PLACE).empty


def test_whole_numbers_and_missing_objects_are_welcome() -> None:
    days = pd.DataFrame(
        {"tmax_c": [30, 31], "tmin_c": [15, 14], "solar_mj_m2": pd.array([25, None], "Int64")},
        index=pd.Index([date(2025, 7, 1), date(2025, 7, 2)]),
    )
    result = daily_reference_et(days, **PLACE)
    assert "radiation-from-temperature" not in flags_of(result)[0]
    assert "radiation-from-temperature" in flags_of(result)[1]


@given(
    tmin=st.floats(-20, 30),
    spread=st.floats(0, 30),
    humidity=st.floats(1, 100),
    wind=st.floats(0, 20),
    solar=st.floats(0, 35),
)
def test_any_plausible_day_gives_a_finite_number(
    *, tmin: float, spread: float, humidity: float, wind: float, solar: float
) -> None:
    day = pd.DataFrame(
        {
            "tmax_c": [tmin + spread],
            "tmin_c": [tmin],
            "rh_max_pct": [humidity],
            "rh_min_pct": [humidity / 2],
            "wind_m_s": [wind],
            "wind_height_m": [2.0],
            "solar_mj_m2": [solar],
        },
        index=pd.Index([date(2025, 5, 5)]),
    )
    result = daily_reference_et(day, **PLACE)
    assert -3 < result["eto_mm"].iloc[0] < 40


@given(st.floats(0.5, 8), st.floats(0.1, 3))
def test_more_wind_never_lowers_et_of_a_dry_day(wind: float, more: float) -> None:
    days = pd.DataFrame(
        {
            "tmax_c": [34.0] * 2,
            "tmin_c": [16.0] * 2,
            "dew_c": [2.0] * 2,
            "wind_m_s": [wind, wind + more],
            "wind_height_m": [2.0] * 2,
            "solar_mj_m2": [27.0] * 2,
        },
        index=pd.Index([date(2025, 7, 5), date(2025, 7, 5)]),
    )
    low, high = daily_reference_et(days, **PLACE)["eto_mm"]
    assert high > low


# --- hours ------------------------------------------------------------------------------


def test_fair_hours_add_up_to_a_fair_day(hours_of: Build) -> None:
    result = hourly_reference_et(hours_of(), **HOUR_PLACE)
    assert flags_of(result) == [[]] * 144
    by_day = result["eto_mm"].to_numpy().reshape(6, 24).sum(axis=1)
    assert ((by_day > 5) & (by_day < 9)).all()


def test_nights_may_be_negative_and_are_not_clamped(hours_of: Build) -> None:
    calm = hours_of(wind_m_s=0.05, rh_pct=99.0).drop(columns="dew_c")
    result = hourly_reference_et(calm, **HOUR_PLACE)
    assert result["eto_mm"].min() < -0.01


def test_fao56_and_asce_hours_differ_as_their_resistances_do(hours_of: Build) -> None:
    asce = hourly_reference_et(hours_of(), **HOUR_PLACE)
    fao = hourly_reference_et(hours_of(), standard="fao56", **HOUR_PLACE)
    sunny = hours_of()["solar_w_m2"].to_numpy() > 300
    dark = hours_of()["solar_w_m2"].to_numpy() == 0
    assert (asce["eto_mm"].to_numpy()[sunny] > fao["eto_mm"].to_numpy()[sunny]).all()
    assert (asce["eto_mm"].to_numpy()[dark] < fao["eto_mm"].to_numpy()[dark]).all()
    assert fao["etr_mm"].isna().all()
    assert asce["etr_mm"].notna().all()


@pytest.mark.parametrize(
    ("gone", "flag"),
    [
        (["dew_c"], None),
        (["rh_pct"], None),
        (["dew_c", "rh_pct"], "humidity-from-tmin"),
        (["solar_w_m2"], "radiation-from-temperature"),
        (["wind_m_s"], "wind-assumed"),
        (["wind_height_m"], "wind-height-assumed"),
    ],
)
def test_each_missing_hourly_column_has_its_flag(
    hours_of: Build, gone: list[str], flag: str | None
) -> None:
    result = hourly_reference_et(hours_of().drop(columns=gone), **HOUR_PLACE)
    flags = [
        [name for name in row if name != "humidity-over-saturation"] for row in result["flags"]
    ]
    assert flags == [[flag] if flag else []] * 144
    assert result["eto_mm"].notna().all()


def test_radiation_from_the_range_is_the_day_rule_spread_over_the_sun(hours_of: Build) -> None:
    hours = hours_of()
    measured = hourly_reference_et(hours, **HOUR_PLACE)["eto_mm"].sum()
    estimated = hourly_reference_et(hours.drop(columns="solar_w_m2"), **HOUR_PLACE)
    assert estimated["eto_mm"].sum() == pytest.approx(measured, rel=0.15)


def test_a_day_of_too_few_hours_has_no_range_to_stand_on(hours_of: Build) -> None:
    part = hours_of(1).iloc[:15].drop(columns=["solar_w_m2", "dew_c", "rh_pct"])
    result = hourly_reference_et(part, **HOUR_PLACE)
    assert result["eto_mm"].isna().all()


def test_missing_temperature_is_marked_and_stays_missing(hours_of: Build) -> None:
    hours = hours_of()
    hours.loc[hours.index[30], "temp_c"] = NAN
    result = hourly_reference_et(hours, **HOUR_PLACE)
    assert np.isnan(result["eto_mm"].iloc[30])
    assert "temperature-missing" in flags_of(result)[30]
    assert result["eto_mm"].notna().sum() == 143


def test_index_in_local_time_means_the_same_instants(hours_of: Build) -> None:
    utc = hours_of()
    local = utc.set_axis(pd.DatetimeIndex(utc.index).tz_convert("America/Denver"))
    assert hourly_reference_et(utc, **HOUR_PLACE)["eto_mm"].to_numpy() == pytest.approx(
        hourly_reference_et(local, **HOUR_PLACE)["eto_mm"].to_numpy(), abs=1e-12
    )


def test_clouds_of_the_evening_last_through_the_night() -> None:
    height = np.array([0.1, 0.5, 0.6, 0.2, -0.3, -0.3, 0.2, 0.5])
    solar = np.array([0.0, 1.0, 2.0, 0.1, 0.0, 0.0, 0.1, 2.4])
    got = carried_clouds(solar, np.full(8, 2.5), height, 0.3)
    first, evening, morning = (1.35 * ratio - 0.35 for ratio in (0.4, 0.8, 0.96))
    expected = [first, first, evening, evening, evening, evening, evening, morning]
    assert got == pytest.approx(expected)


def test_clouds_are_not_carried_over_more_than_a_day() -> None:
    height = np.full(60, -0.1)
    height[0] = 0.6
    got = carried_clouds(np.full(60, 1.0), np.full(60, 2.0), height, 0.3)
    assert np.isfinite(got[:25]).all()
    assert np.isnan(got[25:]).all()


def test_hours_far_from_any_sun_say_that_the_sky_was_taken_as_clear(hours_of: Build) -> None:
    hours = hours_of().assign(solar_w_m2=NAN, temp_c=20.0)
    result = hourly_reference_et(hours, **HOUR_PLACE)
    # the estimate from a range of zero is no radiation, which is a sky of full cloud
    assert all("radiation-from-temperature" in row for row in result["flags"])
    winter = pd.DataFrame(
        {"temp_c": -5.0, "dew_c": -9.0, "solar_w_m2": 0.0, "wind_m_s": 2.0, "wind_height_m": 2.0},
        index=pd.date_range("2025-12-20T00:00Z", periods=48, freq="h"),
    )
    dark = hourly_reference_et(winter, latitude_deg=75, longitude_deg=20, elevation_m=10)
    assert all(row == ["cloud-assumed-clear"] for row in dark["flags"])


# --- rows for scripts -------------------------------------------------------------------


def test_rows_of_days_are_plain_json(days_of: Build) -> None:
    days = days_of(2)
    days.loc[days.index[1], "tmax_c"] = NAN
    rows = reference_et(days, "day", timezone="America/Denver", **HOUR_PLACE)
    assert json.loads(json.dumps(rows)) == rows
    assert [row["date"] for row in rows] == ["2025-07-01", "2025-07-02"]
    assert set(rows[0]) == {"date", "eto_mm", "etr_mm", "flags"}
    assert rows[1]["eto_mm"] is None
    assert rows[1]["flags"][0] == "temperature-missing"  # type: ignore[index]


def test_rows_of_hours_name_their_utc_start(hours_of: Build) -> None:
    rows = reference_et(hours_of(1), "hour", timezone="America/Denver", **HOUR_PLACE)
    assert len(rows) == 24
    assert rows[0]["time"] == "2025-07-01T07:00:00Z"
    assert json.loads(json.dumps(rows)) == rows


def test_days_of_hourly_weather_are_those_of_the_nights_need(hours_of: Build) -> None:
    rows = reference_et(hours_of(3), "hour", rows="day", timezone="UTC-07:00", **HOUR_PLACE)
    assert [row["date"] for row in rows] == ["2025-07-01", "2025-07-02", "2025-07-03"]
    assert all(5 < float(str(row["eto_mm"])) < 9 for row in rows)


def test_hours_of_daily_weather_do_not_exist(days_of: Build) -> None:
    with pytest.raises(ValueError, match="no hours"):
        reference_et(days_of(), "day", rows="hour", timezone="UTC", **HOUR_PLACE)


def test_the_fao56_standard_reaches_the_rows(hours_of: Build) -> None:
    rows = reference_et(
        hours_of(1), "hour", timezone="UTC", standard="fao56", wind_height_m=2.0, **HOUR_PLACE
    )
    assert all(row["etr_mm"] is None for row in rows)
    assert all(row["eto_mm"] is not None for row in rows)
