"""Minutes fitted to the map for a night: matrix, need of each cell, fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.wetting import Wetting, wetting
from nightwater.ground.links import station_heads
from nightwater.night.fitted_minutes import Fit, FitRequest, fit_minutes
from nightwater.night.minutes import LONGEST_RUN_MIN
from nightwater.night.plan import StationSum


@dataclass(frozen=True)
class Fitted:
    """The fit of one night, with the map it was made on.

    Attributes:
        wetting: the course's matrix.
        need_mm: need of each turf cell.
        fit: minutes of the stations whose heads are all known.
    """

    wetting: Wetting
    need_mm: NDArray[np.float64]
    fit: Fit


def cell_needs_mm(laid: Wetting, need_mm: pd.Series[float]) -> NDArray[np.float64]:
    """Need of each turf cell: that of its area."""
    of_area = need_mm.reindex(list(laid.grid.areas)).to_numpy(dtype=float)
    return np.asarray(of_area[laid.grid.area], dtype=float)


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
    need_mm: pd.Series[float],
    sums: Sequence[StationSum],
    progress: Progress = silent,
) -> Fitted:
    """Minutes fitted to the map, of the stations that water tonight.

    Args:
        course: the course.
        need_mm: need by area.
        sums: minutes by rate, which tell flow, floor, and which stations do not run.
        progress: told each step.

    Raises:
        UserError: what `wetting` or `fit_minutes` refuse.
    """
    laid = wetting(course, progress=progress)
    needs = cell_needs_mm(laid, need_mm)
    rows = _station_rows(course, sums, _known_stations(course, laid))
    place = {name: number for number, name in enumerate(laid.stations)}
    columns = laid.by_station[:, [place[name] for name in rows.index]]
    kinds = course.ground.areas["kind"].to_numpy(dtype=object)[laid.grid.area]
    request = FitRequest(laid.grid, columns, needs, kinds, rows)
    progress(f"minutes of {len(rows)} stations for {len(laid.grid)} cells")

    def told(step: int, gap: float) -> None:
        progress(f"fitting minutes, step {step}: within {gap:.1%} of the best")

    return Fitted(laid, needs, fit_minutes(request, course.settings.minutes, progress=told))
