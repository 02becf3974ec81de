"""What an audit's cans say: suspects, rate, evenness, and how sure each figure is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import KDTree
from scipy.stats import bootstrap

from nightwater.spray.uniformity import christiansen_cu, du_lh, du_lq

OUTLIER_SCORE: Final = 3.5
NEIGHBOURS: Final = 6
_MAD_TO_SD: Final = 0.6745
_LEAST_SPREAD: Final = 0.02  # of the median: reading a cylinder is no better than that
CONFIDENCE: Final = 0.90
RESAMPLES: Final = 4000
SEED: Final = 20_240
_LEAST_FOR_INTERVAL: Final = 8

Numbers = NDArray[np.float64]


def outlier_scores(
    caught: ArrayLike, x_m: ArrayLike, y_m: ArrayLike, expected: ArrayLike | None = None
) -> Numbers:
    """How far each can stands out from the cans around it; suspect over 3.5 either way.

    The modified z-score 0.6745 · (d − median d) / MAD, with d a can less the median of the six
    nearest others. Where the computed pattern is known, each can first loses what it leads to
    expect there (scaled by the median ratio), so that the edge of a throw is no suspect. Against
    its neighbours, because a pattern that is uneven from one end to
    the other is what an audit is to find, and a can that was kicked over is not.

    Args:
        caught: catches, any unit, shape (n,).
        x_m, y_m: places; where any is missing a can is held against all others.
        expected: computed rate at each can, any unit; None where it is not known.

    Returns:
        Scores, shape (n,); NaN for a missing catch, and for all with fewer than 8 cans.

    Reference: Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers, ASQC: modified
    z-score and its limit 3.5 (from memory); the neighbours are a choice of ours.
    """
    values = np.asarray(caught, dtype=float)
    known = np.isfinite(values)
    scores = np.full(values.shape, np.nan)
    if known.sum() < _LEAST_FOR_INTERVAL:
        return scores
    left = values[known] - _expected(values[known], expected, known)
    off = left - _around(left, np.column_stack([x_m, y_m]).astype(float)[known])
    middle = np.median(off)
    spread = max(np.median(np.abs(off - middle)), _LEAST_SPREAD * np.median(values[known]))
    if spread > 0:
        scores[known] = _MAD_TO_SD * (off - middle) / spread
    return scores


def _expected(values: Numbers, expected: ArrayLike | None, known: Any) -> Numbers:
    """What the pattern leads to expect of cans, in their unit; 0 where it tells nothing."""
    theory = np.zeros(values.shape) if expected is None else np.asarray(expected, float)[known]
    wet = theory > 0
    if not np.isfinite(theory).all() or wet.sum() < _LEAST_FOR_INTERVAL:
        return np.zeros(values.shape)
    return np.asarray(theory * np.median(values[wet] / theory[wet]))


def _around(values: Numbers, places: Numbers) -> Numbers:
    """Median of the nearest others of each can."""
    if not np.isfinite(places).all():
        return np.full(values.shape, np.median(values))
    near = np.asarray(KDTree(places).query(places, k=min(NEIGHBOURS + 1, len(values)))[1])
    return np.asarray(np.median(values[near[:, 1:]], axis=1), dtype=float)


@dataclass(frozen=True)
class Estimate:
    """A figure with the interval in which it lies nine times in ten; NaN where unknown."""

    value: float
    low: float
    high: float


def _along(measure: Callable[[Any], float]) -> Callable[..., Any]:
    """A measure of one sample as one of many, along the last axis."""

    def over(sample: Any, axis: int = -1) -> Any:
        return np.apply_along_axis(measure, axis, sample)

    return over


def _mean(sample: Any) -> float:
    return float(np.mean(sample))


MEASURES: Final[Mapping[str, Callable[[Any], float]]] = {
    "mean": _mean,
    "du_lq": du_lq,
    "du_lh": du_lh,
    "cu": christiansen_cu,
}


def estimate(values: ArrayLike, measure: Callable[[Any], float], seed: int = SEED) -> Estimate:
    """A figure of cans with its 90 % interval by the bootstrap.

    The interval tells how much the figure would swing if as many cans stood elsewhere on the
    same ground that night. It takes cans for independent draws; cans near each other are not
    quite, and on a grid that is finer than a throw the true interval is rather narrower. It
    tells nothing of another night, wind or pressure.

    Args:
        values: catches, any unit; missing ones are left out.
        measure: figure of a sample.
        seed: of the resampling, so that the same cans always give the same interval.

    Returns:
        Value and interval; the interval is NaN with fewer than 8 cans or without spread.

    Reference: Efron and Tibshirani 1993, An Introduction to the Bootstrap, ch. 14 (bias
    corrected and accelerated), as scipy.stats.bootstrap has it.
    """
    sample = np.asarray(values, dtype=float)
    sample = sample[np.isfinite(sample)]
    if not sample.size:
        return Estimate(np.nan, np.nan, np.nan)
    value = measure(sample)
    if sample.size < _LEAST_FOR_INTERVAL or np.ptp(sample) == 0 or np.isnan(value):
        return Estimate(value, np.nan, np.nan)
    found = bootstrap(
        (sample,),
        _along(measure),
        n_resamples=RESAMPLES,
        confidence_level=CONFIDENCE,
        method="BCa",
        vectorized=True,
        rng=np.random.default_rng(seed),
    ).confidence_interval
    return Estimate(value, float(found.low), float(found.high))


@dataclass(frozen=True)
class Comparison:
    """Cans beside what the record's patterns give there.

    Attributes:
        ratio: can over computed, of each can; NaN where the computed rate is 0 or missing.
        bias: mean of the cans over mean of the computed; 1 is even.
        correlation: Pearson's, NaN where either does not vary.
        spread: standard deviation of the cans about bias times computed, over their mean.
    """

    ratio: Numbers
    bias: float
    correlation: float
    spread: float


def compare(measured: ArrayLike, computed: ArrayLike) -> Comparison:
    """Cans against computed rates, both [mm/h] and of one shape.

    Cans that are missing, or where the computed rate is, count in none of the figures.
    """
    cans, theory = (np.asarray(v, dtype=float) for v in (measured, computed))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(theory > 0, cans / theory, np.nan)
    known = np.isfinite(cans) & np.isfinite(theory)
    mine, its = cans[known], theory[known]
    if mine.size < 3 or not its.sum() > 0 or not mine.sum() > 0:
        return Comparison(ratio, np.nan, np.nan, np.nan)
    bias = float(mine.mean() / its.mean())
    varies = np.ptp(mine) > 0 and np.ptp(its) > 1e-9 * its.mean()
    correlation = float(np.corrcoef(mine, its)[0, 1]) if varies else np.nan
    return Comparison(ratio, bias, correlation, float((mine - bias * its).std() / mine.mean()))
