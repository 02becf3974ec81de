"""Where heads stand along the line of play: how far from the tee, and on which side."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.links import head_areas
from nightwater.ground.play import area_holes, played_lines
from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, ids, sound_shapes

BEYOND_M: Final = 100.0  # heads behind the tee or the green are measured on the line run on
AT_GREEN_M: Final = 50.0  # the last of the line says where a green is approached from
_CHORD_M: Final = 1.0


def _run_on(line: Any) -> Any:
    """A line with both ends drawn straight on by `BEYOND_M`; empty stays empty."""
    points = shapely.get_coordinates(line)
    if len(points) < 2 or line.length <= 0:
        return shapely.LineString()
    chord = min(AT_GREEN_M / 5.0, line.length)
    inner = shapely.get_coordinates(
        shapely.line_interpolate_point(line, [chord, line.length - chord])
    )
    ends = [points[0], points[-1]]
    ahead = [end - near for end, near in zip(ends, inner, strict=True)]
    beyond = [
        end + step / max(float(np.hypot(*step)), 1e-9) * BEYOND_M
        for end, step in zip(ends, ahead, strict=True)
    ]
    return shapely.LineString([beyond[0], *points, beyond[1]])


def along_and_aside_m(
    points: Geometries, lines: Geometries
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distance along each point's own line, and to its right (left is negative) [m].

    The line is run straight on at both ends, so a point behind the tee has a negative
    distance. An offset is measured to the nearest place of the line.

    Args:
        points: shapely points, shape (n,); empty where unknown.
        lines: each point's line of play from tee to green, shape (n,); empty for none.

    Returns:
        Two arrays of shape (n,) [m]; NaN where point or line is empty.
    """
    single = {key: _run_on(line) for key, line in {id(line): line for line in lines}.items()}
    long = np.array([single[id(line)] for line in lines], dtype=object)
    along, aside = np.full(len(points), np.nan), np.full(len(points), np.nan)
    known = np.flatnonzero(~shapely.is_empty(points) & ~shapely.is_empty(long))
    if not len(known):
        return along, aside
    at, line = points[known], long[known]
    place = shapely.line_locate_point(line, at)
    back, ahead = (
        shapely.get_coordinates(shapely.line_interpolate_point(line, np.maximum(place + step, 0)))
        for step in (-_CHORD_M, _CHORD_M)
    )
    way, out = ahead - back, shapely.get_coordinates(at) - back
    right = way[:, 1] * out[:, 0] - way[:, 0] * out[:, 1]
    along[known] = place - BEYOND_M
    aside[known] = np.where(right < 0, -1.0, 1.0) * shapely.distance(line, at)
    return along, aside


def lines_by_hole(ground: Ground) -> dict[str, Any]:
    """The line of play of each hole, from tee to green, by the hole's id; none left out."""
    lines = played_lines(ground)
    pairs = zip(ids(ground.holes), lines, strict=True)
    return {str(hole): line for hole, line in pairs if not shapely.is_empty(line)}


def green_bearing_deg(line: Any) -> float:
    """Direction of the last 50 m of a line of play, clockwise from north [degrees]."""
    start = shapely.line_interpolate_point(line, max(line.length - AT_GREEN_M, 0.0))
    end = shapely.get_point(line, -1)
    return float(np.degrees(np.arctan2(end.x - start.x, end.y - start.y))) % 360.0


def _near_greens(ground: Ground, points: Geometries) -> tuple[list[Any], NDArray[np.float64]]:
    """The nearest green of each head and the distance to its edge [m]; 0 upon it."""
    greens = ground.areas[ground.areas["kind"] == "green"]
    shapes = sound_shapes(greens, "areas")
    near = np.full(len(points), None, dtype=object)
    gap = np.full(len(points), np.inf)
    there = np.flatnonzero(~shapely.is_empty(points))
    if len(there) and not shapely.is_empty(shapes).all():
        (point, green), distance = shapely.STRtree(shapes).query_nearest(
            points[there], return_distance=True, all_matches=False
        )
        near[there[point]], gap[there[point]] = ids(greens)[green], distance
    return list(near), gap


def head_play(ground: Ground, holes: pd.Series[Any] | None = None) -> pd.DataFrame:
    """Where each head stands in play.

    Args:
        ground: the record.
        holes: hole of each area as `area_holes` tells it, where that is known already.

    Returns:
        Index head id, in the record's order; area, kind and hole (id or None), x and y [m],
        chainage_m along the hole's line of play from its tee end, offset_m to its right
        (left is negative), green (id of the nearest) and green_m to its edge. NaN where a
        head has no place, or its hole no line.
    """
    heads, areas = ground.heads, head_areas(ground)
    points = sound_shapes(heads, "heads")
    kind = ground.areas["kind"].reindex(areas.to_numpy()).to_numpy()
    hole = (area_holes(ground) if holes is None else holes).reindex(areas.to_numpy()).to_numpy()
    by_hole, none = lines_by_hole(ground), shapely.LineString()
    lines = np.array([by_hole.get(name, none) for name in hole], dtype=object)
    along, aside = along_and_aside_m(points, lines)
    green, gap = _near_greens(ground, points)
    return pd.DataFrame(
        {
            "area": areas.to_numpy(),
            "kind": pd.Series(kind, dtype=object).where(pd.notna(kind), None).to_numpy(),
            "hole": pd.Series(hole, dtype=object).where(pd.notna(hole), None).to_numpy(),
            "x": shapely.get_x(points),
            "y": shapely.get_y(points),
            "chainage_m": along,
            "offset_m": aside,
            "green": green,
            "green_m": gap,
        },
        index=heads.index,
    )
