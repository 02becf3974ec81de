"""The film of a night: at each step what is open, what flows, and how much has fallen where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.desk.course import Course
from nightwater.desk.wetting import Wetting, wetting
from nightwater.ground.tables import WATERED_KINDS
from nightwater.night.build import linear_settings
from nightwater.night.film import Frame, frames, run_so_far_min
from nightwater.night.plan import Night
from nightwater.night.requests import night_limits, station_pipes
from nightwater.pipes.network import build_network

Numbers = NDArray[np.float64]
STEP_MIN: Final = 5
FILM_CELL_M: Final = 2.0
_MAIN_KINDS: Final = ("header", "main", "loop")


@dataclass(frozen=True)
class Film:
    """A night in steps.

    Attributes:
        night: which.
        step_min: minutes from frame to frame.
        frames: from the night's start to its end, both included.
        areas: ids of the watered areas that the map knows.
        depth_mm: mean depth so far on each area, shape (frames, areas); NaN where none of its
            ground is known.
        left_out: how many heads and nozzles the depths leave out.
    """

    night: Night
    step_min: int
    frames: tuple[Frame, ...]
    areas: tuple[str, ...]
    depth_mm: Numbers
    left_out: int


def area_means(wet: Wetting, areas: Sequence[str], of_cell: NDArray[np.int64]) -> sparse.csr_array:
    """Mean depth rate of each area by station [mm/min], shape (areas, stations)."""
    known = of_cell >= 0
    counts = np.bincount(of_cell[known], minlength=len(areas)).astype(float)
    with np.errstate(divide="ignore"):
        share = 1.0 / counts
    rows, cells = of_cell[known], np.flatnonzero(known)
    mean = sparse.csr_array(
        (share[rows], (rows, cells)), shape=(len(areas), wet.by_station.shape[0])
    )
    return sparse.csr_array(mean @ wet.by_station)


def film(course: Course, night: Night, step_min: int = STEP_MIN) -> Film:
    """The film of a night in the record as it is now, in still air.

    Depths come from the wetting matrix at 2 m: what planned minutes lay on each area's ground
    by then, neighbours' throw included and losses not taken off.

    Raises:
        UserError: the turf is too large for the cells.
    """
    wet = wetting(course, FILM_CELL_M)
    rows = course.ground.areas
    areas = tuple(map(str, rows.index[rows["kind"].isin(WATERED_KINDS)]))
    place = {area: number for number, area in enumerate(areas)}
    of_area = np.array([place.get(str(area), -1) for area in wet.grid.areas], dtype=np.int64)
    of_cell = of_area[wet.grid.area]
    rates = area_means(wet, areas, of_cell)
    made = frames(night, step_min)
    so_far = run_so_far_min(night, wet.stations, [frame.minute for frame in made])
    depth = np.asarray((rates @ so_far.T).T, dtype=float)
    empty = np.bincount(of_cell[of_cell >= 0], minlength=len(areas)) == 0
    depth[:, empty] = np.nan
    return Film(night, step_min, made, areas, depth, len(wet.findings))


def main_loads(course: Course, night: Night, most: int = 12) -> pd.DataFrame:
    """Flow on the mains that come nearest to their velocity limit, minute by minute.

    Mains are headers, mains and loops; where the record names none, every pipe is looked at.

    Returns:
        Columns pipe, minute, flow_l_s, limit_l_s and share; the fullest pipes first.

    Raises:
        UserError: the record has no pump.
    """
    network, _ = build_network(course.ground)
    settings = linear_settings(course.ground, course.settings)
    limits = night_limits(course.ground, network, settings).pipes_l_s
    loads, mains = _pipe_flows(course, night), _mains(course)
    peak = {pipe: flow.max() / limits[pipe] for pipe, flow in loads.items() if limits.get(pipe)}
    peak = {pipe: share for pipe, share in peak.items() if not mains or pipe in mains}
    fullest = sorted(peak, key=lambda pipe: (-peak[pipe], pipe))[:most]
    parts = [
        pd.DataFrame(
            {
                "pipe": pipe,
                "minute": np.arange(len(loads[pipe])),
                "flow_l_s": loads[pipe],
                "limit_l_s": limits[pipe],
                "share": loads[pipe] / limits[pipe],
            }
        )
        for pipe in fullest
    ]
    columns = ["pipe", "minute", "flow_l_s", "limit_l_s", "share"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def _mains(course: Course) -> set[str]:
    kinds = course.ground.pipes["kind"]
    return {str(pipe) for pipe in kinds.index[kinds.isin(_MAIN_KINDS)]}


def _pipe_flows(course: Course, night: Night) -> dict[str, Numbers]:
    """Flow on each pipe at every minute [L/s], by the routes that the plan was made with."""
    network, _ = build_network(course.ground)
    carried = station_pipes(course.ground, network)
    flows: dict[str, Numbers] = {}
    for run in night.runs:
        part = slice(max(run.start_min, 0), run.start_min + run.run_min)
        for pipe, flow_l_s in carried.get(run.station, ()):
            flows.setdefault(pipe, np.zeros(night.window.minutes))[part] += flow_l_s
    return flows
