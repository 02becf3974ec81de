"""The ground that heads throw on, as polygons."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
import shapely

from nightwater.ground.shapes import Geometries

_STEPS: Final = 24  # a half circle of 24 chords lacks 0.3 % of its area


def _sector(x: float, y: float, throw_m: float, arc_deg: float, bearing_deg: float) -> object:
    turn = np.radians(bearing_deg + arc_deg * (np.arange(_STEPS + 1) / _STEPS - 0.5))
    rim = np.column_stack((x + throw_m * np.sin(turn), y + throw_m * np.cos(turn)))
    return shapely.Polygon([(x, y), *rim])


def sector_shapes(heads: pd.DataFrame) -> Geometries:
    """The sector of each head; the whole circle of one that turns full.

    Args:
        heads: columns x, y, throw_m [m], arc_deg and bearing_deg, as `Linked.heads` has them.

    Returns:
        Polygons, shape (n,); empty where place, throw or a part circle's bearing is missing.
    """
    columns = ("x", "y", "throw_m", "arc_deg", "bearing_deg")
    x, y, throw, arc, bearing = (heads[name].to_numpy(dtype=float) for name in columns)
    found = np.full(len(heads), shapely.Polygon(), dtype=object)
    placed = np.isfinite(x + y + throw) & (throw > 0)
    full = placed & (arc >= 360.0)
    found[full] = shapely.buffer(shapely.points(x[full], y[full]), throw[full])
    for row in np.flatnonzero(placed & (arc < 360.0) & np.isfinite(bearing)):
        found[row] = _sector(x[row], y[row], throw[row], arc[row], bearing[row])
    return found


def shares_on(
    sectors: Geometries, ground: Geometries
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Share of each sector's ground that lies on some polygons.

    Args:
        sectors: polygons, shape (n,); empty ones have a share of 0.
        ground: polygons that do not lie on each other.

    Returns:
        Shape (n,), 0 to 1.
    """
    area = np.zeros(len(sectors))
    one, other = shapely.STRtree(ground).query(sectors, predicate="intersects")
    np.add.at(area, one, shapely.area(shapely.intersection(sectors[one], ground[other])))
    whole = shapely.area(sectors)
    return np.divide(area, whole, out=np.zeros(len(sectors)), where=whole > 0)
