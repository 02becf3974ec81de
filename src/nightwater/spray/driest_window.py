"""The scheduling coefficient: how much longer to run so that the driest window gets the mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError
from nightwater.spray.grid import TurfGrid

WINDOW_SHARES: Final = (0.01, 0.02, 0.05, 0.10)
DEFAULT_WINDOW_SHARE: Final = 0.05
LEAST_FILLED: Final = 0.5  # own choice: a window half beside the turf tells of its edge only

Numbers = NDArray[np.float64]
Places = NDArray[np.int32]


@dataclass(frozen=True)
class DriestWindow:
    """The driest window of every group of cells; arrays with one value for each group.

    Attributes:
        coefficient: mean of the group over the window's mean; at least about 1, infinite
            for a window without any water, NaN for a group without meaning.
        side_m: side of the square window.
        x_m, y_m: middle of the driest window.
    """

    coefficient: Numbers
    side_m: Numbers
    x_m: Numbers
    y_m: Numbers


def _box_sums(image: Numbers, side: int) -> Numbers:
    """Sum over every square of `side` cells that has a part on the image."""
    padded = np.pad(image, ((side, side - 1), (side, side - 1)))
    running = padded.cumsum(axis=0).cumsum(axis=1)
    return np.asarray(
        running[side:, side:]
        - running[:-side, side:]
        - running[side:, :-side]
        + running[:-side, :-side],
        dtype=float,
    )


def _driest(depth: Numbers, row: Places, column: Places, share: float) -> tuple[float, ...]:
    """Mean of the driest window, its side in cells, and the row and column of its middle."""
    side = max(1, round(float(np.sqrt(share * len(depth)))))
    top, left = int(row.min()), int(column.min())
    shape = (int(row.max()) - top + 1, int(column.max()) - left + 1)
    water, turf = np.zeros(shape), np.zeros(shape)
    water[row - top, column - left] = depth
    turf[row - top, column - left] = 1.0
    cells = np.rint(_box_sums(turf, side))
    counted = cells >= min(LEAST_FILLED * side**2, cells.max())
    means = np.where(counted, _box_sums(water, side) / np.maximum(cells, 1.0), np.inf)
    place = np.unravel_index(int(means.argmin()), means.shape)
    middle = (side - 1) / 2.0
    # A place in the sums is the window's last cell, in cells from the image's corner.
    return float(means[place]), side, top + place[0] - middle, left + place[1] - middle


def _check_share(share: float) -> None:
    if share not in WINDOW_SHARES:
        offered = ", ".join(f"{100 * one:g} %" for one in WINDOW_SHARES)
        raise UserError(
            f"A window of {100 * share:g} % of the turf is not offered; choose from {offered}."
        )


def driest_window(
    grid: TurfGrid,
    depth: ArrayLike,
    group: ArrayLike,
    groups: int,
    share: float = DEFAULT_WINDOW_SHARE,
) -> DriestWindow:
    """Scheduling coefficient of every group: its mean over the mean of its driest window.

    The window is a square of cells whose ground is a stated share of the group's, moved over
    the group cell by cell; only cells of the group count. Windows of which less than half
    is the group's are left out, unless the group is so narrow that no window is fuller.

    Args:
        grid: the turf.
        depth: of each turf cell, any unit, nothing negative.
        group: number of each cell's group from 0; -1 for none.
        groups: how many groups there are.
        share: ground of the window over that of the group: 0.01, 0.02, 0.05 or 0.10.

    Returns:
        Arrays of length `groups`; NaN for one without cells, with a missing or negative depth,
        or without any water.

    Raises:
        UserError: a share that is not offered.

    Reference: Colorado Water Conservation Board, Hydrologic Models Inventory, page 1-16
    (Center for Irrigation Technology, Fresno): a run-time multiplier that tells how much
    longer to run so that the dry window gets enough, with windows of 1, 2, 5 and 10 % of the
    overlapped area. The shape of the window on turf of any outline is our own choice.
    """
    _check_share(share)
    values = np.asarray(depth, dtype=float)
    owner = np.asarray(group, dtype=np.int64)
    order = np.argsort(owner, kind="stable")
    bounds = np.searchsorted(owner[order], np.arange(groups + 1))
    found = np.full((4, groups), np.nan)
    for number in range(groups):
        mine = order[bounds[number] : bounds[number + 1]]
        water = values[mine]
        if not len(mine) or not np.isfinite(water).all() or water.min() < 0 or water.max() <= 0:
            continue
        low, side, row, column = _driest(water, grid.row[mine], grid.column[mine], share)
        # The sums leave a rounding of the order of 1e-10 where there is no water at all.
        ratio = water.mean() / low if low > 1e-9 * water.mean() else np.inf
        x_m = grid.left_m + (column + 0.5) * grid.cell_m
        y_m = grid.top_m - (row + 0.5) * grid.cell_m
        found[:, number] = ratio, side * grid.cell_m, x_m, y_m
    return DriestWindow(*found)
