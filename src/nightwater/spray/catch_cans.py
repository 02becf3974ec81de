"""What catch cans say of the rate on the ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.units import MINUTES_PER_HOUR


def catch_rate_mm_h(
    caught_l: ArrayLike, throat_m2: ArrayLike, run_min: ArrayLike
) -> NDArray[np.float64]:
    """Net precipitation rate of what a can caught.

    Unlike the rate from flow and spacing it is without drift and evaporation.

    Args:
        caught_l: volume caught, of one can or the mean of all [L], any shape.
        throat_m2: opening of the can [m²].
        run_min: time the heads ran [min]. All three broadcast.

    Returns:
        Rate [mm/h]. NaN in, NaN out; a negative volume, or an opening or time of zero or
        less, gives NaN.

    Reference: water balance of the can. In US units the same balance has the constant 3.66
    (in/h from mL, in² and min); see the test.
    """
    caught, throat, minutes = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (caught_l, throat_m2, run_min))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = caught / throat / minutes * MINUTES_PER_HOUR
    return np.where((caught >= 0) & (throat > 0) & (minutes > 0), rate, np.nan)
