"""ASCE Standardized Reference Evapotranspiration Equation (ASCE-EWRI 2005), and `refet`.

The constants of table 1 are from memory; they are checked here against the independent
library `refet`, which codes the same report, on identical inputs over random days.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
import refet
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather import penman, terms
from nightwater.weather.air import saturation_vapour_pressure_kpa
from nightwater.weather.et import daily_reference_et, hourly_reference_et

LATITUDE, LONGITUDE, ELEVATION_M = 39.4575, -118.77388, 1208.5
# `refet` rounds 4098 · 0.6108 in the slope to 2503: 0.002 % of it
SLOPE_ROUNDING = 3e-4


def test_table_1_constants_of_days() -> None:
    """Table 1 (page 5, from memory): Cn 900 and 1600, Cd 0.34 and 0.38, G = 0."""
    assert (penman.SHORT_DAY.numerator, penman.SHORT_DAY.by_day) == (900, 0.34)
    assert (penman.TALL_DAY.numerator, penman.TALL_DAY.by_day) == (1600, 0.38)
    assert penman.SHORT_DAY.by_night == penman.SHORT_DAY.by_day
    assert penman.SHORT_DAY.ground_by_day == penman.TALL_DAY.ground_by_night == 0


def test_table_1_constants_of_hours() -> None:
    """Table 1 and equations 65 and 66 (from memory), by day and by night."""
    short, tall = penman.SHORT_HOUR, penman.TALL_HOUR
    assert (short.numerator, short.by_day, short.by_night) == (37, 0.24, 0.96)
    assert (tall.numerator, tall.by_day, tall.by_night) == (66, 0.25, 1.7)
    assert (short.ground_by_day, short.ground_by_night) == (0.1, 0.5)
    assert (tall.ground_by_day, tall.ground_by_night) == (0.04, 0.2)


def test_fao56_hours_use_0_34_by_day_and_night() -> None:
    assert penman.FAO56_HOUR.by_day == penman.FAO56_HOUR.by_night == 0.34
    assert penman.FAO56_HOUR.numerator == 37


def _random_days(rows: int) -> pd.DataFrame:
    random = np.random.default_rng(56)
    tmin = random.uniform(-8, 24, rows)
    start = date(2019, 1, 1)
    return pd.DataFrame(
        {
            "tmax_c": tmin + random.uniform(3, 22, rows),
            "tmin_c": tmin,
            "dew_c": tmin - random.uniform(0, 9, rows),
            "wind_m_s": random.uniform(0.2, 7, rows),
            "wind_height_m": 3.0,
            "solar_mj_m2": random.uniform(3, 31, rows),
        },
        index=pd.Index([start + timedelta(days=day) for day in range(rows)], name="date"),
    )


def _refet_days(days: pd.DataFrame, latitude: float, elevation: float) -> refet.Daily:
    return refet.Daily(
        tmin=days["tmin_c"].to_numpy(),
        tmax=days["tmax_c"].to_numpy(),
        tdew=days["dew_c"].to_numpy(),
        rs=days["solar_mj_m2"].to_numpy(),
        uz=days["wind_m_s"].to_numpy(),
        zw=3.0,
        elev=elevation,
        lat=latitude,
        doy=np.array([day.timetuple().tm_yday for day in days.index]),
        method="asce",
    )


@pytest.mark.parametrize(
    ("latitude", "elevation"), [(39.4575, 1208.5), (-33.9, 5.0), (5.0, 2600.0), (58.0, 40.0)]
)
def test_days_agree_with_refet(latitude: float, elevation: float) -> None:
    days = _random_days(900)
    ours = daily_reference_et(days, latitude_deg=latitude, elevation_m=elevation)
    theirs = _refet_days(days, latitude, elevation)
    assert ours["eto_mm"].to_numpy() == pytest.approx(theirs.eto(), abs=SLOPE_ROUNDING)
    assert ours["etr_mm"].to_numpy() == pytest.approx(theirs.etr(), abs=SLOPE_ROUNDING)


@given(
    tmin=st.floats(-15, 28),
    spread=st.floats(0.5, 25),
    dryness=st.floats(0, 15),
    wind=st.floats(0, 12),
    solar=st.floats(0.5, 35),
    latitude=st.floats(-60, 60),
    elevation=st.floats(-50, 3500),
    day=st.integers(1, 365),
)
def test_any_day_agrees_with_refet(
    *,
    tmin: float,
    spread: float,
    dryness: float,
    wind: float,
    solar: float,
    latitude: float,
    elevation: float,
    day: int,
) -> None:
    days = pd.DataFrame(
        {
            "tmax_c": [tmin + spread],
            "tmin_c": [tmin],
            "dew_c": [tmin - dryness],
            "wind_m_s": [wind],
            "wind_height_m": [3.0],
            "solar_mj_m2": [solar],
        },
        index=pd.Index([date(2021, 1, 1) + timedelta(days=day - 1)]),
    )
    ours = daily_reference_et(days, latitude_deg=latitude, elevation_m=elevation)
    theirs = _refet_days(days, latitude, elevation)
    assert ours["eto_mm"].iloc[0] == pytest.approx(theirs.eto()[0], abs=2 * SLOPE_ROUNDING)
    assert ours["etr_mm"].iloc[0] == pytest.approx(theirs.etr()[0], abs=2 * SLOPE_ROUNDING)


def _sunny_hours(days: int) -> pd.DataFrame:
    """Hours with the sun well up, where `refet`'s cloud factor has no low-sun rule."""
    index = pd.date_range("2019-05-01T08:00Z", periods=24 * days, freq="h")
    sun = terms.sun_hours(index, LATITUDE, LONGITUDE)
    random = np.random.default_rng(6)
    rows = len(index)
    temp = random.uniform(5, 36, rows)
    hours = pd.DataFrame(
        {
            "temp_c": temp,
            "dew_c": temp - random.uniform(1, 18, rows),
            "wind_m_s": random.uniform(0.2, 8, rows),
            "wind_height_m": 3.0,
            "solar_w_m2": random.uniform(0.3, 0.75, rows) * sun.above_mj_m2 * 1e6 / 3600,
        },
        index=index,
    )
    # an hour before the middle too: `refet` judges low sun at the start of the hour
    high = (sun.height_rad > 0.45) & (np.roll(sun.height_rad, 1) > 0.45)
    return hours.assign(high=high)


