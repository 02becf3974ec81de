"""What a repair saves: minutes fitted anew around it, to the shortage there was before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

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

_GAP: Final = 5e-4  # of the fits that are held against each other
MOST_FACTOR: Final = 4.0  # on minutes
MOST_WORTH: Final = 3.0  # e to this power is the most that a lacking litre's worth changes by

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Watering:
    """A course as it waters tonight.

    Attributes:
        grid: the turf.
        by_station: cells × stations [mm/min], by row.
        columns: the same by column.
        need_mm: of each cell; NaN where not known.
        kinds: kind of area of each cell.
        reach: rate at each cell over the mean of its kind; see `reach_of_cells`.
        stations: index = station id, in the order of the columns: flow_l_s, floor_min,
            longest_min (0 where it shall not run) and run_min, the minutes that it runs.
    """

    grid: TurfGrid
    by_station: sparse.csr_array
    columns: sparse.csc_array
    need_mm: Numbers
    kinds: NDArray[Any]
    reach: Numbers
    stations: pd.DataFrame


def watering_of(
    grid: TurfGrid,
    by_station: sparse.csr_array,
    need_mm: Numbers,
    kinds: NDArray[Any],
    stations: pd.DataFrame,
) -> Watering:
    """A course as it waters, with what every repair needs worked out once; see `Watering`."""
    rows = sparse.csr_array(by_station)
    reach = reach_of_cells(rows, kinds)
    return Watering(grid, rows, sparse.csc_array(rows), need_mm, kinds, reach, stations)


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
    return watering_of(watering.grid, after, watering.need_mm, watering.kinds, stations)


@dataclass(frozen=True)
class _Part:
    """Some stations and all cells that they reach; what others bring is taken off the need."""

    request: FitRequest

    def fitted(self, rules: MinuteRules) -> Numbers:
        fit = fit_minutes(self.request, rules, _GAP)
        return fit.stations["exact_min"].to_numpy(dtype=float)

    def water_l(self, run_min: Numbers) -> float:
        flow = self.request.stations["flow_l_s"].to_numpy(dtype=float)
        return float(flow @ run_min) * SECONDS_PER_MINUTE

    def lacking_l(self, run_min: Numbers, served: NDArray[np.bool_]) -> float:
        lack = (self.request.need_mm - self.request.by_station @ run_min)[served]
        return float(np.maximum(lack, 0.0).sum()) * self.request.grid.cell_m2


@dataclass(frozen=True)
class _Around:
    """The stations around a repair, the cells that they reach, and the changed column there."""

    stations: NDArray[np.int64]
    cells: NDArray[np.int64]
    touched: NDArray[np.int64]

    @property
    def place(self) -> NDArray[np.int64]:
        """Where the touched cells stand among the cells."""
        return np.searchsorted(self.cells, self.touched)


def _around(watering: Watering, change: Change, *, whole: bool) -> _Around:
    touched = np.unique(change.rate_mm_min.tocoo().coords[0]).astype(np.int64)
    runs = watering.stations["longest_min"].to_numpy(dtype=float) > 0
    reaching = np.arange(len(runs)) if whole else np.unique(watering.by_station[touched].indices)
    stations = np.union1d(reaching, change.station)
    stations = stations[runs[stations]].astype(np.int64)
    wetted = sparse.csc_array(watering.columns[:, stations]).indices
    cells = np.union1d(wetted, touched).astype(np.int64)
    return _Around(stations, cells, touched)


def _part(watering: Watering, around: _Around, change: Change | None) -> _Part:
    """The stations around, as they are or with the repair made."""
    rows = sparse.csr_array(watering.by_station[around.cells])
    run = watering.stations["run_min"].to_numpy(dtype=float)
    mine = sparse.csr_array(rows[:, around.stations])
    others = rows @ run - mine @ run[around.stations]
    stations = watering.stations.iloc[around.stations]
    reach, kinds = watering.reach[around.cells], watering.kinds[around.cells]
    if change is not None:
        mine, stations = _repaired(mine, stations, around, change)
        reach = _reach_after(watering, around, change)
    inside = np.zeros(len(watering.grid), dtype=bool)
    inside[around.cells] = True
    need = watering.need_mm[around.cells] - others
    grid = part_of_grid(watering.grid, inside)
    return _Part(FitRequest(grid, mine, need, kinds, stations, reach))


def _repaired(
    mine: sparse.csr_array, stations: pd.DataFrame, around: _Around, change: Change
) -> tuple[sparse.csr_array, pd.DataFrame]:
    at = int(np.searchsorted(around.stations, change.station))
    pick = sparse.csr_array(([1.0], ([0], [at])), shape=(1, len(around.stations)))
    added = sparse.csr_array(change.rate_mm_min)[around.cells]
    after = sparse.csr_array(mine + added @ pick)
    after.data[after.data < 0] = 0.0
    flow = stations["flow_l_s"].to_numpy(dtype=float).copy()
    flow[at] += change.flow_l_s
    return after, stations.assign(flow_l_s=flow)


def _reach_after(watering: Watering, around: _Around, change: Change) -> Numbers:
    """Reach with the repair; one head leaves the mean of a kind of area as it is."""
    cells = around.touched
    rate = np.asarray(watering.by_station[cells].sum(axis=1), dtype=float).ravel()
    added = sparse.csr_array(change.rate_mm_min)[cells].toarray().ravel()
    reach = watering.reach[around.cells].copy()
    means = _mean_rates(watering, cells, rate)
    reach[around.place] = np.maximum(rate + added, 0.0) / means
    return reach


def _mean_rates(watering: Watering, cells: NDArray[np.int64], rate: Numbers) -> Numbers:
    """Mean rate of each cell's kind, from a cell of it whose reach is known."""
    codes, _ = pd.factorize(watering.kinds[cells])
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = pd.Series(np.where(rate > 0, rate / watering.reach[cells], np.nan))
    return mean.groupby(codes).transform("median").fillna(np.inf).to_numpy(dtype=float)


