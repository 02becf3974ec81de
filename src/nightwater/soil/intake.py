"""Cycle and soak: how long water may fall before it runs off."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.units import MINUTES_PER_HOUR

FLAT_SLOPE_PCT: Final = 3.0
STEEP_SLOPE_PCT: Final = 6.0
STEEP_SHARE: Final = 0.5  # of the storage on level ground, at 6 % and more


def slope_storage_mm(surface_storage_mm: ArrayLike, slope_pct: ArrayLike) -> NDArray[np.float64]:
    """Surface storage on a slope: whole up to 3 %, half from 6 %, straight between.

    Args:
        surface_storage_mm: storage on level turf [mm], any shape.
        slope_pct: slope [%]; NaN counts as level. The two broadcast.

    Returns:
        Storage [mm]; NaN where the level storage is NaN.

    Reference: common practice (0.1 in on turf up to 3 %, 0.05 in at 6 to 10 %), from memory.
    """
    storage, slope = np.broadcast_arrays(
        np.asarray(surface_storage_mm, dtype=float), np.asarray(slope_pct, dtype=float)
    )
    slope = np.where(np.isnan(slope), 0.0, slope)
    share = np.interp(slope, [FLAT_SLOPE_PCT, STEEP_SLOPE_PCT], [1.0, STEEP_SHARE])
    return np.asarray(storage * share, dtype=float)


def longest_cycle_min(
    rate_mm_h: ArrayLike, intake_mm_h: ArrayLike, storage_mm: ArrayLike
) -> NDArray[np.float64]:
    """Minutes until water stands higher than the surface can hold.

    Args:
        rate_mm_h: precipitation rate [mm/h], any shape.
        intake_mm_h: steady intake of the soil [mm/h].
        storage_mm: water that the surface holds [mm]. All broadcast.

    Returns:
        Minutes; infinite where the soil takes water as fast as it falls. NaN in, NaN out.

    Reference: water balance of the surface, 60 · storage / (rate − intake).
    """
    rate, intake, storage = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (rate_mm_h, intake_mm_h, storage_mm))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        minutes = MINUTES_PER_HOUR * storage / (rate - intake)
    minutes = np.where(rate <= intake, np.inf, minutes)
    return np.where(np.isnan(rate + intake + storage), np.nan, minutes)


def soak_min(intake_mm_h: ArrayLike, storage_mm: ArrayLike) -> NDArray[np.float64]:
    """Minutes for a full surface to drain into the soil, 60 · storage / intake.

    Args:
        intake_mm_h: steady intake of the soil [mm/h], any shape.
        storage_mm: water that the surface holds [mm]. The two broadcast.

    Returns:
        Minutes; NaN in, NaN out; an intake of zero or less gives NaN.

    Reference: water balance of the surface.
    """
    intake, storage = np.broadcast_arrays(
        np.asarray(intake_mm_h, dtype=float), np.asarray(storage_mm, dtype=float)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        minutes = MINUTES_PER_HOUR * storage / intake
    return np.where(intake > 0, minutes, np.nan)


def cycles_and_soaks_min(
    run_min: ArrayLike,
    rate_mm_h: ArrayLike,
    intake_mm_h: ArrayLike,
    surface_storage_mm: ArrayLike,
    slope_pct: ArrayLike,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Longest cycle and shortest soak of runs, in whole minutes.

    Args:
        run_min: whole minutes of each run, any shape.
        rate_mm_h: precipitation rate [mm/h].
        intake_mm_h: steady intake of the soil [mm/h].
        surface_storage_mm: storage on level turf [mm].
        slope_pct: slope [%]; NaN counts as level. All five broadcast.

    Returns:
        Longest cycle, rounded down but at least 1, and soak, rounded up. Where a cycle of one
        minute already overfills the surface, the soak lasts until that has drained. The run
        itself and 0 where one cycle does, and where rate, intake or storage is missing or the
        intake is zero or less: nothing is known there that would part the run.

    Reference: see `longest_cycle_min`, `soak_min`, `slope_storage_mm`.
    """
    run, rate, intake, level, slope = np.broadcast_arrays(
        np.asarray(run_min), rate_mm_h, intake_mm_h, surface_storage_mm, slope_pct
    )
    storage = slope_storage_mm(level, slope)
    longest = longest_cycle_min(rate, intake, storage)
    # Of a cycle that is a minute only because none is shorter, more stands than should.
    soak = soak_min(intake, np.maximum(storage, (rate - intake) / MINUTES_PER_HOUR))
    parted = (longest < run) & np.isfinite(soak)
    cycle = np.where(parted, np.maximum(np.floor(longest), 1.0), run)
    rest = np.where(parted, np.ceil(soak - 1e-9), 0.0)
    return cycle.astype(np.int64), rest.astype(np.int64)


def cycle_and_soak(
    run_min: int,
    rate_mm_h: float,
    intake_mm_h: float,
    surface_storage_mm: float,
    slope_pct: float,
) -> tuple[int, int]:
    """`cycles_and_soaks_min` of one run."""
    cycle, soak = cycles_and_soaks_min(
        run_min, rate_mm_h, intake_mm_h, surface_storage_mm, slope_pct
    )
    return int(cycle), int(soak)


def equal_cycles_min(run_min: int, longest_min: int) -> tuple[int, ...]:
    """A run in as few cycles as the longest allows, as equal as whole minutes can be."""
    if run_min <= 0:
        return ()
    count = -(-run_min // max(1, longest_min))
    short, extra = divmod(run_min, count)
    return (short + 1,) * extra + (short,) * (count - extra)
