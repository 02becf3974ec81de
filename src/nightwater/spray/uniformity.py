"""How evenly water falls, and what unevenness costs in run time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError


def _sorted_depths(depths: ArrayLike) -> NDArray[np.float64]:
    values = np.sort(np.asarray(depths, dtype=float).ravel())
    sound = values.size > 0 and bool(np.isfinite(values).all()) and values.min() >= 0
    return values if sound and values.sum() > 0 else np.full(1, np.nan)


def low_fraction_uniformity(depths: ArrayLike, fraction: float) -> float:
    """Mean of the lowest part of the depths over the mean of all.

    Where the part is no whole number of cans, the last one counts by its share, so that
    the figure does not jump as a can is added.

    Args:
        depths: caught depths or volumes, any unit and shape.
        fraction: share of the ground that is called low, 0 to 1.

    Returns:
        Uniformity, 0 to 1; NaN for no depths, a missing or negative one, or all zero.

    Reference: distribution uniformity as defined by the US Soil Conservation Service and the
    Irrigation Association (definition from memory).
    """
    values = _sorted_depths(depths)
    count = fraction * values.size
    whole = int(np.floor(count + 1e-9))
    low = values[:whole].sum()
    if whole < values.size:
        low += (count - whole) * values[whole]
    return float(low / count / values.mean())


def du_lq(depths: ArrayLike) -> float:
    """Low-quarter distribution uniformity; see `low_fraction_uniformity`."""
    return low_fraction_uniformity(depths, 0.25)


def du_lh(depths: ArrayLike) -> float:
    """Low-half distribution uniformity; see `low_fraction_uniformity`."""
    return low_fraction_uniformity(depths, 0.5)


def christiansen_cu(depths: ArrayLike) -> float:
    """Christiansen's coefficient, 1 − Σ|x − mean| / Σx.

    Args:
        depths: caught depths or volumes, any unit and shape.

    Returns:
        Coefficient, at most 1; NaN for no depths, a missing or negative one, or all zero.

    Reference: Christiansen 1942, California Agric. Exp. Station Bulletin 670.
    """
    values = _sorted_depths(depths)
    return float(1 - np.abs(values - values.mean()).sum() / values.sum())


Numbers = NDArray[np.float64]


def _standard(du: Numbers, _efficiency: Numbers) -> Numbers:
    return 1 / (0.4 + 0.6 * du)


def _inverse_du(du: Numbers, _efficiency: Numbers) -> Numbers:
    return 1 / du


def _by_efficiency(_du: Numbers, efficiency: Numbers) -> Numbers:
    return 1 / efficiency


def _none(du: Numbers, _efficiency: Numbers) -> Numbers:
    return np.ones_like(du)


MULTIPLIERS: Final[Mapping[str, Callable[[Numbers, Numbers], Numbers]]] = {
    "du_lq": _standard,
    "inverse_du": _inverse_du,
    "efficiency": _by_efficiency,
    "none": _none,
}
MULTIPLIER_WORDS: Final[Mapping[str, str]] = {
    "du_lq": "1 / (0.4 + 0.6 · DUlq)",
    "inverse_du": "1 / DUlq",
    "efficiency": "1 / efficiency",
    "none": "1 (unevenness not made up for)",
}


def run_time_multiplier(name: str, du: ArrayLike, efficiency: ArrayLike) -> NDArray[np.float64]:
    """Gross over net run time, by a named rule.

    Args:
        name: "du_lq" 1/(0.4 + 0.6·DUlq), the usual one; "inverse_du" 1/DUlq, older and
            wetter; "efficiency" 1/efficiency; "none" 1.
        du: low-quarter uniformity, 0 to 1, any shape.
        efficiency: application efficiency, 0 to 1. The two broadcast.

    Returns:
        Multiplier. NaN in, NaN out; a value outside 0 to 1 has no meaning and gives NaN.

    Raises:
        UserError: no rule of that name.

    Reference: the first form is the Irrigation Association's (from memory).
    """
    if name not in MULTIPLIERS:
        raise UserError(
            f"There is no run-time multiplier '{name}'. Known: {', '.join(MULTIPLIERS)}."
        )
    uniformity, share = np.broadcast_arrays(
        np.asarray(du, dtype=float), np.asarray(efficiency, dtype=float)
    )
    in_range = [np.where((part > 0) & (part <= 1), part, np.nan) for part in (uniformity, share)]
    return np.asarray(MULTIPLIERS[name](in_range[0], in_range[1]), dtype=float)
