"""Moisture readings spread over an area by a Gaussian process, with its uncertainty."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from nightwater.soil.readings import AreaReadings

# What is believed of moisture on turf before it is read, common practice, no source.
PATTERN_STD_PCT: Final = 3.0  # between spots of one area, by volume
LENGTH_M: Final = 20.0  # over which spots resemble one another
STD_BOUNDS_PCT: Final = (0.5, 10.0)
LENGTH_BOUNDS_M: Final = (5.0, 100.0)
LEAST_FITTED: Final = 8  # readings from which these two are fitted, by greatest likelihood
_SMOOTHNESS: Final = 1.5  # Matérn: once differentiable
_BLOCK: Final = 20_000  # cells at once

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class MoisturePattern:
    """How one area's readings differ from spot to spot.

    Attributes:
        readings: what it rests on.
        length_m, std_pct: of the pattern, believed or fitted.
        fitted: whether the two were fitted.
        level_pct: how much drier the area as a whole reads than the account.
        level_std_pct: its deviation, without that of field capacity.
    """

    readings: AreaReadings
    length_m: float
    std_pct: float
    fitted: bool
    level_pct: float
    level_std_pct: float
    _process: Any

    def at(self, x_m: Numbers, y_m: Numbers) -> tuple[Numbers, Numbers]:
        """Deviation from the level and its standard deviation [% by volume] at each place.

        Far from every reading the first is 0 and the second `std_pct`.
        """
        places = np.column_stack((x_m, y_m))
        if not len(places):
            return np.empty(0), np.empty(0)
        parts = [
            self._process.predict(places[first : first + _BLOCK], return_std=True)
            for first in range(0, len(places), _BLOCK)
        ]
        mean, std = (np.concatenate(each) for each in zip(*parts, strict=True))
        return np.asarray(mean, dtype=float), np.asarray(std, dtype=float)


def _kernel(std_pct: float, length_m: float, *, free: bool) -> Any:
    variance = tuple(bound**2 for bound in STD_BOUNDS_PCT)
    return ConstantKernel(std_pct**2, variance if free else "fixed") * Matern(
        length_m, LENGTH_BOUNDS_M if free else "fixed", nu=_SMOOTHNESS
    )


def _fitted(kernel: Any, readings: AreaReadings, values: Numbers, *, free: bool) -> Any:
    process = GaussianProcessRegressor(
        kernel, alpha=readings.std_pct**2, optimizer="fmin_l_bfgs_b" if free else None
    )
    with warnings.catch_warnings():
        # A parameter at its bound is the bound at work; the result tells what was taken.
        warnings.simplefilter("ignore", ConvergenceWarning)
        return process.fit(np.column_stack((readings.x_m, readings.y_m)), values)


def _level(process: Any, values: Numbers) -> tuple[float, float]:
    """The mean that spots close together do not pull their way, and its deviation."""
    ones = np.ones(len(values))
    weights = cho_solve((process.L_, True), ones)
    return float(weights @ values / (weights @ ones)), float(1.0 / np.sqrt(weights @ ones))


def moisture_pattern(readings: AreaReadings) -> MoisturePattern:
    """A Gaussian process through one area's readings.

    The level is the generalised least-squares mean, so that ten readings of one dry knoll
    do not speak for the fairway; what differs from it is a process of mean 0 with a Matérn
    3/2 covariance and each reading's own noise (simple kriging of the differences).

    Args:
        readings: at least one.

    Reference: Rasmussen & Williams, Gaussian Processes for Machine Learning (2006), equations
    2.23, 2.24 and 4.17 (from memory); the process is scikit-learn's.
    """
    values, free = readings.drier_pct, len(readings) >= LEAST_FITTED
    first = _fitted(
        _kernel(PATTERN_STD_PCT, LENGTH_M, free=free), readings, values - values.mean(), free=free
    )
    std, length = float(np.sqrt(first.kernel_.k1.constant_value)), first.kernel_.k2.length_scale
    level, level_std = _level(first, values)
    process = _fitted(_kernel(std, float(length), free=False), readings, values - level, free=False)
    return MoisturePattern(readings, float(length), std, free, level, level_std, process)
