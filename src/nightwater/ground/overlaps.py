"""Which area owns a piece of ground where several lie on each other."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, sound_shapes

SPECIAL_FIRST: Final = (
    "green",
    "tee",
    "bunker",
    "water",
    "building",
    "path",
    "approach",
    "fairway",
    "practice",
    "grounds",
    "rough",
    "native",
)


def _precedence(kinds: pd.Series[Any], shapes: Geometries) -> NDArray[np.int64]:
    """Place of each area in the order of ownership, 0 first.

    The more special kind owns; among equals the smaller area, then the earlier row.
    """
    places = {kind: place for place, kind in enumerate(SPECIAL_FIRST)}
    rank = kinds.map(places).fillna(len(places)).to_numpy(dtype=np.int64)
    order = np.lexsort((np.arange(len(rank)), shapely.area(shapes), rank))
    precedence = np.empty(len(rank), dtype=np.int64)
    precedence[order] = np.arange(len(rank))
    return precedence


def own_shapes(ground: Ground) -> Geometries:
    """Every area without the ground that a more special area takes from it.

    A green inside a fairway polygon is the green's ground; a bunker, a path or a building is
    nobody's turf.
    Two areas of one kind share nothing either: the smaller one owns the overlap.

    Returns:
        Shapely geometries in the order of `ground.areas`; empty where nothing is left.
    """
    shapes = sound_shapes(ground.areas, "areas")
    precedence = _precedence(ground.areas["kind"], shapes)
    own, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    beneath = precedence[other] < precedence[own]
    left = shapes.copy()
    for row in np.unique(own[beneath]):
        above = shapes[other[beneath & (own == row)]]
        left[row] = shapely.difference(shapes[row], shapely.union_all(above))
    return left


def net_area_m2(ground: Ground) -> pd.Series[float]:
    """Ground of each area, none counted twice [m²].

    Args:
        ground: any record; areas without a polygon count 0.

    Returns:
        Series area id → m²; the sum is the area of the union of all polygons.
    """
    net = shapely.area(own_shapes(ground))
    return pd.Series(net, index=ground.areas.index, name="net_m2", dtype=float)


def overlap_pairs(ground: Ground) -> pd.DataFrame:
    """Pairs of areas of the same kind that lie on each other.

    Returns:
        Columns one, other (ids, the earlier row first), overlap_m2, share (of the
        smaller area, 0 to 1); pairs that only touch come with 0.
    """
    shapes = sound_shapes(ground.areas, "areas")
    kinds = ground.areas["kind"].to_numpy()
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    same = (one < other) & (kinds[one] == kinds[other])
    one, other = one[same], other[same]
    overlap = shapely.area(shapely.intersection(shapes[one], shapes[other]))
    smaller = np.minimum(shapely.area(shapes[one]), shapely.area(shapes[other]))
    index = ground.areas.index
    share = np.divide(overlap, smaller, out=np.zeros_like(overlap), where=smaller > 0)
    return pd.DataFrame(
        {"one": index[one], "other": index[other], "overlap_m2": overlap, "share": share}
    )
