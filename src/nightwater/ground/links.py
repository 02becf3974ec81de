"""What belongs to what: heads to areas, areas to holes, stations to heads."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.overlaps import net_area_m2 as net_area_m2
from nightwater.ground.play import area_holes as area_holes
from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, chosen, ids, sound_shapes
from nightwater.ground.station_lists import resolve_station_lists as resolve_station_lists
from nightwater.ground.tables import WATERED_KINDS

AIMED_ARC_DEG: Final = 300.0  # a wider sector wets the ground around the head itself
NEAR_THROW_M: Final = 20.0  # where neither nozzle nor spacing tells the throw


def head_throw_m(ground: Ground) -> pd.Series[float]:
    """How far each head throws [m]: its nozzle's radius, else its spacing, else NaN."""
    radius = ground.nozzles["radius_m"].reindex(ground.heads["nozzle"].to_numpy())
    spacing = ground.heads["spacing_m"].to_numpy(dtype=float)
    throw = np.where(np.isnan(radius.to_numpy(dtype=float)), spacing, radius.to_numpy(dtype=float))
    return pd.Series(throw, index=ground.heads.index, name="throw_m")


def _aims(ground: Ground, points: Geometries, throw_m: NDArray[np.float64]) -> Geometries:
    """The centre of gravity of each part-circle sector, 2/3·r·sin(a/2)/(a/2) ahead.

    Empty where arc, bearing or throw do not tell it.
    """
    bearing = np.radians(ground.heads["bearing_deg"].to_numpy(dtype=float))
    arc = ground.heads["arc_deg"].to_numpy(dtype=float)
    half = np.radians(arc) / 2.0
    reach = 2.0 / 3.0 * throw_m * np.sin(half) / half
    x, y = shapely.get_x(points), shapely.get_y(points)
    known = (arc <= AIMED_ARC_DEG) & np.isfinite(bearing + reach + x + y)
    aims = np.full(len(points), shapely.Point(), dtype=object)
    there = np.column_stack((x + reach * np.sin(bearing), y + reach * np.cos(bearing)))
    aims[known] = shapely.points(there[known])
    return aims


def _smallest_around(points: Geometries, areas: Geometries) -> NDArray[np.int64]:
    """Place of the smallest area that holds each point, -1 for none."""
    best = np.full(len(points), -1, dtype=np.int64)
    point, area = shapely.STRtree(areas).query(points, predicate="intersects")
    order = np.argsort(-shapely.area(areas)[area], kind="stable")
    best[point[order]] = area[order]  # the last one written, the smallest, stays
    return best


def _nearest_within(
    points: Geometries, areas: Geometries, reach_m: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Place of the nearest area within each point's own reach, -1 for none."""
    best = np.full(len(points), -1, dtype=np.int64)
    if not len(areas) or not len(points):
        return best
    (point, area), distance = shapely.STRtree(areas).query_nearest(
        points, return_distance=True, all_matches=False
    )
    near = distance <= reach_m[point]
    best[point[near]] = area[near]
    return best


def head_area_links(ground: Ground) -> pd.DataFrame:
    """Which area each head waters, and how that is known.

    In this order: the head's own `area` where it names one ("declared"); for a sector
    of 300° or less with a bearing, the smallest watered area around the sector's
    centre of gravity ("aimed"); the smallest watered area that the head stands
    in, so a green inside a fairway polygon wins ("inside"); the nearest watered area
    within the head's throw ("nearest"; 20 m where the throw is unknown); else none ("").

    Returns:
        Columns area (id or None) and how; index = head id, in the record's order.
    """
    heads = ground.heads
    watered = ground.areas[ground.areas["kind"].isin(WATERED_KINDS)]
    areas, points = sound_shapes(watered, "areas"), sound_shapes(heads, "heads")
    throw = np.asarray(head_throw_m(ground), dtype=float)
    reach = np.where(np.isnan(throw), NEAR_THROW_M, throw)
    place, how = np.full(len(heads), -1, dtype=np.int64), np.full(len(heads), "", dtype=object)
    steps = (
        ("aimed", _smallest_around(_aims(ground, points, throw), areas)),
        ("inside", _smallest_around(points, areas)),
        ("nearest", _nearest_within(points, areas, reach)),
    )
    for name, found in steps:
        new = (place < 0) & (found >= 0)
        place[new], how[new] = found[new], name
    by_place = pd.Series(chosen(ids(watered), place), index=heads.index, dtype=object)
    declared = heads["area"].isin(ground.areas.index)
    return pd.DataFrame(
        {
            "area": heads["area"].where(declared, by_place),
            "how": np.where(declared, "declared", how),
        },
        index=heads.index,
    )


def head_areas(ground: Ground) -> pd.Series[Any]:
    """Series head id → id of the area it waters, or None; see `head_area_links`."""
    return head_area_links(ground)["area"]


def station_heads(ground: Ground) -> pd.Series[Any]:
    """Series station id → list of the ids of its heads, in the record's order.

    Every station of the record has a list, empty where no head names it; heads that
    name an unknown station are left out.
    """
    lists: dict[str, list[str]] = {str(station): [] for station in ground.stations.index}
    for head, station in zip(ground.heads.index, ground.heads["station"], strict=True):
        if isinstance(station, str) and station in lists:
            lists[station].append(str(head))
    return pd.Series(lists, index=ground.stations.index, name="heads", dtype=object)
