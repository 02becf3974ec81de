"""Radiation: astronomy, balances between hours and days, NaN and edges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather import radiation

DAYS = np.arange(1, 366)


def test_declination_is_that_of_the_solstices_and_equinoxes() -> None:
    assert np.degrees(radiation.declination_rad(172)) == pytest.approx(23.4, abs=0.1)
    assert np.degrees(radiation.declination_rad(355)) == pytest.approx(-23.4, abs=0.1)
    assert np.degrees(radiation.declination_rad([81, 265])) == pytest.approx([0, 0], abs=1.0)


def test_the_sun_is_nearest_in_early_january() -> None:
    assert int(DAYS[np.argmax(radiation.sun_nearness(DAYS))]) in {1, 2, 3, 4, 363, 364, 365}


def test_equinox_has_twelve_hours_everywhere() -> None:
    assert radiation.daylight_hours([-55, 0, 55], 81) == pytest.approx([12, 12, 12], abs=0.05)


def test_polar_day_and_night() -> None:
    assert float(radiation.daylight_hours(75, 172)) == pytest.approx(24)
    assert float(radiation.daylight_hours(75, 355)) == 0
    assert float(radiation.extraterrestrial_mj_m2(75, 355)) == pytest.approx(0, abs=1e-12)
    assert float(radiation.extraterrestrial_mj_m2(75, 172)) > 40


def test_southern_summer_mirrors_the_northern_one() -> None:
    north = radiation.daylight_hours(40, 172)
    assert float(radiation.daylight_hours(-40, 172)) == pytest.approx(24 - float(north))


@pytest.mark.parametrize("longitude", [-170.0, -75.5, 0.0, 33.3, 179.0])
@pytest.mark.parametrize("latitude", [-35.0, 10.0, 39.0, 60.0])
def test_hours_of_a_day_add_up_to_the_day(latitude: float, longitude: float) -> None:
    # the day of the year is held fixed, so that the 24 hours are one solar day
    angle = radiation.hour_angle_rad(np.arange(24) + 0.5, longitude, 200)
    hours = radiation.extraterrestrial_hour_mj_m2(latitude, angle, 200)
    day = radiation.extraterrestrial_mj_m2(latitude, 200)
    assert (hours >= 0).all()
    # an hour that straddles solar midnight in the far north is cut there
    assert float(hours.sum()) == pytest.approx(float(day), rel=1e-6)


def test_hour_angle_at_solar_noon_and_its_range() -> None:
    noon = 12 - float(radiation.equation_of_time_h(100))
    assert float(radiation.hour_angle_rad(noon, 0, 100)) == pytest.approx(0, abs=1e-12)
    angles = radiation.hour_angle_rad(np.linspace(0, 24, 97), 140, 100)
    assert (angles >= -np.pi).all()
    assert (angles <= np.pi).all()


def test_equation_of_time_in_november_and_february() -> None:
    assert 60 * float(radiation.equation_of_time_h(307)) == pytest.approx(16.4, abs=0.6)
    assert 60 * float(radiation.equation_of_time_h(42)) == pytest.approx(-14.3, abs=0.6)


def test_noon_sun_at_the_equator_on_the_equinox_is_overhead() -> None:
    assert np.degrees(radiation.sun_height_rad(0, 0, 81)) == pytest.approx(90, abs=0.5)
    assert float(radiation.sun_height_rad(40, np.pi, 172)) < 0


def test_clear_sky_by_hand() -> None:
    assert float(radiation.clear_sky_mj_m2(40, 1000)) == pytest.approx(40 * 0.77)


def test_sunshine_bounds_are_a_quarter_and_three_quarters() -> None:
    got = radiation.radiation_from_sunshine_mj_m2(40, [0, 12], 12)
    assert got == pytest.approx([10, 30])
    assert np.isnan(radiation.radiation_from_sunshine_mj_m2(0, 0, 0))


def test_temperature_range_rule_is_capped_by_the_clear_sky() -> None:
    got = radiation.radiation_from_range_mj_m2(40, [0, 16, 30], [30, 30, 30])
    assert got == pytest.approx([0, 25.6, 30])


@pytest.mark.parametrize("spread", [-0.1, np.nan])
def test_temperature_range_without_meaning_is_nan(spread: float) -> None:
    assert np.isnan(radiation.radiation_from_range_mj_m2(40, spread, 30))


@pytest.mark.parametrize(
    ("ratio", "least", "factor"),
    [(1.0, 0.3, 1.0), (1.4, 0.3, 1.0), (0.3, 0.3, 0.055), (0.1, 0.3, 0.055), (0.5, 0.0, 0.325)],
)
def test_cloudiness_by_hand(ratio: float, least: float, factor: float) -> None:
    assert float(radiation.cloudiness(ratio * 25, 25, least)) == pytest.approx(factor)


def test_cloudiness_without_sun_is_nan() -> None:
    assert np.isnan(radiation.cloudiness([0, 3], [0, np.nan])).all()


def test_long_wave_of_a_day_with_equal_extremes_is_24_hours_of_it() -> None:
    day = radiation.net_long_wave_mj_m2(20, 20, 1.5, 0.8)
    hour = radiation.net_long_wave_hour_mj_m2(20, 1.5, 0.8)
    # 4.901e-9 / 24 is 2.0421e-10, printed as 2.042e-10
    assert float(day) == pytest.approx(24 * float(hour), rel=1e-4)


@given(st.floats(-20, 40), st.floats(0.05, 5), st.floats(0.05, 1))
def test_long_wave_loss_grows_with_clear_sky_and_dry_air(
    temperature: float, vapour: float, clouds: float
) -> None:
    loss = radiation.net_long_wave_hour_mj_m2(temperature, vapour, clouds)
    assert float(radiation.net_long_wave_hour_mj_m2(temperature, vapour, clouds * 0.9)) < loss
    assert float(radiation.net_long_wave_hour_mj_m2(temperature, vapour * 1.1, clouds)) < loss


def test_grass_reflects_23_percent() -> None:
    assert float(radiation.net_radiation_mj_m2(10, 0)) == pytest.approx(7.7)


def test_arrays_broadcast_places_against_days() -> None:
    places = np.array([[10.0], [30.0], [50.0]])
    assert radiation.extraterrestrial_mj_m2(places, DAYS).shape == (3, 365)
    assert radiation.extraterrestrial_hour_mj_m2(places, np.zeros(365), DAYS).shape == (3, 365)


def test_nan_passes_through_every_formula() -> None:
    nan = float("nan")
    results = [
        radiation.extraterrestrial_mj_m2(nan, 100),
        radiation.extraterrestrial_hour_mj_m2(30, nan, 100),
        radiation.hour_angle_rad(nan, 0, 100),
        radiation.sun_height_rad(30, nan, 100),
        radiation.clear_sky_mj_m2(nan, 0),
        radiation.cloudiness(nan, 20),
        radiation.net_long_wave_mj_m2(nan, 10, 1, 1),
        radiation.net_long_wave_hour_mj_m2(10, nan, 1),
        radiation.net_radiation_mj_m2(nan, 1),
    ]
    assert all(np.isnan(result) for result in results)
