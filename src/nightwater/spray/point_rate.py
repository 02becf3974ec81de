"""How fast each head wets single spots, such as cans: its pattern taken at a point."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.profile import NODES
from nightwater.spray.rate import FULL_CIRCLE_DEG
from nightwater.units import SECONDS_PER_HOUR

_RAYS: Final = 72  # directions in which a leaning head's sector is measured
_LEAST_STRETCH: Final = 0.2  # the bounds of the wetting matrix
_MOST_STRETCH: Final = 1.8
_EDGE_DEG: Final = 1e-9

Numbers = NDArray[np.float64]


def _stretch(patterns: HeadPatterns, towards_deg: Numbers) -> Numbers:
    """Throw towards directions over that of an upright head, shape (directions, heads)."""
    slope = 2.0 / np.tan(np.radians(2.0 * patterns.trajectory_deg))
    lean = np.radians(patterns.tilt_deg)
    off = np.radians(towards_deg - patterns.tilt_towards_deg)
    return np.asarray(np.clip(1.0 - slope * lean * np.cos(off), _LEAST_STRETCH, _MOST_STRETCH))


def _sector_share(patterns: HeadPatterns) -> Numbers:
    """Ground in each head's sector over a whole circle of its upright throw."""
    rays = (np.arange(_RAYS) + 0.5) / _RAYS - 0.5
    towards = patterns.bearing_deg + rays[:, None] * patterns.arc_deg
    mean_square = (_stretch(patterns, towards) ** 2).mean(axis=0)
    return np.asarray(patterns.arc_deg / FULL_CIRCLE_DEG * mean_square)


def _density(patterns: HeadPatterns, share: Numbers) -> Numbers:
    """Profile density at shares of the throw; 0 from the throw outwards."""
    table = np.stack([profile.density for profile in patterns.profiles])
    place = np.clip(np.nan_to_num(share), 0.0, 1.0) * (NODES - 1)
    below = np.minimum(place.astype(np.int64), NODES - 2)
    low = table[patterns.profile, below]
    high = table[patterns.profile, below + 1]
    return np.where(share < 1.0, low + (place - below) * (high - low), 0.0)


def point_rate_mm_h(patterns: HeadPatterns, x_m: Numbers, y_m: Numbers) -> Numbers:
    """Rate that each head gives at each spot, in still air.

    The same pattern that `matrix.wetting_matrix` lays on cells, taken at a point: a can is far
    smaller than a cell. A head's whole flow lands within its sector.

    Args:
        patterns: the heads.
        x_m, y_m: the spots, shape (spots,).

    Returns:
        Rates [mm/h], shape (spots, heads); NaN where a spot is NaN.

    Reference: ∫ rate dA = flow over the sector; see `profile.Profile` for the profile and
    `matrix._stretch` for what a lean does.
    """
    east = np.asarray(x_m, dtype=float)[:, None] - patterns.x_m
    north = np.asarray(y_m, dtype=float)[:, None] - patterns.y_m
    away = np.hypot(east, north)
    towards = np.degrees(np.arctan2(east, north))
    throw = patterns.radius_m * _stretch(patterns, towards)
    off = np.abs((towards - patterns.bearing_deg + 180.0) % FULL_CIRCLE_DEG - 180.0)
    inside = (off <= patterns.arc_deg / 2.0 + _EDGE_DEG) | (away == 0)
    ground_m2 = patterns.radius_m**2 * _sector_share(patterns)
    rate = patterns.flow_l_s / ground_m2 * _density(patterns, away / throw) * SECONDS_PER_HOUR
    return np.where(np.isnan(away), np.nan, np.where(inside, rate, 0.0))
