"""Solar radiation of a day on a slope, over that on level ground."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightwater.weather.air import Numbers, numbers
from nightwater.weather.radiation import ALBEDO, declination_rad, sunset_angle_rad

BEAM_SHARE: Final = 0.7  # of a fair day's radiation that comes straight from the sun; own choice
_STEPS: Final = 481  # hour angles from sunrise to sunset
_MOST: Final = 5.0  # a low winter sun would make the ratio endless


def beam_ratio(
    latitude_deg: float, day_of_year: int, slope_rad: ArrayLike, aspect_rad: ArrayLike
) -> Numbers:
    """Radiation from the sun's disc on a slope over that on level ground, of a whole day.

    The sun stands over the slope's own plane and over the horizon; hills around are left out.

    Args:
        latitude_deg: north positive.
        day_of_year: 1 … 366.
        slope_rad: of the ground, from 0.
        aspect_rad: where it falls to, clockwise from north. The two broadcast.

    Returns:
        The ratio, in their shape, at most 5; 1 where the sun does not rise.

    Reference: cos θ of Duffie and Beckman, Solar Engineering of Thermal Processes, equation
        1.6.2, summed over the day (cited from memory).
    """
    slope, aspect = np.broadcast_arrays(numbers(slope_rad), numbers(aspect_rad))
    latitude, declination = np.radians(latitude_deg), float(declination_rad(day_of_year))
    sunset = float(sunset_angle_rad(latitude_deg, day_of_year))
    if sunset <= 0:
        return np.ones(slope.shape)
    angle = np.linspace(-sunset, sunset, _STEPS)
    east = -np.cos(declination) * np.sin(angle)
    north = np.sin(declination) * np.cos(latitude)
    north = north - np.cos(declination) * np.sin(latitude) * np.cos(angle)
    up = np.sin(declination) * np.sin(latitude)
    up = np.maximum(up + np.cos(declination) * np.cos(latitude) * np.cos(angle), 0.0)
    normal = np.sin(slope) * np.sin(aspect), np.sin(slope) * np.cos(aspect), np.cos(slope)
    total = np.zeros(slope.shape)
    for place in range(_STEPS):
        on = normal[0] * east[place] + normal[1] * north[place] + normal[2] * up[place]
        total += np.where(up[place] > 0, np.maximum(on, 0.0), 0.0) * (
            0.5 if place in (0, _STEPS - 1) else 1.0
        )
    level = float(up.sum() - 0.5 * (up[0] + up[-1]))
    return np.minimum(total / level, _MOST) if level > 0 else np.ones(slope.shape)


def radiation_ratio(
    latitude_deg: float,
    day_of_year: int,
    slope_rad: ArrayLike,
    aspect_rad: ArrayLike,
    beam_share: float = BEAM_SHARE,
) -> Numbers:
    """Solar radiation of a day on a slope over that on level ground: sun, sky and ground.

    Args:
        latitude_deg, day_of_year, slope_rad, aspect_rad: see `beam_ratio`.
        beam_share: how much of the level ground's radiation comes straight from the sun.

    Returns:
        The ratio in the shape of slope and aspect; 1 on level ground.

    Reference: isotropic sky, Liu and Jordan (1963), Solar Energy 7, 53-74 (cited from memory):
        beam × ratio + diffuse × (1 + cos slope) / 2 + all × albedo × (1 − cos slope) / 2.
    """
    beam = beam_ratio(latitude_deg, day_of_year, slope_rad, aspect_rad)
    tilt = np.cos(numbers(slope_rad))
    return numbers(beam_share * beam + (1 - beam_share) * (1 + tilt) / 2 + ALBEDO * (1 - tilt) / 2)