def _scaled_to(
    after: _Part, run_min: Numbers, served: NDArray[np.bool_], lacking_l: float
) -> Numbers:
    """Refitted minutes, scaled by one factor until the turf lacks what it lacked before."""

    def too_much(factor: float) -> float:
        return after.lacking_l(factor * run_min, served) - lacking_l

    if too_much(0.0) < 0 or too_much(MOST_FACTOR) > 0:
        return np.full(len(run_min), np.nan)
    return run_min * float(brentq(too_much, 0.0, MOST_FACTOR, xtol=1e-7))


def _refitted_to(
    after: _Part, rules: MinuteRules, served: NDArray[np.bool_], lacking_l: float
) -> Numbers:
    """Minutes of the least water at which the turf lacks what it lacked before.

    A lacking litre is made worth more or less, alike for all kinds, until it comes out so.
    """

    def fitted(worth: float) -> Numbers:
        of_kind = {kind: value * np.exp(worth) for kind, value in rules.shortage_worth.items()}
        return after.fitted(replace(rules, shortage_worth=of_kind))

    def too_much(worth: float) -> float:
        return after.lacking_l(fitted(worth), served) - lacking_l

    if too_much(-MOST_WORTH) < 0 or too_much(MOST_WORTH) > 0:
        return np.full(len(after.request.stations), np.nan)
    return fitted(float(brentq(too_much, -MOST_WORTH, MOST_WORTH, xtol=1e-2)))


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
        whole: fit every station of the course anew, to check the approximation, to the
            least water at the shortage of before instead of by one factor.

    Returns:
        The value. Cells that have a reach over `rules.reach_from` before or after count.

    Raises:
        UserError: what `fit_minutes` refuses.
    """
    around = _around(watering, change, whole=whole)
    before, after = (_part(watering, around, made) for made in (None, change))
    reach = np.maximum(*(np.asarray(one.request.reach) for one in (before, after)))
    served = np.isfinite(before.request.need_mm) & (reach > rules.reach_from)
    old, new = before.fitted(rules), after.fitted(rules)
    lacking = before.lacking_l(old, served)
    equal = (
        _refitted_to(after, rules, served, lacking)
        if whole
        else _scaled_to(after, new, served, lacking)
    )
    return FixValue(
        saved_l=before.water_l(old) - after.water_l(equal),
        before_l=before.water_l(old),
        after_l=after.water_l(new),
        lacking_before_l=lacking,
        lacking_after_l=after.lacking_l(new, served),
        stations=len(around.stations),
    )
