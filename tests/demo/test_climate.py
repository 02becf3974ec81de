"""The invented weather, judged by the weather package."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from nightwater.demo.climate import (
    FIRST_DAY,
    LAST_DAY,
    LAST_FORECAST,
    NORMALS,
    solar_mj_m2,
    weather_table,
)
from nightwater.demo.vellenby import SETTINGS
from nightwater.weather.et import daily_reference_et
from nightwater.weather.quality import check_weather

SITE = SETTINGS.site


@pytest.fixture(scope="module")
def weather():
    return weather_table()


@pytest.fixture(scope="module")
def eto(weather):
    rows = daily_reference_et(weather, latitude_deg=SITE.latitude_deg, elevation_m=SITE.elevation_m)
    return rows["eto_mm"]


def test_no_day_is_missing(weather):
    days = pd.date_range(FIRST_DAY, LAST_FORECAST).date
    assert list(weather.index) == list(days)
    assert weather.notna().all().all()


def test_quality_checks_find_nothing(weather):
    cleaned, findings = check_weather(
        weather,
        "day",
        latitude_deg=SITE.latitude_deg,
        longitude_deg=SITE.longitude_deg,
        elevation_m=SITE.elevation_m,
    )
    assert findings == []
    pd.testing.assert_frame_equal(cleaned[weather.columns], weather, check_dtype=False)


def test_the_planned_night_follows_a_day_of_6_9_mm(eto):
    assert eto[date(2025, 7, 10)] == pytest.approx(6.9, abs=0.1)


def test_the_day_before_is_cool_enough_for_its_night_to_fit(eto):
    """761 kgal at 6.65 mm; 734 kgal fit, so anything below 6.4 mm does."""
    assert eto[date(2025, 7, 9)] == pytest.approx(5.5, abs=0.1)


@pytest.mark.parametrize("month", [4, 5, 6])
def test_months_keep_their_normals(weather, eto, month):
    own = np.array([day.month == month for day in weather.index])
    normal = NORMALS.loc[month]
    assert eto[own].mean() == pytest.approx(normal["eto_mm"], rel=0.02)
    assert weather["tmax_c"][own].mean() == pytest.approx(normal["tmax_c"], abs=0.3)
    assert weather["tmin_c"][own].mean() == pytest.approx(normal["tmin_c"], abs=0.3)
    assert weather["rain_mm"][own].sum() == pytest.approx(normal["rain_mm"], abs=0.5)


def test_days_differ_as_weather_does(weather, eto):
    june = np.array([day.month == 6 for day in weather.index])
    assert weather["tmax_c"][june].std() > 1.5
    assert eto[june].max() - eto[june].min() > 1.5


def test_july_is_dry_before_the_night(weather):
    july = np.array([day.month == 7 and day <= LAST_DAY for day in weather.index])
    assert weather["rain_mm"][july].sum() == 0.0


def test_physics_holds(weather):
    assert (weather["tmax_c"] > weather["tmin_c"]).all()
    assert (weather["dew_c"] < weather["tmin_c"]).all()
    share = weather["solar_mj_m2"] / solar_mj_m2(list(weather.index), np.ones(len(weather)))
    assert share.between(0.4, 1.0).all()


def test_same_weather_every_time(weather):
    pd.testing.assert_frame_equal(weather, weather_table())
