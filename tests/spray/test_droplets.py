"""Single drops: drag and fall against print, flights against another solver, closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from nightwater.spray.droplets import (
    AIR_KG_M3,
    AIR_VISCOSITY_M2_S,
    GRAVITY_M_S2,
    WATER_KG_M3,
    Start,
    drag_coefficient,
    jet_speed_m_s,
    landings,
    wind_at_m_s,
)


@pytest.mark.parametrize(
    ("reynolds", "coefficient"),
    [
        (1, 34.4967),
        (10, 4.497),
        (100, 1.203),
        (200, 0.80988),
        (1000, 0.4766),
        (1440, 0.430075),
        (1441, 0.45),
        (5000, 0.45),
    ],
)
def test_drag_by_hand(reynolds: float, coefficient: float) -> None:
    """The three pieces after Fukui et al. 1980, worked by hand."""
    assert float(drag_coefficient(reynolds)) == pytest.approx(coefficient, abs=1e-4)


def test_the_pieces_of_drag_nearly_meet() -> None:
    """As printed they leave steps of 3 % at 128 and 5 % at 1,440, no more."""
    for seam in (128.0, 1440.0):
        below, above = drag_coefficient([seam, seam * 1.0001])
        assert above == pytest.approx(below, rel=0.05)


def test_no_speed_no_drag_coefficient() -> None:
    assert np.isnan(drag_coefficient([0, -1, math.nan])).all()
    assert drag_coefficient(np.array([[5, 500]])).shape == (1, 2)


@pytest.mark.parametrize(
    ("diameter_mm", "speed_m_s"), [(0.5, 2.06), (1.0, 4.03), (2.0, 6.49), (3.0, 8.06)]
)
def test_terminal_fall_of_drops(diameter_mm: float, speed_m_s: float) -> None:
    """Gunn and Kinzer 1949, still air (values from memory): drag and weight balance within 8 %."""
    reynolds = speed_m_s * diameter_mm / 1000 / AIR_VISCOSITY_M2_S
    drag = 0.75 * AIR_KG_M3 / WATER_KG_M3 / (diameter_mm / 1000) * float(drag_coefficient(reynolds))
    balance = math.sqrt(GRAVITY_M_S2 * (1 - AIR_KG_M3 / WATER_KG_M3) / drag)
    assert balance == pytest.approx(speed_m_s, rel=0.08)


def test_a_huge_drop_flies_as_a_stone() -> None:
    """Without much drag v² sin(2α)/g from the ground: 10 m/s at 25° goes 7.81 m, in 0.862 s."""
    found = landings(Start(5000.0, 10.0, 25.0, 0.0, 0.0))
    assert float(found.downwind_m) == pytest.approx(
        100 * math.sin(math.radians(50)) / 9.81, rel=5e-3
    )
    assert float(found.flight_s) == pytest.approx(20 * math.sin(math.radians(25)) / 9.81, rel=5e-3)
    assert float(found.across_m) == 0


@pytest.mark.parametrize("diameter_mm", [0.3, 1.0, 2.5, 6.0])
@pytest.mark.parametrize(("wind", "towards"), [(0.0, 0.0), (4.0, 0.0), (6.0, 75.0), (3.0, 180.0)])
def test_flights_against_another_solver(diameter_mm: float, wind: float, towards: float) -> None:
    """SciPy's adaptive solver on equations written anew; landing within 2 cm."""
    diameter, turn = diameter_mm / 1000, math.radians(towards)

    def change(_time: float, state: np.ndarray) -> np.ndarray:
        speed = state[3:].copy()
        speed[0] -= wind_at_m_s(wind, 2.0, state[2])
        size = math.sqrt(float(speed @ speed))
        coefficient = float(drag_coefficient(size * diameter / AIR_VISCOSITY_M2_S))
        area, mass = math.pi * diameter**2 / 4, WATER_KG_M3 * math.pi * diameter**3 / 6
        force = -0.5 * AIR_KG_M3 * coefficient * area * size * speed
        force[2] -= mass * GRAVITY_M_S2 * (1 - AIR_KG_M3 / WATER_KG_M3)
        return np.concatenate([state[3:], force / mass])

    def ground(_time: float, state: np.ndarray) -> float:
        return float(state[2])

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    level = 25 * math.cos(math.radians(25))
    start = [
        0,
        0,
        0.1,
        level * math.cos(turn),
        level * math.sin(turn),
        25 * math.sin(math.radians(25)),
    ]
    other = solve_ivp(change, (0, 20), start, events=ground, rtol=1e-7, atol=1e-9, method="LSODA")
    place = other.y_events[0][0]
    found = landings(Start(diameter_mm, 25.0, 25.0, 0.1, towards), wind)
    assert float(found.downwind_m) == pytest.approx(place[0], abs=0.02)
    assert float(found.across_m) == pytest.approx(place[1], abs=0.02)
    assert float(found.flight_s) == pytest.approx(other.t_events[0][0], abs=0.02)


def test_bigger_drops_fly_farther_and_drift_less_for_their_distance() -> None:
    diameter = np.geomspace(0.2, 7, 15)
    still = landings(Start(diameter, 29.0, 25.0, 0.1, 0.0))
    assert (np.diff(still.downwind_m) > 0).all()
    assert 18 < still.downwind_m[-1] < 26  # a big rotor at 450 kPa throws some 20 m
    side = landings(Start(diameter, 29.0, 25.0, 0.1, 90.0), 4.0)
    assert (np.diff(side.downwind_m / still.downwind_m) < 0).all()


def test_left_and_right_of_the_wind_are_alike() -> None:
    right = landings(Start(2.0, 25.0, 25.0, 0.1, 50.0), 5.0)
    left = landings(Start(2.0, 25.0, 25.0, 0.1, -50.0), 5.0)
    assert right.downwind_m == pytest.approx(left.downwind_m)
    assert right.across_m == pytest.approx(-left.across_m)


def test_what_never_lands_is_no_number() -> None:
    """Too fine for the steps, too high for the time, or missing; the sound one beside them is."""
    found = landings(Start([0.005, 0.1, 2.0], 30.0, 60.0, [2.0, 12.0, 2.0], 0.0))
    assert np.isnan(found.downwind_m).tolist() == [True, True, False]
    assert np.isnan(landings(Start(math.nan, 30.0, 25.0, 0.1, 0.0)).downwind_m)


def test_wind_over_grass_by_hand() -> None:
    """Grass of 3 cm: d 2 cm, z0 3.69 mm; at 10 m ln(9.98/.00369)/ln(1.98/.00369) = 1.2574."""
    assert float(wind_at_m_s(4.0, 2.0, 10.0)) == pytest.approx(4 * 1.2574, abs=5e-4)
    assert float(wind_at_m_s(4.0, 2.0, 2.0)) == pytest.approx(4.0)
    assert float(wind_at_m_s(4.0, 2.0, 0.02)) == 0
    assert math.isnan(float(wind_at_m_s(4.0, 0.02, 1.0)))


def test_speed_of_the_jet() -> None:
    """√(2·400,000/998.2) is 28.31 m/s; 0.97 of it 27.46."""
    assert float(jet_speed_m_s(400)) == pytest.approx(27.46, abs=0.005)
    assert np.isnan(jet_speed_m_s([-1, math.nan])).all()
