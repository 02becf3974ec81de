"""Need of every cell of the turf: its area's, moved by what moisture readings say there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.settings import NeedRules
from nightwater.soil.defaults import FIELD_CAPACITY_STD_PCT
from nightwater.soil.moisture_spread import PATTERN_STD_PCT, MoisturePattern, moisture_pattern
from nightwater.soil.readings import AreaReadings

# How far an area's account may be off, as a share of its store; no source.
ACCOUNT_STD_SHARE: Final = 0.10

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class TurfCells:
    """Places of cells and the area that each lies in.

    Attributes:
        x_m, y_m: middle of each cell.
        area: place of its area in `areas`.
        areas: ids of areas.
    """

    x_m: Numbers
    y_m: Numbers
    area: NDArray[np.int32]
    areas: tuple[str, ...]

    def spread(self, of_area: pd.Series[Any]) -> Numbers:
        """A value by area, on each cell; NaN where the area has none."""
        values = of_area.reindex(list(self.areas)).to_numpy(dtype=float)
        return np.asarray(values[self.area], dtype=float)


@dataclass(frozen=True)
class CellNeeds:
    """Need of each cell and what it is made of: (area × exposure + level + pattern) × trim.

    Attributes:
        need_mm: net need; NaN where the area's is not known.
        std_mm: its standard deviation, from account, meter and distance to readings.
        area_mm: need of the cell's area by the account.
        level_mm: what the area's readings together move it by.
        pattern_mm: what the readings nearby move it by.
        trim_factor: product of the trims drawn on the map.
        exposure: what the slope of each cell makes of its area's need; 1 in areas with readings.
        areas: per area with readings: readings, meter, depth_mm, length_m, pattern_std_mm,
            fitted, read_level_mm (how much drier the readings are than the account),
            read_std_mm, account_std_mm, weight (share of `read_level_mm` that is believed),
            level_mm.
        untrimmed_mm: need before trims drawn on the map.
    """

    need_mm: Numbers
    std_mm: Numbers
    area_mm: Numbers
    level_mm: Numbers
    pattern_mm: Numbers
    trim_factor: Numbers
    areas: pd.DataFrame
    untrimmed_mm: Numbers
    exposure: Numbers

    def trimmed(self, factor: Numbers) -> CellNeeds:
        """The same with factors of trims drawn on the map, times those it had."""
        return CellNeeds(
            self.need_mm * factor,
            self.std_mm * factor,
            self.area_mm,
            self.level_mm,
            self.pattern_mm,
            self.trim_factor * factor,
            self.areas,
            self.untrimmed_mm,
            self.exposure,
        )


_AREA_COLUMNS: Final = (
    "readings", "meter", "depth_mm", "length_m", "pattern_std_mm", "fitted", "read_level_mm",
    "read_std_mm", "account_std_mm", "weight", "level_mm",
)  # fmt: skip


def blended(
    first: float, first_std: float, second: float, second_std: float
) -> tuple[float, float, float]:
    """Two estimates of one thing, each weighted by the inverse of its variance.

    Args:
        first, first_std: one estimate and its standard deviation, in any one unit.
        second, second_std: the other, independent of it.

    Returns:
        The mean, its standard deviation, and the weight of the second (0 to 1).

    Reference: inverse-variance weighting of independent estimates.
    """
    weight = first_std**2 / (first_std**2 + second_std**2)
    mean = first + weight * (second - first)
    return mean, first_std * float(np.sqrt(1.0 - weight)), weight


def _area_row(
    pattern: MoisturePattern, roots_mm: float, taw_mm: float
) -> tuple[dict[str, Any], float]:
    """What is told of an area, and the deviation of its blended level [mm]."""
    mm = roots_mm / 100.0
    account_std = ACCOUNT_STD_SHARE * taw_mm
    read, read_std = (
        pattern.level_pct * mm,
        float(np.hypot(pattern.level_std_pct, FIELD_CAPACITY_STD_PCT)) * mm,
    )
    level, std, weight = blended(0.0, account_std, read, read_std)
    values = (
        len(pattern.readings), pattern.readings.meter, pattern.readings.depth_mm, pattern.length_m,
        pattern.std_pct * mm, pattern.fitted, read, read_std, account_std, weight, level,
    )  # fmt: skip
    return dict(zip(_AREA_COLUMNS, values, strict=True)), std


@dataclass
class _Moved:
    """Level, pattern and deviation of each cell, being filled area by area."""

    level_mm: Numbers
    pattern_mm: Numbers
    std_mm: Numbers


def _unread(cells: TurfCells, areas: pd.DataFrame, taw_mm: pd.Series[float]) -> _Moved:
    """Cells without readings: nothing moved, and all that may differ is open."""
    account = ACCOUNT_STD_SHARE * cells.spread(taw_mm)
    pattern = PATTERN_STD_PCT / 100.0 * cells.spread(areas["root_depth_mm"])
    none = np.zeros(len(cells.area))
    return _Moved(none, none.copy(), np.hypot(account, pattern))


def _depletion_need_mm(
    cells: TurfCells, need: pd.DataFrame, moved_mm: Numbers, read: Sequence[str], rules: NeedRules
) -> Numbers:
    """Need from the moved depletion of the areas that have readings; others keep theirs."""
    of_area = cells.spread(need["need_mm"])
    taw, target = cells.spread(need["taw_mm"]), cells.spread(need["target_mm"])
    depletion = np.clip(cells.spread(need["depletion_mm"]) + moved_mm, 0.0, taw)
    filled = np.maximum(depletion - target, 0.0)
    if rules.use_trigger:
        total = np.bincount(cells.area, depletion, minlength=len(cells.areas))
        mean = total / np.maximum(np.bincount(cells.area, minlength=len(cells.areas)), 1)
        filled = np.where(mean[cells.area] >= cells.spread(need["raw_mm"]), filled, 0.0)
    known = np.array([name in set(read) for name in cells.areas], dtype=bool)
    return np.where(known[cells.area] & np.isfinite(of_area), filled, of_area)


def cell_needs(
    cells: TurfCells,
    areas: pd.DataFrame,
    need: pd.DataFrame,
    readings: Sequence[AreaReadings],
    rules: NeedRules,
    *,
    exposure: Numbers | None = None,
) -> CellNeeds:
    """Need of each cell from the account of its area and the readings on it.

    The area's readings together move its level as far as they are surer than the account
    (`blended`; field capacity of a texture class is what they are least sure of). What differs
    from spot to spot is kriged (`moisture_pattern`) and added whole. Depletion stays between 0
    and the store; with the trigger rule an area waits until the mean of its cells reaches it.
    Under "et_share" readings move nothing, for a share of ET has no depletion to compare.
    Slope counts through `exposure` in areas without readings; where readings are, they tell what
    it does. Shade and what an area has as a whole count through the area's own factor.

    Args:
        cells: the turf.
        areas: rows of `soil.defaults.area_defaults`; index = id.
        need: `NeedResult.table`.
        readings: at most one entry per area.
        rules: how depletion becomes need.
        exposure: factor of each cell, mean 1 over its area; 1 everywhere where none is given.

    Returns:
        Needs before trims; see `CellNeeds`. An area without readings has its own need on
        all its cells.

    Reference: docs/how/cell-need.md.
    """
    used = [] if rules.method == "et_share" else [r for r in readings if r.area in cells.areas]
    roots = areas["root_depth_mm"].astype(float)
    taw = areas["available_water_mm_m"].astype(float) * roots / 1000.0
    moved, rows = _unread(cells, areas, taw), {}
    for one in used:
        mm = float(roots[one.area]) / 100.0
        mine = np.flatnonzero(cells.area == cells.areas.index(one.area))
        pattern = moisture_pattern(one)
        rows[one.area], level_std = _area_row(pattern, float(roots[one.area]), float(taw[one.area]))
        mean, std = pattern.at(cells.x_m[mine], cells.y_m[mine])
        moved.level_mm[mine], moved.pattern_mm[mine] = rows[one.area]["level_mm"], mean * mm
        moved.std_mm[mine] = np.hypot(level_std, std * mm)
    total = _depletion_need_mm(cells, need, moved.level_mm + moved.pattern_mm, list(rows), rules)
    read = np.array([name in rows for name in cells.areas], dtype=bool)[cells.area]
    factor = np.ones(len(cells.area)) if exposure is None else np.where(read, 1.0, exposure)
    total = total * factor
    told = pd.DataFrame.from_dict(rows, orient="index", columns=list(_AREA_COLUMNS))
    return CellNeeds(
        need_mm=total,
        std_mm=np.where(np.isfinite(total), moved.std_mm, np.nan),
        area_mm=cells.spread(need["need_mm"]),
        level_mm=moved.level_mm,
        pattern_mm=moved.pattern_mm,
        trim_factor=np.ones(len(cells.area)),
        areas=told,
        untrimmed_mm=total,
        exposure=factor,
    )
