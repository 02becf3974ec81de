"""Which heads wet a spot, and how much each gives: a triangular profile around every head."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray

from nightwater.ground.record import Ground
from nightwater.spray.flow import head_flow_l_s, head_radius_m
from nightwater.spray.rate import FULL_CIRCLE_DEG
from nightwater.units import SECONDS_PER_HOUR

COLUMNS: Final = ("id", "distance_m", "rate_mm_h")
_EDGE_DEG: Final = 1e-9  # so that a spot on the edge of a sector is wet in spite of rounding


def triangular_rate_mm_h(
    flow_l_s: ArrayLike,
    radius_m: ArrayLike,
    distance_m: ArrayLike,
    arc_deg: ArrayLike = FULL_CIRCLE_DEG,
) -> NDArray[np.float64]:
    """Rate of one head at a distance, falling evenly from the head to nothing at its throw.

    P(r) = P0 · (1 − r/R) with P0 = 6 q / (a · R²), a the arc in radians: the volume of a
    cone's sector of angle a, radius R and height P0 is a · R² · P0 / 6, and that must be the
    flow q. Real profiles differ; wind and slope are left out. Losses are not taken off.

    Args:
        flow_l_s: flow of the head [L/s], any shape.
        radius_m: throw R [m].
        distance_m: from the head, within its sector [m].
        arc_deg: sector that it wets, 360 for a full circle. All four broadcast.

    Returns:
        Rate [mm/h], 0 from the throw outwards. NaN in, NaN out; a negative flow or distance,
        a throw of zero or less, or an arc outside 0 to 360 gives NaN.

    Reference: volume of a circular cone, πR²h/3, and its sector's share a/2π.
    """
    flow, radius, distance, arc = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (flow_l_s, radius_m, distance_m, arc_deg))
    )
    sound = (flow >= 0) & (radius > 0) & (distance >= 0) & (arc > 0) & (arc <= FULL_CIRCLE_DEG)
    with np.errstate(divide="ignore", invalid="ignore"):
        peak = 6.0 * flow / (np.radians(arc) * radius**2) * SECONDS_PER_HOUR
        rate = peak * np.clip(1.0 - distance / radius, 0.0, None)
    return np.where(sound, rate, np.nan)


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


def heads_at(ground: Ground, x: float, y: float) -> pd.DataFrame:
    """The heads whose throw reaches a spot, and the rate that each gives there.

    Throw is the nozzle's radius, flow that of `head_flow_l_s`; an arc that is not entered is
    a full circle. Every head counts as running.

    Args:
        ground: the record.
        x, y: the spot, in metres of the record's system.

    Returns:
        Columns id, distance_m and rate_mm_h, the nearest first. The rate is NaN
        where the flow, or the bearing of a part circle, is not known. A head without a place or
        a nozzle is left out, as its reach is unknown; a spot that is NaN gives no rows.
    """
    heads = ground.heads
    points = np.asarray(heads.geometry.to_numpy(), dtype=object)
    east, north = x - shapely.get_x(points), y - shapely.get_y(points)
    distance = np.hypot(east, north)
    radius = head_radius_m(heads, ground.nozzles).to_numpy(dtype=float)
    arc = heads["arc_deg"].fillna(FULL_CIRCLE_DEG).to_numpy(dtype=float)
    bearing = heads["bearing_deg"].to_numpy(dtype=float)
    inside = is_in_sector(np.degrees(np.arctan2(east, north)), arc, bearing)
    inside = np.where(distance == 0, 1.0, inside)  # at the head there is no direction
    flow = head_flow_l_s(heads, ground.nozzles).to_numpy(dtype=float)
    rate = triangular_rate_mm_h(flow, radius, distance, arc)
    found = pd.DataFrame(
        {
            "id": heads.index.astype(object),
            "distance_m": distance,
            "rate_mm_h": np.where(np.isnan(inside), np.nan, rate),
        },
        columns=list(COLUMNS),
    )
    reached = (distance < radius) & (inside != 0)
    order = np.argsort(distance[reached], kind="stable")
    near: pd.DataFrame = found.loc[reached].iloc[order].reset_index(drop=True)
    return near
