"""Moist air, pressure and wind: hand-derived values, NaN, shapes, edges."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather import air

ONE_ARGUMENT: list[Callable[[Any], Any]] = [
    air.saturation_vapour_pressure_kpa,
    air.dew_point_c,
    air.vapour_pressure_slope_kpa_c,
    air.air_pressure_kpa,
    air.psychrometric_constant_kpa_c,
]


def test_saturation_at_zero_is_the_constant_itself() -> None:
    assert float(air.saturation_vapour_pressure_kpa(0)) == pytest.approx(0.6108)


@pytest.mark.parametrize("function", ONE_ARGUMENT)
def test_nan_passes_and_the_shape_stays(function: Callable[[Any], Any]) -> None:
    values = np.array([[1.0, np.nan], [2.0, 3.0]])
    result = function(values)
    assert result.shape == (2, 2)
    assert np.isnan(result).tolist() == [[False, True], [False, False]]


@pytest.mark.parametrize("function", ONE_ARGUMENT)
def test_integers_are_welcome_and_inputs_stay_as_they_are(function: Callable[[Any], Any]) -> None:
    values = np.array([5, 20])
    assert function(values) == pytest.approx(function(values.astype(float)))
    assert values.tolist() == [5, 20]


@given(st.floats(-60, 60))
def test_dew_point_undoes_saturation(temperature: float) -> None:
    pressure = air.saturation_vapour_pressure_kpa(temperature)
    assert float(air.dew_point_c(pressure)) == pytest.approx(temperature, abs=1e-9)


@pytest.mark.parametrize("pressure", [0.0, -0.4])
def test_dew_point_of_no_vapour_has_no_meaning(pressure: float) -> None:
    assert np.isnan(air.dew_point_c(pressure))


@given(st.floats(-40, 50))
def test_slope_is_the_derivative_of_saturation(temperature: float) -> None:
    step = 1e-4
    rise = air.saturation_vapour_pressure_kpa(temperature + step)
    fall = air.saturation_vapour_pressure_kpa(temperature - step)
    # 17.27 · 237.3 is 4098.17, which the paper rounds to 4098
    expected = float(rise - fall) / (2 * step)
    assert float(air.vapour_pressure_slope_kpa_c(temperature)) == pytest.approx(expected, rel=1e-4)


def test_pressure_falls_with_height_from_that_at_the_sea() -> None:
    pressure = air.air_pressure_kpa([0, 1000, 2000, 3000])
    assert pressure[0] == pytest.approx(101.3)
    assert (np.diff(pressure) < 0).all()


def test_mean_saturation_lies_above_that_of_the_mean_temperature() -> None:
    mean = air.mean_saturation_vapour_pressure_kpa(30, 10)
    assert float(mean) > float(air.saturation_vapour_pressure_kpa(20))


def test_saturated_air_gives_its_saturation_pressure() -> None:
    both = air.vapour_pressure_from_humidity_kpa(20, 20, 100, 100)
    assert float(both) == pytest.approx(float(air.saturation_vapour_pressure_kpa(20)))


def test_wet_bulb_at_the_dry_bulb_is_saturated() -> None:
    pressure = air.vapour_pressure_from_wet_bulb_kpa([12, 30], [12, 30], 95)
    assert pressure == pytest.approx(air.saturation_vapour_pressure_kpa([12, 30]))


def test_wind_measured_at_2_m_stays() -> None:
    # 4.87 / ln(67.8 · 2 − 5.42) is 1.00002, by the rounding of the constants
    assert float(air.wind_at_2_m_m_s(3.0, 2.0)) == pytest.approx(3.0, rel=1e-3)


def test_wind_profile_by_hand() -> None:
    assert float(air.wind_at_2_m_m_s(5, 10)) == pytest.approx(5 * 4.87 / math.log(672.58))


@pytest.mark.parametrize(
    ("wind", "height"), [(-0.1, 2), (2, 0.05), (2, 0), (2, -3), (np.nan, 2), (2, np.nan)]
)
def test_wind_without_meaning_is_nan(wind: float, height: float) -> None:
    assert np.isnan(air.wind_at_2_m_m_s(wind, height))


def test_wind_broadcasts_heights_against_winds() -> None:
    assert air.wind_at_2_m_m_s([[1.0], [2.0]], [2.0, 3.0, 10.0]).shape == (2, 3)


@given(st.floats(0.5, 49), st.floats(0.1, 1))
def test_wind_at_2_m_falls_with_the_height_it_was_measured_at(low: float, more: float) -> None:
    assert float(air.wind_at_2_m_m_s(4, low)) > float(air.wind_at_2_m_m_s(4, low + more))
