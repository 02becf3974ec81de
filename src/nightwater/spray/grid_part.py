"""The part of a grid that a question is about, cut to its own rectangle."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightwater.spray.grid import TurfGrid


def part_of_grid(grid: TurfGrid, inside: NDArray[Any]) -> TurfGrid:
    """Some turf cells as a grid of their own; it lies on the lattice of the whole one.

    Args:
        grid: the whole turf.
        inside: whether each turf cell is kept.

    Returns:
        The part, its cells in the order of the whole; a rectangle no larger than they need.
    """
    row, column = grid.row[inside], grid.column[inside]
    if not len(row):
        none = np.full((0, 0), -1, dtype=np.int32)
        area = grid.area[inside]
        return replace(grid, rows=0, columns=0, turf=none, row=row, column=column, area=area)
    top, left = int(row.min()), int(column.min())
    row, column = row - top, column - left
    turf = np.full((int(row.max()) + 1, int(column.max()) + 1), -1, dtype=np.int32)
    turf[row, column] = np.arange(len(row), dtype=np.int32)
    return replace(
        grid,
        left_m=grid.left_m + left * grid.cell_m,
        top_m=grid.top_m - top * grid.cell_m,
        rows=turf.shape[0],
        columns=turf.shape[1],
        turf=turf,
        row=row,
        column=column,
        area=grid.area[inside],
    )
