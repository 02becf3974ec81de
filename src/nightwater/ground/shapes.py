"""Geometry columns of the record as sound shapely arrays, ready for trees and sums."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.columns import Shape
from nightwater.ground.tables import TABLES

Geometries = NDArray[np.object_]

_DIMENSION = {Shape.POINT: 0, Shape.LINE: 1, Shape.POLYGON: 2}


def sound_shapes(rows: pd.DataFrame, table: str) -> Geometries:
    """Geometries of a table, made valid, empty where missing or of another dimension.

    Args:
        rows: a table of the record with a geometry, any length.
        table: its name in `TABLES`, which says what dimension counts.

    Returns:
        Shapely geometries in the order of the rows; never None.
    """
    found = np.asarray(rows.geometry.to_numpy(), dtype=object)
    found = found.copy()
    # GEOS refuses the x of an empty point, not that of an empty collection
    found[shapely.is_missing(found) | shapely.is_empty(found)] = shapely.GeometryCollection()
    broken = ~shapely.is_valid(found)
    found[broken] = shapely.make_valid(found[broken])
    shape = TABLES[table].shape
    assert shape is not None, table
    wanted = _DIMENSION[shape]
    found[shapely.get_dimensions(found) != wanted] = shapely.GeometryCollection()
    return found


def texts(rows: pd.DataFrame, column: str) -> list[str | None]:
    """A text column as plain strings, None where missing."""
    return [value if isinstance(value, str) and value else None for value in rows[column]]


def ids(rows: pd.DataFrame) -> NDArray[np.object_]:
    """The ids of a table in row order."""
    return np.asarray(rows.index, dtype=object)


def chosen(names: NDArray[np.object_], places: Sequence[int] | NDArray[np.int64]) -> list[object]:
    """Names at the given places, None for a place of -1."""
    return [names[place] if place >= 0 else None for place in places]
