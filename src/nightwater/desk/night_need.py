"""Need of each cell on a stored night: as the plan has it, moved by readings and drawn trims."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightwater.desk.course import Course
from nightwater.desk.coverage import cell_need_mm
from nightwater.desk.fitting import needs_of_cells
from nightwater.desk.needing import need
from nightwater.desk.nights import StoredNight
from nightwater.findings import UserError
from nightwater.night.plan import Night
from nightwater.soil.cell_need import CellNeeds
from nightwater.spray.grid import TurfGrid

Numbers = NDArray[np.float64]
_SAME_MM = 1e-9


@dataclass(frozen=True)
class NightNeed:
    """What each turf cell needs on a night.

    Attributes:
        need_mm: of each cell; NaN where the plan asks nothing for its area.
        moved: how many cells need something else than their area.
        reason: why every cell has its area's need; empty where cells have their own.
    """

    need_mm: Numbers
    moved: int = 0
    reason: str = ""

    @property
    def words(self) -> str:
        """Where the needs come from, in a sentence."""
        if self.reason:
            return f"Need is that of each area: {self.reason}"
        if not self.moved:
            return "Need is that of each area; no slope, reading or trim moves it anywhere."
        return (
            f"Need is that of each cell: slopes, moisture readings and trims on the map move "
            f"{self.moved:,} cells from their area's."
        )


def planned_cells_mm(plan: Night, grid: TurfGrid, found: CellNeeds) -> Numbers:
    """Need of each cell as its plan has it: (its area's by the plan × exposure + readings) × trims.

    Args:
        plan: the night; where its need of an area is not today's account's, the plan's counts.
        grid: the cells.
        found: what moves each cell.
    """
    of_area = cell_need_mm(plan, grid)
    exposed = of_area * found.exposure
    moved = found.untrimmed_mm - found.area_mm * found.exposure
    wanted = np.maximum(exposed + np.nan_to_num(moved), 0.0) * found.trim_factor
    return np.asarray(wanted, dtype=float)


def night_need(course: Course, stored: StoredNight, grid: TurfGrid) -> NightNeed:
    """What each turf cell needs on a stored night.

    Readings and trims count as they stand now; the need of areas is the plan's.

    Args:
        course: the course.
        stored: the night.
        grid: its turf.

    Returns:
        The needs; those of the areas with a reason where the night's account cannot be made.
    """
    plan = stored.plan
    of_area = cell_need_mm(plan, grid)
    try:
        found, _ = needs_of_cells(course, grid, need(course, plan.night), plan.night)
    except UserError as refused:
        return NightNeed(of_area, reason=str(refused))
    needs = planned_cells_mm(plan, grid, found)
    return NightNeed(needs, int((np.abs(needs - of_area) > _SAME_MM).sum()))
