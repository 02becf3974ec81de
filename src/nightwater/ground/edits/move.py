"""Move rows on the map."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.columns import Shape
from nightwater.ground.edits.geometry import checked_coordinates, shaped
from nightwater.ground.edits.rows import listed, rows_of, table_named, with_values
from nightwater.ground.record import Ground


def _moved(geometry: BaseGeometry, by: NDArray[np.float64], shape: Shape) -> BaseGeometry:
    there = shapely.transform(geometry, lambda places: places + by)
    return shaped(checked_coordinates(there), shape)


def move(ground: Ground, table: str, ids: Sequence[str], dx_m: float, dy_m: float) -> Ground:
    """The ground with rows moved east by `dx_m` and north by `dy_m` [m]; nothing else changes.

    Raises:
        UserError: unknown rows, rows without a place on the map, or one moved off every map.
    """
    shape = table_named(table).shape
    if shape is None:
        raise UserError(f"{table} have no place on the map, so they cannot be moved.")
    rows = rows_of(ground, table, ids)
    nowhere = [identity for identity, row in rows.items() if row[GEOMETRY] is None]
    if nowhere:
        raise UserError(f"{listed(nowhere)} have no place on the map yet. Draw them first.")
    by = np.array([dx_m, dy_m])
    moved = {
        identity: {GEOMETRY: _moved(row[GEOMETRY], by, shape)} for identity, row in rows.items()
    }
    return with_values(ground, table, moved)
