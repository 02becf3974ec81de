"""Trims drawn on the map: which cells they change, and by how much."""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.changes import GEOMETRY
from nightwater.night.minutes import active_trims
from nightwater.spray.grid import TurfGrid, cells_within

MAP_SUBJECT: Final = "map"


def map_trims(trims: pd.DataFrame, night: date) -> pd.DataFrame:
    """The drawn trims that hold on a night and have an outline."""
    tonight = active_trims(trims, night)
    drawn = tonight["subject"] == MAP_SUBJECT
    return tonight[drawn & tonight[GEOMETRY].notna()] if GEOMETRY in tonight else tonight[:0]


def cells_of_patch(grid: TurfGrid, patch: object) -> NDArray[np.int64]:
    """Places of the turf cells whose middle lies in a polygon."""
    row, column = cells_within(patch, grid.left_m, grid.top_m, grid.cell_m)  # type: ignore[arg-type]
    kept = (row >= 0) & (row < grid.rows) & (column >= 0) & (column < grid.columns)
    found = grid.turf[row[kept], column[kept]]
    return found[found >= 0].astype(np.int64)


def map_factors(trims: pd.DataFrame, night: date, grid: TurfGrid) -> NDArray[np.float64]:
    """Factor of each turf cell from the trims drawn on the map; where several lie, their product.

    Args:
        trims: the trims table.
        night: its date; first and last night both count.
        grid: the turf.

    Returns:
        One per cell, 1 where nothing is drawn.
    """
    factor = np.ones(len(grid))
    drawn = map_trims(trims, night)
    for patch, times in zip(drawn.get(GEOMETRY, []), drawn["factor"], strict=True):
        if not pd.isna(times):
            factor[cells_of_patch(grid, patch)] *= float(times)
    return factor
