"""How fast each head wets single spots, such as cans: its pattern taken at a point."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.patches import lean_stretch
from nightwater.spray.profile import NODES
from nightwater.spray.rate import FULL_CIRCLE_DEG
from nightwater.units import SECONDS_PER_HOUR

_EDGE_DEG: Final = 1e-9  # so that a spot on the edge of a sector is wet in spite of rounding

Numbers = NDArray[np.float64]


def is_in_sector(towards_deg: ArrayLike, arc_deg: ArrayLike, bearing_deg: ArrayLike) -> Numbers:
    """Whether a direction lies in a head's sector, its edges included.

    Args:
        towards_deg: direction from the head, clockwise from north [degrees], any shape.
        arc_deg: sector; 360 or more is every direction.
        bearing_deg: middle of the sector, clockwise from north. All three broadcast.

    Returns:
        1 or 0; NaN where a part circle has no bearing, and where a value is missing.
    """
    towards, arc, bearing = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (towards_deg, arc_deg, bearing_deg))
    )
    off = np.abs((towards - bearing + 180.0) % FULL_CIRCLE_DEG - 180.0)
    inside = np.where(np.isnan(off + arc), np.nan, off <= arc / 2.0 + _EDGE_DEG)
    return np.where(arc >= FULL_CIRCLE_DEG, 1.0, inside)


def _throw_m(patterns: HeadPatterns, towards_deg: Numbers) -> Numbers:
    """Throw towards directions, shape (spots, heads)."""
    across = np.cos(np.radians(towards_deg - patterns.tilt_towards_deg))
    stretch = lean_stretch(patterns.trajectory_deg, patterns.tilt_deg, across)
    return np.asarray(patterns.radius_m * np.where(patterns.tilt_deg > 0, stretch, 1.0))


def _density(patterns: HeadPatterns, share: Numbers) -> Numbers:
    """Profile density at shares of the throw; 0 from the throw outwards."""
    table = np.stack([profile.density for profile in patterns.profiles])
    place = np.clip(np.nan_to_num(share), 0.0, 1.0) * (NODES - 1)
    below = np.minimum(place.astype(np.int64), NODES - 2)
    low = table[patterns.profile, below]
    high = table[patterns.profile, below + 1]
    return np.where(share < 1.0, low + (place - below) * (high - low), 0.0)


def point_rate_mm_h(patterns: HeadPatterns, x_m: ArrayLike, y_m: ArrayLike) -> Numbers:
    """Rate that each head gives at each spot, in still air.

    P = q · f(r/T) / T² · 360/arc within the sector, f being the head's profile and T its throw
    towards the spot; the wetting matrix lays the same on cells.

    Args:
        patterns: the heads.
        x_m, y_m: the spots, in the record's system, shape (spots,).

    Returns:
        Rates [mm/h], shape (spots, heads); 0 out of reach, NaN where a spot is NaN.

    Reference: ∫ rate dA = flow over the sector; see `profile.Profile` for the profile and
    `patches.lean_stretch` for what a lean does.
    """
    east = np.asarray(x_m, dtype=float)[:, None] - patterns.x_m
    north = np.asarray(y_m, dtype=float)[:, None] - patterns.y_m
    away = np.hypot(east, north)
    towards = np.degrees(np.arctan2(east, north))
    throw = _throw_m(patterns, towards)
    inside = is_in_sector(towards, patterns.arc_deg, patterns.bearing_deg)
    inside = np.where(away == 0, 1.0, inside)  # at the head there is no direction
    part = inside / throw**2 * FULL_CIRCLE_DEG / patterns.arc_deg
    rate = patterns.flow_l_s * _density(patterns, away / throw) * part * SECONDS_PER_HOUR
    return np.where(np.isnan(away), np.nan, rate)
