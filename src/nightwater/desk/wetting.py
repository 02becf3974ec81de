"""The course's wetting matrix: built once, and again only where heads changed."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.head_pressures import HeadPressures, head_pressures
from nightwater.desk.night_air import STILL, NightAir
from nightwater.findings import Finding
from nightwater.spray.grid import TurfGrid, turf_grid
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import WettingMatrix, wetting_matrix
from nightwater.spray.wind import Wind, wind_findings

CELL_M: Final = 1.0
_MOST_KEPT: Final = 3  # matrices of 1,400 heads take 15 MB each


@dataclass(frozen=True)
class Wetting:
    """Where every litre of a course lands.

    Attributes:
        matrix: cells × heads [mm/min], with the grid and the heads.
        patterns: the heads' patterns, in the order of the matrix's columns.
        stations: ids of the stations that have known heads.
        by_station: cells × stations [mm/min] of water that lands, compressed by row.
        findings: heads and nozzles that are left out, and why; heads short of pressure.
        pressures: where the pressures at the heads come from.
        air: of the night; its loss is taken off `by_station`, never off the matrix.
    """

    matrix: WettingMatrix
    patterns: HeadPatterns
    stations: tuple[str, ...]
    by_station: sparse.csr_array
    findings: tuple[Finding, ...]
    pressures: HeadPressures
    air: NightAir = STILL

    @property
    def grid(self) -> TurfGrid:
        """The turf's cells."""
        return self.matrix.grid

    def depth_mm(self, run_min: dict[str, float]) -> NDArray[np.float64]:
        """Depth on each turf cell when stations run so many minutes."""
        minutes = np.array([run_min.get(name, 0.0) for name in self.stations])
        return np.asarray(self.by_station @ minutes, dtype=float)


_Key = tuple[Path, float, str]  # of a course's file, cells and wind
_kept: OrderedDict[_Key, WettingMatrix] = OrderedDict()
_lock = Lock()


def _keep(key: _Key, matrix: WettingMatrix) -> None:
    with _lock:
        _kept[key] = matrix
        _kept.move_to_end(key)
        while len(_kept) > _MOST_KEPT:
            _kept.popitem(last=False)


def wetting(
    course: Course,
    cell_m: float = CELL_M,
    progress: Progress = silent,
    wind: Wind | None = None,
    air: NightAir = STILL,
) -> Wetting:
    """The wetting matrix of the record as it is now, in still air or in a wind.

    Pressures at the heads are those of the solved pipes; see `desk.head_pressures`.

    The last matrix of a course, cell and wind is kept in memory; columns of heads that did
    not change are taken from it.

    Args:
        course: the course.
        cell_m: side of a cell, 0.25 to 2 m.
        progress: told each step.
        wind: while the heads run; None for still air, or for that of `air`.
        air: of a night: its wind, and what is lost in it.

    Raises:
        UserError: a cell size that is not offered, or a turf too large for it.
    """
    progress("turf to cells")
    grid = turf_grid(course.ground, cell_m)
    pressures = head_pressures(course.ground, course.settings.night.pump_use)
    patterns, findings = head_patterns(course.ground, pressures.changed_kpa)
    findings += pressures.findings
    wind = wind or air.wind
    findings += air.findings
    if wind is not None:
        findings += wind_findings(patterns, wind)
    progress(f"wetting matrix of {len(patterns)} heads and {len(grid)} cells")
    key = (course.path.resolve(), cell_m, wind.key if wind is not None else "")
    with _lock:
        known = _kept.get(key)
    matrix = wetting_matrix(grid, patterns, known, wind)
    _keep(key, matrix)
    stations: Any = course.ground.heads["station"]
    by_station, names = matrix.by_station(stations)
    laid = sparse.csr_array(by_station)
    if air.lost_share > 0:
        laid = laid * np.float32(1.0 - air.lost_share)
    return Wetting(matrix, patterns, names, laid, tuple(findings), pressures, air)
