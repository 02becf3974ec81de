"""Trims drawn on the map: which cells they change, and by how much."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.ground.changes import GEOMETRY
from nightwater.night.hand_changes import ActingTrim
from nightwater.night.minutes import acting_trim, active_trims
from nightwater.spray.grid import TurfGrid, cells_within

MAP_SUBJECT: Final = "map"
LEAST_SHARE: Final = 0.01  # of its water: a station with less of it in a patch is not told of it


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


def acting_patches(
    trims: pd.DataFrame,
    night: date,
    grid: TurfGrid,
    by_station: sparse.csr_array,
    stations: Sequence[str],
) -> dict[str, tuple[ActingTrim, ...]]:
    """The drawn trims that act on each station, with the share of its water that falls in them.

    Args:
        trims: the trims table.
        night: its date.
        grid: the turf.
        by_station: cells × stations [mm/min].
        stations: ids, in the order of the columns.

    Returns:
        By station; one that has no more than 1 % of its water in any patch is not in it.
    """
    found: dict[str, tuple[ActingTrim, ...]] = {}
    whole = np.asarray(by_station.sum(axis=0), dtype=float).ravel()
    for row in map_trims(trims, night).to_dict("records"):
        if pd.isna(row["factor"]) or row["factor"] == 1:
            continue
        inside = np.zeros(len(grid))
        inside[cells_of_patch(grid, row[GEOMETRY])] = 1.0
        share = np.divide(by_station.T @ inside, whole, out=np.zeros_like(whole), where=whole > 0)
        for place in np.flatnonzero(share > LEAST_SHARE).tolist():
            name, named = stations[place], {str(key): value for key, value in row.items()}
            acts = acting_trim(named, float(share[place]))
            found[name] = (*found.get(name, ()), acts)
    return found
