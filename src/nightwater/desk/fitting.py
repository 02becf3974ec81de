"""Minutes fitted to the map for a night: matrix, need of each cell, fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.night_air import night_air
from nightwater.desk.wetting import Wetting, wetting
from nightwater.findings import Finding
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.links import station_heads
from nightwater.night.fitted_minutes import Fit, FitRequest, fit_minutes
from nightwater.night.map_trims import map_factors
from nightwater.night.minutes import LONGEST_RUN_MIN
from nightwater.night.plan import StationSum
from nightwater.pipes.levels import known_levels
from nightwater.soil.cell_need import CellNeeds, TurfCells, cell_needs
from nightwater.soil.defaults import area_defaults
from nightwater.soil.exposure import Sky, cell_exposure, planes_of
from nightwater.soil.need import NeedResult
from nightwater.soil.readings import readings_by_area
from nightwater.spray.grid import TurfGrid, cell_kinds
from nightwater.units import SECONDS_PER_MINUTE


@dataclass(frozen=True)
class Fitted:
    """The fit of one night, with the map it was made on.

    Attributes:
        wetting: the course's matrix.
        of_cells: what each cell's need is made of.
        fit: minutes of the stations whose heads are all known.
        findings: doubts about moisture readings.
        litres: water of the fitted minutes.
        still_litres: of those for still air, where the night's air counts; else NaN.
    """

    wetting: Wetting
    of_cells: CellNeeds
    fit: Fit
    findings: tuple[Finding, ...]
    litres: float
    still_litres: float

    @property
    def need_mm(self) -> NDArray[np.float64]:
        """Need of each turf cell."""
        return self.of_cells.need_mm


def _placed_readings(course: Course, grid: TurfGrid) -> pd.DataFrame:
    """Readings with place; the area that is not named is the one underfoot."""
    rows = course.file.running("readings")
    points = rows[GEOMETRY]
    x = np.array([np.nan if point is None else point.x for point in points], dtype=float)
    y = np.array([np.nan if point is None else point.y for point in points], dtype=float)
    under = [
        grid.areas[grid.area[cell]] if cell >= 0 else None
        for east, north in zip(x, y, strict=True)
        for cell in [grid.cell_at(east, north) if np.isfinite(east) else -1]
    ]
    beneath = pd.Series(under, index=rows.index, dtype=object)
    area = rows["area"].where(rows["area"].notna(), beneath)
    return pd.DataFrame(rows.drop(columns=GEOMETRY)).assign(area=area, x_m=x, y_m=y)


def _exposure(course: Course, grid: TurfGrid, night: date) -> NDArray[np.float64]:
    """What slopes between the known levels make of each cell's need."""
    sky = Sky(course.settings.site.latitude_deg, night.timetuple().tm_yday)
    planes = planes_of(*known_levels(course.ground))
    share = course.settings.need.slope_share
    return cell_exposure((grid.x_m, grid.y_m), grid.area, planes, sky, share)


def needs_of_cells(
    course: Course, grid: TurfGrid, wanted: NeedResult, night: date
) -> tuple[CellNeeds, tuple[Finding, ...]]:
    """Need of each turf cell: its area's by slope, moved by readings, times trims on the map.

    Trims of an area, a kind, a hole, a station or the course do not count here: they change
    the minutes of stations.

    Args:
        course: the course.
        grid: the turf.
        wanted: need of the night by area, with its account.
        night: the night.

    Returns:
        The needs, and what is doubtful about the readings.
    """
    areas = area_defaults(course.ground.areas)
    readings, findings = readings_by_area(
        _placed_readings(course, grid), areas, wanted.account, night, course.settings.site.timezone
    )
    cells = TurfCells(grid.x_m, grid.y_m, grid.area, grid.areas)
    exposure = _exposure(course, grid, night)
    found = cell_needs(
        cells, areas, wanted.table, readings, course.settings.need, exposure=exposure
    )
    factor = map_factors(course.file.running("trims"), night, grid)
    return found.trimmed(factor), tuple(findings)


def _known_stations(course: Course, laid: Wetting) -> list[str]:
    """Stations all of whose heads have a known pattern."""
    known = set(laid.matrix.heads)
    heads = station_heads(course.ground)
    return [name for name in laid.stations if set(heads.get(name, [])) <= known]


def _station_rows(course: Course, sums: Sequence[StationSum], names: list[str]) -> pd.DataFrame:
    """Flow, floor and longest run of the stations that are fitted, in the matrix's order."""
    longest = course.ground.stations["max_run_min"]
    rows = {
        item.station: {
            "flow_l_s": item.flow_l_s,
            "floor_min": float(item.floor_min),
            "longest_min": 0.0
            if item.run_min == 0
            else float(LONGEST_RUN_MIN if pd.isna(most) else most),
        }
        for item in sums
        for most in [longest.get(item.station)]
    }
    listed = {name: rows[name] for name in names if name in rows}
    columns = ["flow_l_s", "floor_min", "longest_min"]
    return pd.DataFrame.from_dict(listed, orient="index", columns=columns)


def fitted_minutes(
    course: Course,
    wanted: NeedResult,
    night: date,
    sums: Sequence[StationSum],
    progress: Progress = silent,
) -> Fitted:
    """Minutes fitted to the map, of the stations that water tonight.

    Args:
        course: the course.
        wanted: need of the night by area, with its account.
        night: the night.
        sums: minutes by rate, which tell flow, floor, and which stations do not run.
        progress: told each step.

    Raises:
        UserError: what `wetting` or `fit_minutes` refuse.
    """
    air = night_air(course, night)
    laid = wetting(course, progress=progress, air=air)
    of_cells, findings = needs_of_cells(course, laid.grid, wanted, night)
    fit, litres = _fit(course, laid, of_cells.need_mm, sums, progress)
    still = np.nan
    if air.counts:
        progress("and for still air, to tell what the wind costs")
        still = _fit(course, wetting(course), of_cells.need_mm, sums, silent)[1]
    return Fitted(laid, of_cells, fit, findings, litres, still)


def _fit(
    course: Course,
    laid: Wetting,
    needs: NDArray[np.float64],
    sums: Sequence[StationSum],
    progress: Progress,
) -> tuple[Fit, float]:
    """The fit on one map, and its water [L]."""
    rows = _station_rows(course, sums, _known_stations(course, laid))
    place = {name: number for number, name in enumerate(laid.stations)}
    columns = laid.by_station[:, [place[name] for name in rows.index]]
    kinds = cell_kinds(laid.grid, course.ground)
    request = FitRequest(laid.grid, columns, needs, kinds, rows)
    progress(f"minutes of {len(rows)} stations for {len(laid.grid)} cells")

    def told(step: int, gap: float) -> None:
        progress(f"fitting minutes, step {step}: within {gap:.1%} of the best")

    fit = fit_minutes(request, course.settings.minutes, progress=told)
    flow = rows["flow_l_s"].reindex(fit.stations.index).astype(float)
    run_s = fit.stations["run_min"].astype(float) * SECONDS_PER_MINUTE
    return fit, float((flow * run_s).sum())
