"""Which heads wet a spot, and how much each gives there."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.ground.record import Ground
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.patches import lean_stretch
from nightwater.spray.profile import NODES
from nightwater.spray.rate import FULL_CIRCLE_DEG
from nightwater.units import SECONDS_PER_HOUR

COLUMNS: Final = ("id", "distance_m", "rate_mm_h")
_EDGE_DEG: Final = 1e-9  # so that a spot on the edge of a sector is wet in spite of rounding


def is_in_sector(
    towards_deg: ArrayLike, arc_deg: ArrayLike, bearing_deg: ArrayLike
) -> NDArray[np.float64]:
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


def rates_at_mm_h(patterns: HeadPatterns, x_m: float, y_m: float) -> NDArray[np.float64]:
    """Rate of every head at a spot, in still air, by its own pattern.

    P = q · f(r/T) / T² · 360/arc within the sector, f being the head's profile and T its throw
    towards the spot; the matrix lays the same on cells.

    Args:
        patterns: the heads.
        x_m, y_m: the spot, in the record's system.

    Returns:
        Rate [mm/h], one a head; 0 out of reach, NaN for a spot that is NaN.
    """
    east, north = x_m - patterns.x_m, y_m - patterns.y_m
    distance, towards = np.hypot(east, north), np.degrees(np.arctan2(east, north))
    across = np.cos(np.radians(towards - patterns.tilt_towards_deg))
    stretch = lean_stretch(patterns.trajectory_deg, patterns.tilt_deg, across)
    throw = patterns.radius_m * np.where(patterns.tilt_deg > 0, stretch, 1.0)
    inside = is_in_sector(towards, patterns.arc_deg, patterns.bearing_deg)
    inside = np.where(distance == 0, 1.0, inside)  # at the head there is no direction
    density = np.zeros(len(patterns))
    for place, profile in enumerate(patterns.profiles):
        mine = patterns.profile == place
        share = distance[mine] / throw[mine]
        density[mine] = np.interp(share, np.linspace(0, 1, NODES), profile.density)
    wet = inside * (distance < throw) / throw**2 * FULL_CIRCLE_DEG / patterns.arc_deg
    return np.asarray(patterns.flow_l_s * density * wet * SECONDS_PER_HOUR, dtype=float)


def _aimed(ground: Ground) -> tuple[Ground, NDArray[np.bool_]]:
    """The ground with any bearing for part circles that have none, and which those are."""
    heads = ground.heads.copy()
    aimless = (heads["arc_deg"].fillna(FULL_CIRCLE_DEG) < FULL_CIRCLE_DEG) & heads[
        "bearing_deg"
    ].isna()
    whole = heads["arc_deg"].where(~aimless, FULL_CIRCLE_DEG)
    return ground.with_table("heads", heads.assign(arc_deg=whole)), aimless.to_numpy(dtype=bool)


def heads_at(ground: Ground, x: float, y: float) -> pd.DataFrame:
    """The heads whose water reaches a spot, and the rate that each gives there.

    By the heads' real patterns, as the wetting matrix has them (`head_patterns`), in still
    air. Every head counts as running.

    Args:
        ground: the record.
        x, y: the spot, in metres of the record's system.

    Returns:
        Columns id, distance_m and rate_mm_h, the nearest first. The rate is NaN
        where the bearing of a part circle is not known. A head whose pattern is not known is
        left out, as its reach is unknown; a spot that is NaN gives no rows.
    """
    aimed, aimless = _aimed(ground)
    patterns, _ = head_patterns(aimed)
    unaimed = np.isin(patterns.ids, ground.heads.index.to_numpy()[aimless])
    rate = rates_at_mm_h(patterns, x, y)
    distance = np.hypot(x - patterns.x_m, y - patterns.y_m)
    found = pd.DataFrame(
        {
            "id": patterns.ids,
            "distance_m": distance,
            "rate_mm_h": np.where(unaimed, np.nan, rate),
        },
        columns=list(COLUMNS),
    )
    reached = rate > 0
    order = np.argsort(distance[reached], kind="stable")
    near: pd.DataFrame = found.loc[reached].iloc[order].reset_index(drop=True)
    return near
