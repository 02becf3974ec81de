"""The meter series by minute, its blocks, quiet stretches and stretches without water."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.night.plan import Night
from nightwater.proof.log import minutes_from_start
from nightwater.proof.result import Block
from nightwater.units import SECONDS_PER_MINUTE

BLOCK_MIN: Final = 30
BLOCK_TOLERANCE: Final = 0.10  # TRADE T7: common practice, no source
TOTAL_TOLERANCE: Final = 0.05
BASE_FLOW_SHARE: Final = 0.01
DRY_SHARE: Final = 0.10  # less than this of the expected flow is no water
SOUND_SHARE: Final = 0.90
LEAST_DRY_MIN: Final = 3  # openings and ramp take up to two minutes
_SETTLE_MIN: Final = 2  # around a change, a minute is not yet quiet
_LEAST_QUIET_MIN: Final = 3
_LEAST_OPEN: Final = 0.5
_BESIDE_MIN: Final = 720

Series = NDArray[np.float64]
Mask = NDArray[np.bool_]
Value = TypeVar("Value", np.float64, np.bool_)


@dataclass(frozen=True)
class Meter:
    """Readings by minute of the night, from `first_min` on; NaN where none was read.

    Attributes:
        first_min: minute of the first value; negative where it was read before the start.
        flow_l_s: all meters together; a minute that one of them lacks is NaN.
        power_kw: likewise.
    """

    first_min: int
    flow_l_s: Series
    power_kw: Series

    @property
    def size(self) -> int:
        """Minutes in the series."""
        return len(self.flow_l_s)

    def window(self, night: Night, values: NDArray[Value]) -> NDArray[Value]:
        """The part of a series that lies in the night's window."""
        return values[-self.first_min : -self.first_min + night.window.minutes]


def read_meter(samples: pd.DataFrame, night: Night) -> Meter:
    """Samples as series by minute that cover at least the night's window.

    Several readings of one meter in a minute are averaged; meters are added up. Readings
    more than 12 hours from the window belong to something else and are left out.

    Args:
        samples: rows of the samples table of this night, in any order; may be empty.
        night: the plan.
    """
    minute = np.floor(minutes_from_start(samples["time"], night) + 1e-9)
    near = (minute >= -_BESIDE_MIN) & (minute < night.window.minutes + _BESIDE_MIN)
    rows = pd.DataFrame(
        {
            "minute": minute,
            "meter": samples["meter"].fillna("").astype(str).to_numpy(),
            "flow_l_s": samples["flow_l_s"].to_numpy(dtype=float),
            "power_kw": samples["power_kw"].to_numpy(dtype=float),
        }
    )[near]
    first = int(min(rows["minute"].min(), 0)) if len(rows) else 0
    last = int(max(rows["minute"].max() + 1, night.window.minutes)) if len(rows) else 0
    index = np.arange(first, max(last, night.window.minutes))
    flow, power = (_all_meters(rows, name, index) for name in ("flow_l_s", "power_kw"))
    return Meter(first, flow, power)


def _all_meters(rows: pd.DataFrame, name: str, index: NDArray[np.int64]) -> Series:
    if rows.empty:
        return np.full(len(index), np.nan)
    by_meter = rows.pivot_table(
        index="minute", columns="meter", values=name, aggfunc="mean", dropna=False
    )
    total: Series = by_meter.reindex(index).sum(axis=1, skipna=False).to_numpy(dtype=float)
    return total


def stretches(mask: Mask, least: int = 1) -> Iterator[tuple[int, int]]:
    """Runs of true values at least so long, as (first, one past the last)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= least:
            yield int(start), int(end)


def quiet_stretches(meter: Meter, expected: Series) -> list[tuple[int, int, float]]:
    """Stretches in which nothing should run: first place, one past the last, median flow.

    Places count from the first value of the series, not from the night's start.
    """
    around = np.ones(2 * _SETTLE_MIN + 1)
    spread = np.convolve(expected > 0, around)[_SETTLE_MIN : _SETTLE_MIN + meter.size]
    busy = spread > 0.5
    quiet = ~busy & ~np.isnan(meter.flow_l_s)
    return [
        (start, end, float(np.median(meter.flow_l_s[start:end])))
        for start, end in stretches(quiet, _LEAST_QUIET_MIN)
    ]


def base_flow(meter: Meter, expected: Series) -> Series:
    """Flow that runs whatever is open: the lesser of the quiet stretches before and after.

    Returns:
        [L/s], the same minutes as the meter; in a quiet stretch its own flow, 0 where
        either side has none.
    """
    base = np.zeros(meter.size)
    quiet = quiet_stretches(meter, expected)
    for start, end, flow in quiet:
        base[start:end] = flow
    for (_, start, before), (end, _, after) in pairwise(quiet):
        base[start:end] = min(before, after)
    return base


def wanted_minutes(expected: Series, opened: Series) -> Mask:
    """Minutes in which water should flow.

    Args:
        expected: flow that open stations draw [L/s].
        opened: stations open, in mean over the minute; less than half a one is a start
            or a stop that ran over.
    """
    return (expected > 0) & (opened >= _LEAST_OPEN)


def still_minutes(meter: Meter, expected: Series) -> Mask:
    """Minutes in which next to nothing flowed of what open stations draw.

    Where base flow alone is as large as what should run, nothing can be told: not still.
    """
    net = meter.flow_l_s - base_flow(meter, expected)
    with np.errstate(invalid="ignore"):
        still: Mask = (net < DRY_SHARE * expected) & (meter.flow_l_s < SOUND_SHARE * expected)
    return still & (expected > 0)


def dry_minutes(meter: Meter, expected: Series, wanted: Mask) -> Mask:
    """Minutes in which stations were open and nothing flowed, three or more together.

    Minutes in which nothing was expected lie between such minutes without parting them.

    Args:
        meter: the readings.
        expected: flow that open stations draw [L/s].
        wanted: minutes in which water should flow.
    """
    still = wanted & still_minutes(meter, expected)
    dry = np.zeros(len(still), dtype=bool)
    places = np.flatnonzero(wanted)
    for start, end in stretches(still[places], LEAST_DRY_MIN):
        dry[places[start:end]] = True
    return dry


def _volume_m3(flow_l_s: Series) -> float:
    return float(flow_l_s.sum()) * SECONDS_PER_MINUTE / 1000 if flow_l_s.size else float("nan")


def blocks_of(meter: Meter, expected: Series, opened: Series, minutes: int) -> tuple[Block, ...]:
    """Half hours of the window, expected against metered over the minutes that were read.

    Args:
        meter: the readings.
        expected: flow that open stations draw [L/s], the same minutes as the meter.
        opened: stations open, in mean over each minute; a block with less than one
            minute of one station is not judged.
        minutes: length of the window.
    """
    base, found = base_flow(meter, expected), []
    for start in range(0, minutes, BLOCK_MIN):
        end = min(start + BLOCK_MIN, minutes)
        part = slice(start - meter.first_min, end - meter.first_min)
        read = ~np.isnan(meter.flow_l_s[part])
        expected_m3, metered_m3, base_m3 = (
            _volume_m3(series[part][read]) for series in (expected, meter.flow_l_s, base)
        )
        off_m3 = abs(metered_m3 - base_m3 - expected_m3)
        judged = expected_m3 > 0 and float(opened[part][read].sum()) >= 1.0
        agrees = off_m3 <= BLOCK_TOLERANCE * expected_m3 if judged else None
        found.append(Block(start, end, expected_m3, metered_m3, base_m3, agrees))
    return tuple(found)
