"""Water beyond the turf's use that keeps salt from building up in the root zone."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def leaching_requirement(water_ds_m: ArrayLike, soil_ds_m: ArrayLike) -> NDArray[np.float64]:
    """Share of applied water that must pass the roots, LR = ECw / (5 ECe − ECw).

    Args:
        water_ds_m: salinity of the irrigation water, ECw [dS/m], any shape.
        soil_ds_m: mean salinity that the turf bears, of the saturation extract, ECe [dS/m].
            The two broadcast.

    Returns:
        Share, 0 to under 1. NaN in, NaN out; NaN too for a negative ECw, an ECe of zero or
        less, or water so salty that no leaching holds the soil there (2 ECw >= 5 ECe).

    Reference: FAO Irrigation and Drainage Paper 29 rev. 1 (Ayers and Westcot 1985), equation 9,
    for surface irrigation and sprinklers (number of the equation from memory).
    """
    water, soil = np.broadcast_arrays(
        np.asarray(water_ds_m, dtype=float), np.asarray(soil_ds_m, dtype=float)
    )
    sound = (water >= 0) & (soil > 0) & (2 * water < 5 * soil)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = water / (5 * soil - water)
    return np.where(sound, share, np.nan)


def depth_with_leaching_mm(depth_mm: ArrayLike, requirement: ArrayLike) -> NDArray[np.float64]:
    """Net depth that leaves `depth_mm` in the root zone, AW = ET / (1 − LR).

    Args:
        depth_mm: water that the turf uses [mm], any shape.
        requirement: share that must pass the roots. The two broadcast.

    Returns:
        Depth [mm]. NaN in, NaN out; a negative depth, or a share outside 0 to under 1, gives NaN.

    Reference: FAO 29 rev. 1, equation 7 (number from memory).
    """
    depth, share = np.broadcast_arrays(
        np.asarray(depth_mm, dtype=float), np.asarray(requirement, dtype=float)
    )
    sound = (depth >= 0) & (share >= 0) & (share < 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        gross = depth / (1 - share)
    return np.where(sound, gross, np.nan)
