"""A night's water on the turf, with heads as they were found and not as they were designed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.coverage import night_minutes
from nightwater.desk.night_air import night_air
from nightwater.desk.night_need import night_need
from nightwater.desk.nights import StoredNight
from nightwater.desk.wetting import Wetting, wetting
from nightwater.ground.record import Ground
from nightwater.night.fix_value import Watering, watering_of
from nightwater.night.minutes import LONGEST_RUN_MIN
from nightwater.spray.grid import cell_kinds
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import WettingMatrix, wetting_matrix
from nightwater.spray.remedies import as_found

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class TonightWater:
    """What falls where on a night.

    Attributes:
        recorded: the record.
        ground: the record as it was found; see `spray.remedies.as_found`.
        patterns, matrix: its heads.
        stored: the night; None where minutes and needs are from elsewhere.
        run_min: minutes of each head, index = head id.
        depth_mm, need_mm: of each turf cell.
        changed_kpa: pressures of the solved pipes that are not the record's, by head id.
        still_depth_mm: depth in still air, where `depth_mm` is that in the night's wind; else
            None. The matrix is that of still air always.
    """

    recorded: Ground
    ground: Ground
    patterns: HeadPatterns
    matrix: WettingMatrix
    stored: StoredNight | None
    run_min: pd.Series[float]
    depth_mm: Numbers
    need_mm: Numbers
    changed_kpa: pd.Series[float] = field(default_factory=lambda: pd.Series(dtype=float))
    still_depth_mm: Numbers | None = None

    @property
    def kinds(self) -> NDArray[Any]:
        """Kind of area of each turf cell."""
        return cell_kinds(self.matrix.grid, self.ground)


def head_minutes(ground: Ground, stored: StoredNight) -> pd.Series[float]:
    """Minutes that each head runs: those of its station, 0 without one."""
    minutes = night_minutes(stored.plan)
    run: pd.Series[float] = ground.heads["station"].map(minutes).astype(float).fillna(0.0)
    return run


def tonight_water(
    course: Course,
    stored: StoredNight,
    laid: Wetting | None = None,
    progress: Progress = silent,
) -> TonightWater:
    """What falls where on a stored night.

    Args:
        course: the course.
        stored: the night; its minutes and its needs count.
        laid: the course's matrix where it is at hand; else it is built.
        progress: told each step.
    """
    base = laid or wetting(course, progress=progress)
    ground = as_found(course.ground)
    patterns, matrix, changed = base.patterns, base.matrix, base.pressures.changed_kpa
    if ground is not course.ground:
        patterns = head_patterns(ground, changed)[0]
        matrix = wetting_matrix(base.grid, patterns, base.matrix)
    run = head_minutes(ground, stored)
    minutes = run.reindex(matrix.heads).to_numpy(dtype=float)
    depth = np.asarray(matrix.rate_mm_min @ minutes)
    still: Numbers | None = None
    air = night_air(course, stored.plan.night)
    if air.counts:
        progress("what the night's wind does to it")
        blown = wetting_matrix(base.grid, patterns, matrix, air.wind)
        still, depth = depth, np.asarray(blown.rate_mm_min @ minutes) * (1.0 - air.lost_share)
    need = night_need(course, stored, base.grid).need_mm
    return TonightWater(
        course.ground, ground, patterns, matrix, stored, run, depth, need, changed, still
    )


def head_cycles(tonight: TonightWater) -> pd.Series[float]:
    """In how many cycles each head runs, index = head id; 1 where no night tells."""
    if tonight.stored is None:
        return pd.Series(1.0, index=tonight.run_min.index)
    cycles = pd.Series([run.station for run in tonight.stored.plan.runs], dtype=object)
    counted = tonight.ground.heads["station"].map(cycles.value_counts())
    of_head: pd.Series[float] = counted.astype(float).fillna(1.0)
    return of_head


def watering(tonight: TonightWater) -> Watering:
    """The night by station, as the value of a repair is worked out on it."""
    stations: Any = tonight.ground.heads["station"]
    by_station, names = tonight.matrix.by_station(stations)
    of_head = stations.reindex(tonight.matrix.heads).to_numpy(dtype=object)
    flow = pd.Series(tonight.patterns.flow_l_s).groupby(of_head).sum()
    ran = tonight.run_min.reindex(tonight.matrix.heads).groupby(of_head).max()
    run = ran.reindex(list(names)).to_numpy(dtype=float)
    longest = tonight.ground.stations["max_run_min"].astype(float).reindex(list(names))
    rows = pd.DataFrame(
        {
            "flow_l_s": flow.reindex(list(names)).to_numpy(dtype=float),
            "floor_min": 1.0,
            "longest_min": np.where(run > 0, longest.fillna(float(LONGEST_RUN_MIN)), 0.0),
            "run_min": run,
        },
        index=list(names),
    )
    grid = tonight.matrix.grid
    return watering_of(grid, sparse.csr_array(by_station), tonight.need_mm, tonight.kinds, rows)
