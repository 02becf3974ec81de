"""From a moisture reading to water in the root zone, days that it lasts, and water by hand."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

_L_PER_M3 = 1000.0


def moisture_store_mm(
    root_depth_mm: ArrayLike, moisture_pct: ArrayLike, down_to_pct: ArrayLike
) -> NDArray[np.float64]:
    """Water in the root zone between two moistures, taken as even over its depth.

    Args:
        root_depth_mm: depth of roots that counts [mm], any shape.
        moisture_pct: volumetric water content now [%].
        down_to_pct: content at wilting, or at which to water [%]. All three broadcast.

    Returns:
        Depth of water [mm]; negative where it is drier than `down_to_pct`. NaN in, NaN out; a
        root depth of zero or less gives NaN.

    Reference: definition of volumetric water content.
    """
    roots, now, below = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (root_depth_mm, moisture_pct, down_to_pct))
    )
    return np.where(roots > 0, roots * (now - below) / 100.0, np.nan)


def days_of_water(store_mm: ArrayLike, etc_mm: ArrayLike) -> NDArray[np.float64]:
    """Days until a store is used up at a steady turf ET, without rain.

    Args:
        store_mm: water above the trigger [mm], any shape.
        etc_mm: turf ET a day [mm]. The two broadcast.

    Returns:
        Days; 0 where the store is empty, infinite where turf uses nothing. NaN in, NaN out;
        a negative ET gives NaN.

    Reference: water balance.
    """
    store, etc = np.broadcast_arrays(
        np.asarray(store_mm, dtype=float), np.asarray(etc_mm, dtype=float)
    )
    full = np.maximum(store, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.where(full == 0, 0.0 * etc, full / etc)
    return np.where(etc >= 0, days, np.nan)


def hand_water_m3(area_m2: ArrayLike, depth_mm: ArrayLike) -> NDArray[np.float64]:
    """Water that lays a depth on an area, as a hose meter counts it.

    Args:
        area_m2: ground [m²], any shape.
        depth_mm: depth [mm]. The two broadcast.

    Returns:
        Volume [m³]. NaN in, NaN out; a negative area or depth gives NaN.

    Reference: 1 mm on 1 m² is 1 L. In US units: 0.623 gallons a square foot and inch.
    """
    area, depth = np.broadcast_arrays(
        np.asarray(area_m2, dtype=float), np.asarray(depth_mm, dtype=float)
    )
    return np.where((area >= 0) & (depth >= 0), area * depth / _L_PER_M3, np.nan)
