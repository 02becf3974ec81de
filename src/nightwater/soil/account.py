"""The daily root-zone account of FAO-56 chapter 8, for many areas at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]

LOWEST_P: Final = 0.1
HIGHEST_P: Final = 0.8
_P_SLOPE: Final = 0.04
_P_REFERENCE_MM: Final = 5.0
_CURVE_MM: Final = 25.4


def curve_number_runoff_mm(rain_mm: ArrayLike, curve_number: ArrayLike) -> Numbers:
    """Runoff of a day's rain, Q = (P − 0.2 S)² / (P + 0.8 S), S = 1000 / CN − 10 inches.

    Args:
        rain_mm: rain of the day [mm], any shape.
        curve_number: runoff curve number, 0 to 100. The two broadcast.

    Returns:
        Runoff [mm], 0 where rain is at most 0.2 S. NaN in, NaN out; negative rain, or a
        curve number outside 0 to 100, gives NaN.

    Reference: USDA TR-55 (1986), equations 2-3 and 2-4.
    """
    rain, number = np.broadcast_arrays(
        np.asarray(rain_mm, dtype=float), np.asarray(curve_number, dtype=float)
    )
    sound = (rain >= 0) & (number > 0) & (number <= 100)
    with np.errstate(divide="ignore", invalid="ignore"):
        storage = _CURVE_MM * (1000.0 / number - 10.0)
        excess = np.maximum(rain - 0.2 * storage, 0.0)
        runoff = np.where(excess > 0, excess**2 / (rain + 0.8 * storage), 0.0)
    return np.where(sound, runoff, np.nan)


def depletion_fraction(p_table: ArrayLike, etc_mm: ArrayLike) -> Numbers:
    """Share of the store that turf uses without stress, p = p_table + 0.04 (5 − ETc).

    Args:
        p_table: FAO-56 Table 22 value, any shape.
        etc_mm: turf ET of the day [mm]. The two broadcast.

    Returns:
        Share, kept within 0.1 to 0.8 as the source says. NaN in, NaN out.

    Reference: FAO-56 (1998), Table 22, footnote 2.
    """
    p = np.asarray(p_table, dtype=float) + _P_SLOPE * (_P_REFERENCE_MM - np.asarray(etc_mm))
    return np.clip(p, LOWEST_P, HIGHEST_P)


def stress_coefficient(depletion_mm: ArrayLike, taw_mm: ArrayLike, p: ArrayLike) -> Numbers:
    """Ks = (TAW − Dr) / ((1 − p) TAW) past the readily available water, else 1.

    Args:
        depletion_mm: root-zone depletion [mm], any shape.
        taw_mm: total available water [mm].
        p: share used without stress. All broadcast.

    Returns:
        Ks, 0 to 1. NaN in, NaN out.

    Reference: FAO-56 (1998), equation 84.
    """
    depletion, taw, share = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (depletion_mm, taw_mm, p))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        ks = np.clip((taw - depletion) / ((1 - share) * taw), 0.0, 1.0)
    ks = np.where(np.isinf(taw), 1.0, ks)
    return np.where(np.isnan(depletion + share), np.nan, ks)


@dataclass(frozen=True)
class Account:
    """The account, each array of shape (days, areas) and in mm but for `ks`.

    depletion_end = depletion_start − irrigation − (rain − runoff) + et + deep_percolation,
    to rounding, on every day and area.
    """

    depletion_start_mm: Numbers
    depletion_end_mm: Numbers
    et_mm: Numbers
    rain_mm: Numbers
    runoff_mm: Numbers
    irrigation_mm: Numbers
    deep_percolation_mm: Numbers
    ks: Numbers
    after_irrigation_mm: Numbers


@dataclass(frozen=True)
class Soil:
    """What the account must know of each area, arrays of shape (areas,).

    `taw_mm` may be infinite, where only a debt is counted; `p_table` as FAO-56 Table 22.
    """

    taw_mm: Numbers
    p_table: Numbers
    curve_number: Numbers


@dataclass(frozen=True)
class _Day:
    end: Numbers
    et: Numbers
    deep: Numbers
    ks: Numbers
    after_irrigation: Numbers


def _day(start: Numbers, etc: Numbers, entering: Numbers, irrigation: Numbers, soil: Soil) -> _Day:
    """One day: last night's water, then ET against rain (FAO-56 equations 85 to 88).

    Water above field capacity drains at the day's end, so that the day's ET may use it.
    """
    wet = start - irrigation
    morning = np.maximum(wet, 0.0)
    ks = stress_coefficient(morning, soil.taw_mm, depletion_fraction(soil.p_table, etc))
    # No more can evaporate than the store and the water above it hold (equation 86: Dr <= TAW).
    et = np.minimum(ks * etc, soil.taw_mm - wet + entering)
    open_end = wet - entering + et
    return _Day(np.maximum(open_end, 0.0), et, np.maximum(-open_end, 0.0), ks, morning)


def run_account(
    opening_mm: Numbers, etc_mm: Numbers, rain_mm: Numbers, irrigation_mm: Numbers, soil: Soil
) -> Account:
    """Keep the account over consecutive days.

    The water of the night that ended this morning enters before the day's ET. Capillary rise
    is left out: turf roots end far above a water table.

    Args:
        opening_mm: depletion on the first morning [mm], shape (areas,).
        etc_mm: unstressed turf ET [mm], shape (days, areas).
        rain_mm: rain [mm], shape (days,) or (days, areas).
        irrigation_mm: net water of the night before each day [mm], shape (days, areas).
        soil: stores, per area.

    Returns:
        Every term of every day. NaN in a day's ET makes that area NaN from then on.

    Reference: FAO-56 (1998), chapter 8, equations 84 to 88; runoff by USDA TR-55.
    """
    rain = np.broadcast_to(
        rain_mm if np.ndim(rain_mm) == 2 else np.asarray(rain_mm)[:, None], etc_mm.shape
    )
    runoff = curve_number_runoff_mm(rain, soil.curve_number)
    start = np.asarray(opening_mm, dtype=float)
    starts, days = [], []
    for index in range(etc_mm.shape[0]):
        starts.append(start)
        day = _day(start, etc_mm[index], rain[index] - runoff[index], irrigation_mm[index], soil)
        days.append(day)
        start = day.end
    shape = etc_mm.shape

    def stacked(rows: list[Numbers]) -> Numbers:
        return np.array(rows, dtype=float).reshape(shape)

    return Account(
        depletion_start_mm=stacked(starts),
        depletion_end_mm=stacked([day.end for day in days]),
        et_mm=stacked([day.et for day in days]),
        rain_mm=np.array(rain, dtype=float),
        runoff_mm=runoff,
        irrigation_mm=np.asarray(irrigation_mm, dtype=float),
        deep_percolation_mm=stacked([day.deep for day in days]),
        ks=stacked([day.ks for day in days]),
        after_irrigation_mm=stacked([day.after_irrigation for day in days]),
    )
