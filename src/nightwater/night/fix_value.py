"""What a repair saves: minutes fitted anew around it, to the shortage there was before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import brentq

from nightwater.ground.settings import MinuteRules
from nightwater.night.fitted_minutes import FitRequest, fit_minutes, reach_of_cells
from nightwater.spray.grid import TurfGrid
from nightwater.spray.grid_part import part_of_grid
from nightwater.units import SECONDS_PER_MINUTE

_GAP = 5e-4  # of the fits that are held against each other

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Watering:
    """A course as it waters tonight.

    Attributes:
        grid: the turf.
        by_station: cells × stations [mm/min].
        need_mm: of each cell; NaN where not known.
        kinds: kind of area of each cell.
        stations: index = station id, in the order of the columns: flow_l_s, floor_min,
            longest_min (0 where it shall not run) and run_min, the minutes that it runs.
    """

    grid: TurfGrid
    by_station: sparse.csr_array
    need_mm: Numbers
    kinds: NDArray[Any]
    stations: pd.DataFrame


@dataclass(frozen=True)
class Change:
    """What a repair changes.

    Attributes:
        station: place of the station whose head is repaired.
        rate_mm_min: what is added to its column, cells × 1; parts may be below 0.
        flow_l_s: what is added to its flow.
    """

    station: int
    rate_mm_min: sparse.csc_array
    flow_l_s: float


@dataclass(frozen=True)
class FixValue:
    """What a repair is worth on one night.

    Attributes:
        saved_l: water saved at equal shortage; below 0 where the repair costs water, NaN where
            no minutes bring the shortage of before.
        before_l, after_l: water of the stations around it, fitted before and after.
        lacking_before_l, lacking_after_l: what their turf lacks at those minutes.
        stations: how many stations were fitted anew.
    """

    saved_l: float
    before_l: float
    after_l: float
    lacking_before_l: float
    lacking_after_l: float
    stations: int


def with_change(watering: Watering, change: Change) -> Watering:
    """The course once the repair is made."""
    pick = sparse.csr_array(
        ([1.0], ([0], [change.station])), shape=(1, watering.by_station.shape[1])
    )
    after = sparse.csr_array(watering.by_station + change.rate_mm_min @ pick)
    after.data[after.data < 0] = 0.0
    after.eliminate_zeros()
    flow = watering.stations["flow_l_s"].to_numpy(dtype=float).copy()
    flow[change.station] += change.flow_l_s
    stations = watering.stations.assign(flow_l_s=flow)
    return Watering(watering.grid, after, watering.need_mm, watering.kinds, stations)


@dataclass(frozen=True)
class _Part:
    """Some stations and all cells that they reach; what others bring is taken off the need."""

    request: FitRequest
    served: NDArray[np.bool_]

    def fitted(self, rules: MinuteRules) -> Numbers:
        fit = fit_minutes(self.request, rules, _GAP)
        return fit.stations["exact_min"].to_numpy(dtype=float)

    def water_l(self, run_min: Numbers) -> float:
        flow = self.request.stations["flow_l_s"].to_numpy(dtype=float)
        return float(flow @ run_min) * SECONDS_PER_MINUTE

    def lacking_l(self, run_min: Numbers) -> float:
        lack = self.request.need_mm - self.request.by_station @ run_min
        return float(np.maximum(lack[self.served], 0.0).sum()) * self.request.grid.cell_m2


def _part(
    watering: Watering,
    reach: Numbers,
    chosen: tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[np.bool_]],
) -> _Part:
    cells, stations, served = chosen
    rows = sparse.csr_array(watering.by_station[cells])
    run = watering.stations["run_min"].to_numpy(dtype=float)
    mine = sparse.csr_array(rows[:, stations])
    others = rows @ run - mine @ run[stations]
    request = FitRequest(
        grid=part_of_grid(watering.grid, cells),
        by_station=mine,
        need_mm=watering.need_mm[cells] - others,
        kinds=watering.kinds[cells],
        stations=watering.stations.iloc[stations],
        reach=reach[cells],
    )
    return _Part(request, served[cells])


def _stations_on(watering: Watering, cells: NDArray[np.int64]) -> NDArray[np.int64]:
    touching = np.unique(sparse.csr_array(watering.by_station[cells]).indices)
    runs = watering.stations["longest_min"].to_numpy(dtype=float) > 0
    return touching[runs[touching]].astype(np.int64)


def _equal_factor(after: _Part, run_min: Numbers, lacking_l: float) -> float:
    """Factor on refitted minutes at which the turf lacks what it lacked before."""

    def too_much(factor: float) -> float:
        return after.lacking_l(factor * run_min) - lacking_l

    most = 4.0
    if too_much(0.0) < 0 or too_much(most) > 0:
        return float("nan")
    return float(brentq(too_much, 0.0, most, xtol=1e-7))


def fix_value(
    watering: Watering, change: Change, rules: MinuteRules, *, whole: bool = False
) -> FixValue:
    """Water that a repair saves on one night, at equal shortage.

    The stations that reach the ground which the repair changes are fitted, once as it is and
    once repaired, all others running as tonight; then the minutes after the repair are scaled by
    one factor until the turf of these stations lacks as many litres as before. Left out: whole
    minutes and rotation floors, which depend on the night more than on the repair; and what
    stations farther off could do.

    Args:
        watering: the course tonight.
        change: the repair.
        rules: worths and costs, as for the night's own fit; a cap on the wettest counts
            what these stations bring alone.
        whole: fit every station of the course anew, to check the approximation.

    Returns:
        The value. Cells that have a reach over `rules.reach_from` before or after count.

    Raises:
        UserError: what `fit_minutes` refuses.
    """
    later = with_change(watering, change)
    reach = [reach_of_cells(one.by_station, one.kinds) for one in (watering, later)]
    touched = np.unique(change.rate_mm_min.tocoo().coords[0])
    stations = (
        np.flatnonzero(watering.stations["longest_min"].to_numpy(dtype=float) > 0)
        if whole
        else np.union1d(_stations_on(watering, touched), _stations_on(later, touched))
    )
    cells = np.zeros(len(watering.grid), dtype=bool)
    for one in (watering, later):
        cells |= np.diff(sparse.csr_array(one.by_station[:, stations]).indptr) > 0
    served = np.isfinite(watering.need_mm) & (np.maximum(*reach) > rules.reach_from)
    chosen = (cells, stations.astype(np.int64), served)
    before, after = (_part(*pair, chosen) for pair in zip((watering, later), reach, strict=True))
    old, new = before.fitted(rules), after.fitted(rules)
    lacking = before.lacking_l(old)
    saved = before.water_l(old) - after.water_l(new) * _equal_factor(after, new, lacking)
    return FixValue(
        saved_l=saved,
        before_l=before.water_l(old),
        after_l=after.water_l(new),
        lacking_before_l=lacking,
        lacking_after_l=after.lacking_l(new),
        stations=len(stations),
    )