def _refet_hours(hours: pd.DataFrame) -> refet.Hourly:
    solar_date = hours.index + pd.Timedelta(minutes=30) + pd.Timedelta(hours=LONGITUDE / 15)
    return refet.Hourly(
        tmean=hours["temp_c"].to_numpy(),
        tdew=hours["dew_c"].to_numpy(),
        rs=hours["solar_w_m2"].to_numpy() * 3600 / 1e6,
        uz=hours["wind_m_s"].to_numpy(),
        zw=3.0,
        elev=ELEVATION_M,
        lat=LATITUDE,
        lon=LONGITUDE,
        doy=solar_date.day_of_year.to_numpy(),
        time=hours.index.hour.to_numpy().astype(float),
        method="asce",
    )


def test_hours_under_a_high_sun_agree_with_refet() -> None:
    hours = _sunny_hours(40)
    ours = hourly_reference_et(
        hours, latitude_deg=LATITUDE, longitude_deg=LONGITUDE, elevation_m=ELEVATION_M
    )
    theirs = _refet_hours(hours)
    high = hours["high"].to_numpy()
    assert high.sum() > 300
    assert ours["eto_mm"].to_numpy()[high] == pytest.approx(theirs.eto()[high], abs=5e-5)
    assert ours["etr_mm"].to_numpy()[high] == pytest.approx(theirs.etr()[high], abs=5e-5)


def test_nights_agree_with_refet_under_a_clear_sky() -> None:
    """`refet` takes every night as clear; a clear day makes our carried clouds the same."""
    hours = _sunny_hours(20)
    sun = terms.sun_hours(pd.DatetimeIndex(hours.index), LATITUDE, LONGITUDE)
    clear = (0.75 + 2e-5 * ELEVATION_M) * sun.above_mj_m2 * 1e6 / 3600
    hours = hours.assign(solar_w_m2=clear)
    ours = hourly_reference_et(
        hours, latitude_deg=LATITUDE, longitude_deg=LONGITUDE, elevation_m=ELEVATION_M
    )
    theirs = _refet_hours(hours)
    assert ours["eto_mm"].to_numpy() == pytest.approx(theirs.eto(), abs=1e-4)
    assert ours["etr_mm"].to_numpy() == pytest.approx(theirs.etr(), abs=1e-4)
    assert ours["eto_mm"].min() < 0  # dew: negative night hours stay negative


def test_saturation_at_dew_point_is_the_vapour_pressure_refet_uses() -> None:
    dew = np.array([-20.0, 0.0, 12.3, 28.0])
    assert saturation_vapour_pressure_kpa(dew) == pytest.approx(
        refet.calcs.sat_vapor_pressure(dew), rel=1e-12
    )
