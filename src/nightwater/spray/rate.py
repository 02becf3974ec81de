"""Precipitation rate: flow spread over the ground that a head answers for."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.units import SECONDS_PER_HOUR

FULL_CIRCLE_DEG = 360.0


def wetted_area_m2(
    spacing_m: ArrayLike, row_m: ArrayLike, arc_deg: ArrayLike = FULL_CIRCLE_DEG
) -> NDArray[np.float64]:
    """Ground that one head of a regular grid answers for.

    A full-circle head answers for spacing times row spacing; a part-circle head for its
    sector's share of that, which is why the same nozzle at 180° doubles the rate.

    Args:
        spacing_m: distance between heads along a row [m], any shape.
        row_m: distance between rows [m]; 0.866 times the spacing for an equilateral triangle.
        arc_deg: sector that the head wets, 360 for a full circle. All three broadcast.

    Returns:
        Area [m²] in the broadcast shape. NaN in, NaN out; a spacing of zero or less, or an
        arc outside 0 to 360, has no meaning and gives NaN.

    Reference: water balance on one cell of the grid.
    """
    spacing, row, arc = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (spacing_m, row_m, arc_deg))
    )
    sound = (spacing > 0) & (row > 0) & (arc > 0) & (arc <= FULL_CIRCLE_DEG)
    return np.where(sound, spacing * row * arc / FULL_CIRCLE_DEG, np.nan)


def depth_rate_mm_h(flow_l_s: ArrayLike, area_m2: ArrayLike) -> NDArray[np.float64]:
    """Rate of a flow spread over an area; 1 L on 1 m² is 1 mm deep.

    Args:
        flow_l_s: flow [L/s], any shape.
        area_m2: ground it falls on [m²]. The two broadcast.

    Returns:
        Rate [mm/h]. NaN in, NaN out; a negative flow, or an area of zero or less, gives NaN.

    Reference: water balance.
    """
    flow, area = np.broadcast_arrays(
        np.asarray(flow_l_s, dtype=float), np.asarray(area_m2, dtype=float)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = flow / area * SECONDS_PER_HOUR
    return np.where((flow >= 0) & (area > 0), rate, np.nan)


def precipitation_rate_mm_h(
    flow_l_s: ArrayLike,
    spacing_m: ArrayLike,
    row_m: ArrayLike,
    arc_deg: ArrayLike = FULL_CIRCLE_DEG,
) -> NDArray[np.float64]:
    """Gross precipitation rate of overlapping heads on a regular grid.

    The flow of one head spread over the ground that it alone answers for. Losses are not
    taken off.

    Args:
        flow_l_s: flow of one head [L/s], any shape.
        spacing_m, row_m, arc_deg: as for `wetted_area_m2`. All four broadcast.

    Returns:
        Rate [mm/h], in the broadcast shape. NaN in, NaN out; input without meaning gives NaN.

    Reference: water balance on one cell. In US units the same balance has the constant
    96.25 (in/h from gpm and ft²); see the test.
    """
    return depth_rate_mm_h(flow_l_s, wetted_area_m2(spacing_m, row_m, arc_deg))
