"""Flight of single drops from a nozzle to the ground, in still air and in wind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

GRAVITY_M_S2: Final = 9.81
WATER_KG_M3: Final = 998.2  # at 20 °C, as the three below
AIR_KG_M3: Final = 1.204
AIR_VISCOSITY_M2_S: Final = 1.51e-5
NOZZLE_COEFFICIENT: Final = 0.97  # of straight bores in print, see flow.py
TURF_HEIGHT_M: Final = 0.03  # mown grass
LEAST_DROP_MM: Final = 0.2
GREATEST_DROP_MM: Final = 7.0  # bigger drops break up
_LONGEST_FLIGHT_S: Final = 20.0
_FIRST_STEP_S, _LAST_STEP_S = 0.001, 0.02  # small drops are braked within hundredths of a second
_GROWTH: Final = 1.03
_FINEST_DROP_MM: Final = 0.1  # finer ones are braked within the first step

Numbers = NDArray[np.float64]


def drag_coefficient(reynolds: ArrayLike) -> Numbers:
    """Drag coefficient of a sprinkler's drop against its Reynolds number.

    33.3/Re − 0.0033 Re + 1.2 up to 128; 72.2/Re − 0.0000556 Re + 0.46 up to 1,440; 0.45 above.

    Args:
        reynolds: over 0, any shape.

    Returns:
        Coefficient; NaN for 0 or less and for NaN.

    Reference: Fukui, Nakanishi and Okamura 1980, as the ballistic models of Carrión et al.
    2001 and later use it; numbers checked against the public source of such a model.
    """
    number = np.asarray(reynolds, dtype=float)
    number = np.where(number > 0, number, np.nan)
    slow = 33.3 / number - 0.0033 * number + 1.2
    middle = 72.2 / number - 0.0000556 * number + 0.46
    fast = np.where(np.isnan(number), np.nan, 0.45)
    return np.asarray(
        np.where(number <= 128, slow, np.where(number <= 1440, middle, fast)), dtype=float
    )


def wind_at_m_s(
    speed_m_s: ArrayLike, measured_m: ArrayLike, height_m: ArrayLike, turf_m: float = TURF_HEIGHT_M
) -> Numbers:
    """Wind at a height over turf from the wind measured at another, by the logarithmic law.

    u = u_m · ln((z − d)/z0) / ln((z_m − d)/z0), d = 2/3 and z0 = 0.123 of the grass's height;
    calm within the grass.

    Args:
        speed_m_s: wind measured [m/s], any shape.
        measured_m: height of the gauge over the ground [m].
        height_m: height asked for [m]. All three broadcast.
        turf_m: height of the grass [m].

    Returns:
        Wind [m/s]; NaN for a gauge within the grass.

    Reference: FAO Irrigation and Drainage Paper 56, d and z0 of its equation 4 (from memory).
    """
    speed, gauge, height = np.broadcast_arrays(speed_m_s, measured_m, height_m)
    lift, rough = 2.0 / 3.0 * turf_m, 0.123 * turf_m
    gauge = np.where(gauge - lift > rough, gauge, np.nan)
    above = np.maximum(height - lift, rough)
    return np.asarray(speed * np.log(above / rough) / np.log((gauge - lift) / rough), dtype=float)


def jet_speed_m_s(pressure_kpa: ArrayLike, coefficient: float = NOZZLE_COEFFICIENT) -> Numbers:
    """Speed at which water leaves a nozzle, C · √(2p/ρ) [m/s]; NaN for a negative pressure."""
    pressure = np.asarray(pressure_kpa, dtype=float)
    pressure = np.where(pressure >= 0, pressure, np.nan)
    return np.asarray(coefficient * np.sqrt(2000.0 * pressure / WATER_KG_M3), dtype=float)


@dataclass(frozen=True)
class Landing:
    """Where drops land, in metres from the nozzle's foot; NaN for those still in the air.

    Attributes:
        downwind_m: along the wind.
        across_m: to the right of it.
        flight_s: time in the air.
    """

    downwind_m: Numbers
    across_m: Numbers
    flight_s: Numbers


@dataclass(frozen=True)
class Start:
    """How drops leave: arrays that broadcast.

    Attributes:
        diameter_mm: of the drops.
        speed_m_s: of the jet.
        trajectory_deg: angle over level ground.
        height_m: of the nozzle over ground.
        towards_deg: direction of the jet, clockwise from where the wind blows to.
    """

    diameter_mm: Any
    speed_m_s: Any
    trajectory_deg: Any
    height_m: Any
    towards_deg: Any


def _acceleration(velocity: Numbers, height: Numbers, pull: Numbers, wind: Any) -> Numbers:
    """dv/dt [m/s²] of drops; `pull` is 3/4 · ρ_air/ρ_water / D, shape like one component."""
    speed, gauge, diameter = wind
    relative = velocity.copy()
    relative[0] -= wind_at_m_s(speed, gauge, height)
    size = np.maximum(np.sqrt((relative**2).sum(axis=0)), 1e-9)
    drag = pull * drag_coefficient(size * diameter / AIR_VISCOSITY_M2_S) * size
    change: Numbers = -drag * relative
    change[2] -= GRAVITY_M_S2 * (1.0 - AIR_KG_M3 / WATER_KG_M3)
    return change


def _stepped(place: Numbers, velocity: Numbers, step_s: float, pull: Numbers, wind: Any) -> Any:
    """One Runge-Kutta step of fourth order."""
    first = _acceleration(velocity, place[2], pull, wind)
    speed_2 = velocity + step_s / 2 * first
    second = _acceleration(speed_2, place[2] + step_s / 2 * velocity[2], pull, wind)
    speed_3 = velocity + step_s / 2 * second
    third = _acceleration(speed_3, place[2] + step_s / 2 * speed_2[2], pull, wind)
    speed_4 = velocity + step_s * third
    fourth = _acceleration(speed_4, place[2] + step_s * speed_3[2], pull, wind)
    moved = place + step_s / 6 * (velocity + 2 * speed_2 + 2 * speed_3 + speed_4)
    return moved, velocity + step_s / 6 * (first + 2 * second + 2 * third + fourth)


def landings(start: Start, wind_m_s: float = 0.0, gauge_m: float = 2.0) -> Landing:
    """Fly drops until they land.

    Drops are spheres that neither merge, break nor shrink; they leave the jet at once. The
    wind is level and steady, logarithmic over short grass.

    Args:
        start: how the drops leave; any shape.
        wind_m_s: wind at the gauge [m/s].
        gauge_m: the gauge's height [m].

    Returns:
        Landing places in the broadcast shape; NaN where a drop flies longer than 20 s, is
        finer than 0.1 mm or is NaN.

    Reference: equations of motion as in Carrión, Tarjuelo and Montero 2001 (from memory), with
    their two corrections for wind left at 0; drag by `drag_coefficient`.
    """
    shape = np.broadcast_shapes(*(np.shape(value) for value in vars(start).values()))
    diameter, speed, trajectory, height, towards = (
        np.broadcast_to(np.asarray(value, dtype=float), shape).ravel()
        for value in vars(start).values()
    )
    diameter = np.where(diameter >= _FINEST_DROP_MM, diameter, np.nan) / 1000.0
    angle, turn = np.radians(trajectory), np.radians(towards)
    level = speed * np.cos(angle)
    velocity = np.stack([level * np.cos(turn), level * np.sin(turn), speed * np.sin(angle)])
    place = np.stack([np.zeros_like(height), np.zeros_like(height), height])
    pull = 0.75 * AIR_KG_M3 / WATER_KG_M3 / diameter
    found = np.full((3, diameter.size), np.nan)
    flying, clock, step = np.arange(diameter.size), 0.0, _FIRST_STEP_S
    while flying.size and clock < _LONGEST_FLIGHT_S:
        wind = (wind_m_s, gauge_m, diameter[flying])
        after, velocity = _stepped(place, velocity, step, pull[flying], wind)
        down = after[2] <= 0
        part = place[2, down] / (place[2, down] - after[2, down])
        found[:2, flying[down]] = place[:2, down] + part * (after[:2, down] - place[:2, down])
        found[2, flying[down]] = clock + part * step
        place, velocity, flying = after[:, ~down], velocity[:, ~down], flying[~down]
        clock, step = clock + step, min(step * _GROWTH, _LAST_STEP_S)
    return Landing(*(values.reshape(shape) for values in found))
