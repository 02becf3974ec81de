"""Maps of where water lands: rate of all heads, tonight's depth, what is short of the need."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.desk.nights import StoredNight
from nightwater.desk.wetting import Wetting
from nightwater.findings import UserError
from nightwater.night.plan import Night
from nightwater.spray.grid import TurfGrid
from nightwater.units import MINUTES_PER_HOUR

Numbers = NDArray[np.float64]


class MapKind(StrEnum):
    """What a map of the turf shows."""

    RATE = "rate"
    DEPTH = "depth"
    SHORTAGE = "shortage"


SUFFIXES: Final = {MapKind.RATE: "mm_h", MapKind.DEPTH: "mm", MapKind.SHORTAGE: "mm"}
TITLES: Final = {
    MapKind.RATE: "Rate while every head runs",
    MapKind.DEPTH: "Depth of the night",
    MapKind.SHORTAGE: "Depth less need",
}


@dataclass(frozen=True)
class CoverageMap:
    """One value for each turf cell.

    Attributes:
        kind: what the values are.
        grid: the cells.
        values: rate [mm/h], depth [mm], or depth less need [mm, below 0 is short]; NaN where
            the need is not known.
        even: what uniformity is told of: the rate, or the depth.
        need_mm: of each cell, NaN where not known; None for the rate.
        night: the night that the minutes are of, None for the rate.
        state: "draft", "approved" or "replaced"; "" for the rate.
        edition: of the night; 0 for the rate.
    """

    kind: MapKind
    grid: TurfGrid
    values: Numbers
    even: Numbers
    need_mm: Numbers | None
    night: date | None
    state: str
    edition: int

    @property
    def suffix(self) -> str:
        """Inside unit of the values: "mm_h" or "mm"."""
        return SUFFIXES[self.kind]


def night_minutes(night: Night) -> dict[str, float]:
    """Minutes that each station runs in a plan, all cycles together."""
    minutes: dict[str, float] = {}
    for run in night.runs:
        minutes[run.station] = minutes.get(run.station, 0.0) + run.run_min
    return minutes


def area_need_mm(night: Night) -> dict[str, float]:
    """Need of each area that a plan's sums tell of; debts carried are part of it.

    Where the stations of one area ask for different needs it is the mean by the turf they wet.
    """
    water: dict[str, float] = {}
    turf: dict[str, float] = {}
    for item in night.sums:
        if np.isfinite(item.need_mm) and item.wetted_m2 > 0:
            water[item.area] = water.get(item.area, 0.0) + item.need_mm * item.wetted_m2
            turf[item.area] = turf.get(item.area, 0.0) + item.wetted_m2
    return {area: water[area] / turf[area] for area in water}


def cell_need_mm(night: Night, grid: TurfGrid) -> Numbers:
    """Need of each turf cell: that of its area; NaN where the plan asks nothing for it."""
    of_area = area_need_mm(night)
    needs = np.array([of_area.get(area, np.nan) for area in grid.areas], dtype=float)
    return needs[grid.area] if len(needs) else np.empty(0)


def rate_map(wet: Wetting) -> CoverageMap:
    """Rate at which each cell is wetted while every head runs."""
    rate = np.asarray(wet.matrix.rate_mm_min.sum(axis=1), dtype=float).ravel() * MINUTES_PER_HOUR
    return CoverageMap(MapKind.RATE, wet.grid, rate, rate, None, None, "", 0)


def _checked_need(need: Numbers | None, plan: Night, grid: TurfGrid) -> Numbers:
    if need is None:
        return cell_need_mm(plan, grid)
    if need.shape != (len(grid),):
        raise ValueError(f"a need of {need.shape} cells does not fit {len(grid)} cells of turf")
    return need


def coverage_map(
    wet: Wetting,
    kind: MapKind,
    stored: StoredNight | None,
    need_mm: Numbers | None = None,
) -> CoverageMap:
    """A map of the turf.

    Depth is what the heads throw; losses in the air are not taken off.

    Args:
        wet: where water lands.
        kind: what to show.
        stored: the night, which the rate does not need.
        need_mm: need of each turf cell where it is known so finely; else that of its area.

    Raises:
        UserError: a depth without a night.
    """
    if kind is MapKind.RATE:
        return rate_map(wet)
    if stored is None:
        raise UserError(f"The map of {kind} needs a night. Plan one, or choose the map of rates.")
    depth = wet.depth_mm(night_minutes(stored.plan))
    need = _checked_need(need_mm, stored.plan, wet.grid)
    values = depth if kind is MapKind.DEPTH else depth - need
    plan = stored.plan
    return CoverageMap(
        kind, wet.grid, values, depth, need, plan.night, stored.state, stored.edition
    )


def part_of_map(shown: CoverageMap, inside: NDArray[np.bool_]) -> CoverageMap:
    """The map of some of its cells; the rectangle around the turf stays the same.

    Args:
        shown: the map.
        inside: whether each turf cell is kept.
    """
    grid = shown.grid
    row, column = grid.row[inside], grid.column[inside]
    turf = np.full_like(grid.turf, -1)
    turf[row, column] = np.arange(len(row), dtype=turf.dtype)
    part = replace(grid, turf=turf, row=row, column=column, area=grid.area[inside])
    need = None if shown.need_mm is None else shown.need_mm[inside]
    return replace(
        shown, grid=part, values=shown.values[inside], even=shown.even[inside], need_mm=need
    )
