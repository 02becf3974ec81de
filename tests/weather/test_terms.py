"""The inputs of the equation: order of preference, heights, the sun of each hour."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from nightwater.weather import air, radiation, terms

Build = Callable[..., pd.DataFrame]
NAN = float("nan")


def marked(term: terms.Term) -> dict[str, list[int]]:
    return {name: np.flatnonzero(where).tolist() for name, where in term.marks.items()}


def test_a_column_that_is_not_there_is_all_nan() -> None:
    frame = pd.DataFrame({"tmax_c": [1, 2]})
    assert np.isnan(terms.known_column(frame, "wind_m_s")).tolist() == [True, True]
    assert terms.known_column(frame, "tmax_c").dtype == np.float64


def test_vapour_pressure_goes_down_the_list_row_by_row(days_of: Build) -> None:
    days = days_of(5, rh_pct=40.0)
    days.loc[days.index[1:], "dew_c"] = NAN
    days.loc[days.index[2:], "rh_min_pct"] = NAN
    days.loc[days.index[3:], "rh_max_pct"] = NAN
    days.loc[days.index[4:], "rh_pct"] = NAN
    term = terms.day_vapour_pressure(days)
    tmax, tmin = days["tmax_c"].to_numpy(), days["tmin_c"].to_numpy()
    es = air.saturation_vapour_pressure_kpa
    expected = [
        es(days["dew_c"].iloc[0]),
        (es(tmin[1]) * days["rh_max_pct"].iloc[1] + es(tmax[1]) * days["rh_min_pct"].iloc[1]) / 200,
        es(tmin[2]) * days["rh_max_pct"].iloc[2] / 100,
        0.40 * (es(tmax[3]) + es(tmin[3])) / 2,
        es(tmin[4]),
    ]
    assert term.values == pytest.approx([float(value) for value in expected])
    assert marked(term) == {
        "humidity-from-rh-max": [2],
        "humidity-from-rh-mean": [3],
        "humidity-from-tmin": [4],
    }


def test_radiation_from_the_range_only_where_it_is_missing(days_of: Build) -> None:
    days = days_of(4)
    days.loc[days.index[2], "solar_mj_m2"] = NAN
    above = np.full(4, 41.0)
    term = terms.day_radiation(days, above, 0.778 * above)
    spread = days["tmax_c"].iloc[2] - days["tmin_c"].iloc[2]
    assert term.values[2] == pytest.approx(0.16 * np.sqrt(spread) * 41)
    assert term.values[[0, 1, 3]] == pytest.approx(days["solar_mj_m2"].to_numpy()[[0, 1, 3]])
    assert marked(term) == {"radiation-from-temperature": [2]}


def test_wind_by_stated_argued_assumed_height_and_without_wind() -> None:
    frame = pd.DataFrame({"wind_m_s": [3.0, 3.0, NAN], "wind_height_m": [10.0, NAN, NAN]})
    argued = terms.wind_term(frame, 3.0)
    at_10, at_3 = (float(air.wind_at_2_m_m_s(3.0, height)) for height in (10.0, 3.0))
    assert argued.values == pytest.approx([at_10, at_3, 2.0])
    assert marked(argued) == {"wind-assumed": [2]}
    assumed = terms.wind_term(frame, None)
    assert assumed.values == pytest.approx([at_10, 3.0, 2.0], rel=1e-3)
    assert marked(assumed) == {"wind-height-assumed": [1], "wind-assumed": [2]}


def test_the_solar_date_is_that_of_the_place_not_of_greenwich() -> None:
    index = pd.DatetimeIndex(["2025-07-02T05:00Z", "2025-07-02T08:00Z"])
    sun = terms.sun_hours(index, 39.2, -112.0)  # solar midnight is at about 07:28 UTC
    assert np.diff(sun.solar_date).tolist() == [1]
    assert sun.day_of_year.tolist() == [182, 183]


def test_the_sun_of_a_day_adds_up_to_that_of_the_day() -> None:
    index = pd.date_range("2025-07-01T00:00Z", periods=24 * 4, freq="h")
    sun = terms.sun_hours(index, 39.2, -112.0)
    day = 182.0
    hours = sun.above_mj_m2[sun.day_of_year == day]
    assert len(hours) == 24
    whole = float(radiation.extraterrestrial_mj_m2(39.2, day))
    assert hours.sum() == pytest.approx(whole, rel=1e-6)
    assert ((sun.height_rad > 0.05) == (sun.above_mj_m2 > 0.2)).mean() > 0.95


def test_hours_on_the_half_hour_are_met_where_they_start() -> None:
    whole = terms.sun_hours(pd.DatetimeIndex(["2025-07-01T18:00Z"]), 39.2, -112.0)
    half = terms.sun_hours(pd.DatetimeIndex(["2025-07-01T18:30Z"]), 39.2, -112.0)
    assert half.height_rad[0] > whole.height_rad[0]  # still before noon there


def test_leap_years_count_on() -> None:
    index = pd.DatetimeIndex(["2024-12-31T20:00Z", "2023-12-31T20:00Z"])
    assert terms.sun_hours(index, 39.2, -112.0).day_of_year.tolist() == [366, 365]


def test_lowest_temperature_of_the_solar_day_stands_in_for_the_dew_point(hours_of: Build) -> None:
    hours = hours_of(2).drop(columns=["dew_c", "rh_pct"])
    sun = terms.sun_hours(pd.DatetimeIndex(hours.index), 39.2, -112.0)
    term = terms.hour_vapour_pressure(hours, sun)
    for solar_date in np.unique(sun.solar_date):
        own = sun.solar_date == solar_date
        if own.sum() < 18:
            assert np.isnan(term.values[own]).all()
            continue
        lowest = hours["temp_c"].to_numpy()[own].min()
        expected = float(air.saturation_vapour_pressure_kpa(lowest))
        assert term.values[own] == pytest.approx(np.full(own.sum(), expected))


def test_hourly_radiation_is_power_made_energy(hours_of: Build) -> None:
    hours = hours_of(1)
    sun = terms.sun_hours(pd.DatetimeIndex(hours.index), 39.2, -112.0)
    clear = radiation.clear_sky_mj_m2(sun.above_mj_m2, 1400)
    term = terms.hour_radiation(hours, sun, clear)
    assert term.values == pytest.approx(hours["solar_w_m2"].to_numpy() * 0.0036)
    assert term.marks == {}
    estimate = terms.hour_radiation(hours.drop(columns="solar_w_m2"), sun, clear)
    known = ~np.isnan(estimate.values)
    assert (estimate.values[known] <= clear[known] + 1e-12).all()
    assert estimate.values[known].max() > 2
