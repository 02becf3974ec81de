"""Radiation on slopes against closed forms, and what symmetry demands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather.radiation import declination_rad
from nightwater.weather.slopes import beam_ratio, radiation_ratio

SOUTH, EAST, WEST, NORTH = np.pi, np.pi / 2, 3 * np.pi / 2, 0.0


def klein(latitude_deg: float, day: int, slope_deg: float) -> float:
    """Klein (1977), Solar Energy 19, 325-329, for a slope to the equator, in the north.

    The closed form that Duffie and Beckman print as equation 2.19.3a; cited from memory.
    """
    phi, beta, delta = np.radians(latitude_deg), np.radians(slope_deg), float(declination_rad(day))
    level = np.arccos(-np.tan(phi) * np.tan(delta))
    tilted = min(level, np.arccos(np.clip(-np.tan(phi - beta) * np.tan(delta), -1, 1)))

    def day_sum(at: float, angle: float) -> float:
        return np.cos(at) * np.cos(delta) * np.sin(angle) + angle * np.sin(at) * np.sin(delta)

    return day_sum(phi - beta, tilted) / day_sum(phi, level)


@pytest.mark.parametrize("latitude", [15.0, 39.2, 52.0])
@pytest.mark.parametrize("day", [17, 105, 190, 288])
@pytest.mark.parametrize("slope", [5.0, 15.0, 30.0])
def test_slopes_to_the_equator_are_kleins(latitude: float, day: int, slope: float) -> None:
    found = float(beam_ratio(latitude, day, np.radians(slope), SOUTH))
    assert found == pytest.approx(klein(latitude, day, slope), rel=2e-3)


def test_madison_in_january() -> None:
    """Duffie and Beckman, example 2.19.1 (cited from memory): 43° north, slope 60°, 17 January.

    The book gives a monthly mean beam ratio of 2.79, with a declination of −20.9°.
    """
    assert float(beam_ratio(43.0, 17, np.radians(60.0), SOUTH)) == pytest.approx(2.79, abs=0.05)


@given(
    st.floats(-60, 60), st.integers(1, 365), st.floats(0, 0.5), st.floats(0, 2 * np.pi),
)  # fmt: skip
def test_the_other_hemisphere_half_a_year_later_is_mirrored(
    latitude: float, day: int, slope: float, aspect: float
) -> None:
    """North and south change places; the declination must only change its sign."""
    one = float(beam_ratio(latitude, day, slope, aspect))
    mirrored = (np.pi - aspect) % (2 * np.pi)
    later = min(range(1, 366), key=lambda d: abs(declination_rad(d) + declination_rad(day)))
    assert float(beam_ratio(-latitude, later, slope, mirrored)) == pytest.approx(one, abs=0.03)


@given(st.floats(-60, 60), st.integers(1, 366), st.floats(0, 0.5))
def test_east_and_west_are_alike(latitude: float, day: int, slope: float) -> None:
    east, west = (float(radiation_ratio(latitude, day, slope, a)) for a in (EAST, WEST))
    assert east == pytest.approx(west, rel=1e-9)


@given(st.floats(-89, 89), st.integers(1, 366), st.floats(0, 2 * np.pi))
def test_level_ground_is_one(latitude: float, day: int, aspect: float) -> None:
    assert float(radiation_ratio(latitude, day, 0.0, aspect)) == pytest.approx(1.0)


def test_south_is_sunnier_than_north_in_winter_and_alike_at_midsummer() -> None:
    """At midsummer the sun rises and sets behind a south slope, which makes up for its noon."""
    slope = np.radians(10.0)
    summer, winter = (
        float(radiation_ratio(39.2, day, slope, SOUTH) - radiation_ratio(39.2, day, slope, NORTH))
        for day in (172, 355)
    )
    assert abs(summer) < 0.02
    assert winter > 0.4


def test_polar_night_has_no_ratio() -> None:
    assert float(beam_ratio(80.0, 355, 0.3, SOUTH)) == 1.0
