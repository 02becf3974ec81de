"""Minutes that follow the map: the stations' minutes that bring cells their need at least cost."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.ground.settings import MinuteRules
from nightwater.night.hinge_program import HingeProgram, solve_hinge_program
from nightwater.night.whole_minutes import whole_minutes
from nightwater.spray.grid import TurfGrid

BLOCK_CELLS: Final = 2  # cells along the side of a block that the program sees as one
CAP_COST: Final = 20.0  # of a litre over the cap of the wettest, in litres
L_PER_M3: Final = 1000.0

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class FitRequest:
    """What the minutes are fitted to.

    Attributes:
        grid: the turf's cells.
        by_station: cells × stations [mm/min].
        need_mm: net need of each cell; NaN where it is not known, which leaves the cell out.
        kinds: kind of area of each cell.
        stations: index = station id, in the order of the columns; columns flow_l_s, floor_min
            (shortest useful run) and longest_min (0 where it shall not run).
        reach: of each cell, where stations beside these count for it too; None to work it out
            from these alone.
    """

    grid: TurfGrid
    by_station: sparse.csr_array
    need_mm: Numbers
    kinds: NDArray[Any]
    stations: pd.DataFrame
    reach: Numbers | None = None


@dataclass(frozen=True)
class Fit:
    """Fitted minutes, and how good they are.

    Attributes:
        stations: index = station id; columns run_min (whole minutes), exact_min (before
            rounding), footprint_need_mm and footprint_depth_mm (means over the ground it wets,
            weighted by how much of its water falls where).
        depth_mm: what each cell gets.
        reach: rate at each cell over the mean of its kind of area.
        counted: whether a cell's need was weighed; the others are gaps or have no need known.
        cost_m3, bound_m3: cost of the whole minutes, and what no minutes can cost less than.
    """

    stations: pd.DataFrame
    depth_mm: Numbers
    reach: Numbers
    counted: NDArray[np.bool_]
    cost_m3: float
    bound_m3: float

    @property
    def gap(self) -> float:
        """Share of the cost that better minutes could save at most."""
        return (self.cost_m3 - self.bound_m3) / self.cost_m3 if self.cost_m3 > 0 else 0.0


def reach_of_cells(by_station: sparse.csr_array, kinds: NDArray[Any]) -> Numbers:
    """Rate of all heads together at each cell over the mean of the wetted cells of its kind."""
    rate = np.asarray(by_station.sum(axis=1), dtype=float).ravel()
    codes, _ = pd.factorize(kinds)
    wet = rate > 0
    total = np.bincount(codes[wet], rate[wet], minlength=codes.max(initial=0) + 1)
    count = np.bincount(codes[wet], minlength=len(total))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.nan_to_num(rate / (total / count)[codes])


def _of_kind(kinds: NDArray[Any], by_kind: Mapping[str, float], usual: float) -> Numbers:
    codes, names = pd.factorize(kinds)
    return np.array([by_kind.get(str(name), usual) for name in names], dtype=float)[codes]


def _weights(reach: Numbers, rules: MinuteRules) -> Numbers:
    """How far a cell counts: not below `reach_from`, in full from `reach_full` on."""
    width = max(rules.reach_full - rules.reach_from, 1e-9)
    return np.clip((reach - rules.reach_from) / width, 0.0, 1.0)


@dataclass(frozen=True)
class _Cells:
    """The cells that count: rows of the matrix and their costs [m³ per mm]."""

    rows: sparse.csr_array
    need_mm: Numbers
    short: Numbers
    over: Numbers
    cap_mm: Numbers  # infinite where there is none
    cap_cost: Numbers


def _counted_cells(
    request: FitRequest, counted: NDArray[np.bool_], weight: Numbers, rules: MinuteRules
) -> _Cells:
    grid, kinds = request.grid, request.kinds[counted]
    litres = weight[counted] * grid.cell_m2 / L_PER_M3  # m³ to a mm
    need = request.need_mm[counted]
    return _Cells(
        rows=sparse.csr_array(request.by_station[counted]),
        need_mm=need,
        short=litres * _of_kind(kinds, rules.shortage_worth, 1.0),
        over=litres * _of_kind(kinds, rules.excess_cost, 0.0),
        cap_mm=need * _of_kind(kinds, rules.wettest_share, np.inf),
        cap_cost=litres * CAP_COST,
    )


def _block_of_cells(grid: TurfGrid, counted: NDArray[np.bool_], side: int) -> NDArray[np.int64]:
    """Number of the block of each counted cell: squares of cells within one area."""
    row = (grid.row[counted] // side).astype(np.int64)
    column = (grid.column[counted] // side).astype(np.int64)
    key = (grid.area[counted] * (grid.rows + 1) + row) * (grid.columns + 1) + column
    _, block = np.unique(key, return_inverse=True)
    return np.asarray(block, dtype=np.int64)


def _joined(cells: _Cells, block: NDArray[np.int64]) -> _Cells:
    """Cells of one block and area as one, weighted by what a litre is worth there.

    A hinge of a mean is at most the mean of hinges, so that a bound of the blocks is one of
    the cells too.
    """
    weight = cells.short + cells.over
    total = np.bincount(block, weight)
    order = np.argsort(block, kind="stable")
    starts = np.concatenate(([0], np.cumsum(np.bincount(block))))
    share = (weight / total[block])[order]
    mean = sparse.csr_array((share, order, starts), shape=(len(total), len(weight)))
    return _Cells(
        rows=sparse.csr_array(mean @ cells.rows),
        need_mm=mean @ cells.need_mm,
        short=np.bincount(block, cells.short).astype(float),
        over=np.bincount(block, cells.over).astype(float),
        cap_mm=mean @ cells.cap_mm,
        cap_cost=np.bincount(block, cells.cap_cost).astype(float),
    )


def _program(cells: _Cells, price: Numbers, upper: Numbers) -> HingeProgram:
    capped = np.isfinite(cells.cap_mm)
    none = np.zeros(int(capped.sum()))
    rows = sparse.vstack([cells.rows, cells.rows[capped]]) if capped.any() else cells.rows
    return HingeProgram(
        rows=sparse.csr_array(rows),
        target=np.concatenate([cells.need_mm, cells.cap_mm[capped]]),
        short=np.concatenate([cells.short, none]),
        over=np.concatenate([cells.over, cells.cap_cost[capped]]),
        price=price,
        upper=upper,
    )


def _explained(request: FitRequest, exact: Numbers, run: Numbers, depth: Numbers) -> pd.DataFrame:
    water = np.asarray(request.by_station.sum(axis=0), dtype=float).ravel()
    known = np.where(np.isnan(request.need_mm), 0.0, request.need_mm)
    with np.errstate(invalid="ignore", divide="ignore"):
        need = (request.by_station.T @ known) / water
        got = (request.by_station.T @ depth) / water
    return pd.DataFrame(
        {
            "run_min": run.astype(np.int64),
            "exact_min": exact,
            "footprint_need_mm": need,
            "footprint_depth_mm": got,
        },
        index=request.stations.index,
    )


def fit_minutes(
    request: FitRequest,
    rules: MinuteRules,
    gap: float = 2e-3,
    progress: Callable[[int, float], None] | None = None,
    *,
    block_cells: int = BLOCK_CELLS,
) -> Fit:
    """Whole minutes of every station that bring the cells their need at least cost.

    The cost is the water, plus what a lacking litre is worth by kind of area, plus
    what a litre too much costs, plus a steep price over the cap of the wettest. A cell
    counts by its reach (see `MinuteRules`). The program is solved over blocks of cells to a
    proved gap; then minutes are made whole and no shorter than the rotation floor,
    station by station, at the least cost over the single cells.

    Args:
        request: what the minutes are fitted to.
        rules: worths, costs, caps and reach.
        gap: gap of the program over blocks that is good enough.
        progress: told steps and gap; what it raises ends the search.
        block_cells: cells along the side of a block; 1 for single cells, four times the work.

    Returns:
        The fit; its `gap` holds for single cells and whole minutes, floors included.

    Raises:
        UserError: a station without flow, or a worth without meaning.
    """
    reach = request.reach
    if reach is None:
        reach = reach_of_cells(request.by_station, request.kinds)
    runs = request.stations["longest_min"].to_numpy(dtype=float) > 0
    columns = sparse.csr_array(request.by_station[:, np.flatnonzero(runs)])
    counted = np.isfinite(request.need_mm) & (reach > rules.reach_from)
    served = FitRequest(
        request.grid, columns, request.need_mm, request.kinds, request.stations[runs]
    )
    cells = _counted_cells(served, counted, _weights(reach, rules), rules)
    block = _block_of_cells(request.grid, counted, block_cells)
    flow = served.stations["flow_l_s"].to_numpy(dtype=float)
    price, upper = flow * 60.0 / L_PER_M3, served.stations["longest_min"].to_numpy(dtype=float)
    exact, run, cost, bound = np.zeros(len(runs)), np.zeros(len(runs)), 0.0, 0.0
    if len(upper) and counted.any():
        solved = solve_hinge_program(_program(_joined(cells, block), price, upper), gap, progress)
        fine = _program(cells, price, upper)
        floor = served.stations["floor_min"].to_numpy(dtype=float)
        exact[runs] = solved.columns
        run[runs] = whole_minutes(fine, solved.columns, floor)
        cost, bound = fine.cost(run[runs]), solved.bound
    depth = np.asarray(request.by_station @ run, dtype=float)
    table = _explained(request, exact, run, depth)
    return Fit(table, depth, reach, counted, cost, bound)
