"""Which hole an area belongs to, from the lines of play."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.ops import substring

from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, chosen, ids, sound_shapes

GREEN_REACH_M: Final = 75.0
TEE_REACH_M: Final = 60.0
TEE_PART: Final = 0.35  # forward tees stand beside the first third of the line
LINE_REACH_M: Final = 60.0
AT_GREEN_M: Final = 5.0
AT_TEE_M: Final = 15.0
NO_HOLE_KINDS: Final = ("practice", "grounds", "native", "water", "path", "building")


def _single_lines(shapes: Geometries) -> Geometries:
    """Each line of play as one line: parts joined, else the longest part."""
    merged = shapely.line_merge(shapes)
    single = np.empty(len(merged), dtype=object)
    for place, line in enumerate(merged):
        parts = shapely.get_parts(line)
        longest = max(parts, key=shapely.length, default=shapely.LineString())
        single[place] = longest
    return single


def _gaps_m(points: Geometries, areas: Geometries) -> NDArray[np.float64]:
    """Distance from each point to the nearest area [m]; infinite where there is none."""
    sound = areas[~shapely.is_empty(areas)]
    gaps = np.full(len(points), np.inf)
    there = np.flatnonzero(~shapely.is_empty(points))
    if len(sound) and len(there):
        (point, _), distance = shapely.STRtree(sound).query_nearest(
            points[there], return_distance=True, all_matches=False
        )
        gaps[there[point]] = distance
    return gaps


def _backwards(ground: Ground, lines: Geometries) -> NDArray[np.bool_]:
    shapes, kinds = sound_shapes(ground.areas, "areas"), ground.areas["kind"].to_numpy()
    start, end = shapely.get_point(lines, 0), shapely.get_point(lines, -1)
    greens, tees = shapes[kinds == "green"], shapes[kinds == "tee"]
    from_green, to_green = _gaps_m(start, greens), _gaps_m(end, greens)
    from_tee, to_tee = _gaps_m(start, tees), _gaps_m(end, tees)
    green_first = (from_green <= AT_GREEN_M) & (to_green > from_green + AT_GREEN_M)
    return np.asarray(green_first & (to_tee <= AT_TEE_M) & (from_tee > to_tee))


def backward_lines(ground: Ground) -> pd.Series[bool]:
    """Whether each line of play was drawn from the green to the tee.

    It begins within 5 m of a green, ends within 15 m of a tee, and its other ends are
    farther from a green and a tee than that.

    Returns:
        Series hole id → True where it runs backwards; False where nothing tells.
    """
    lines = _single_lines(sound_shapes(ground.holes, "holes"))
    return pd.Series(_backwards(ground, lines), index=ground.holes.index, dtype=bool)


def played_lines(ground: Ground) -> Geometries:
    """Lines of play from tee to green, those drawn backwards turned round."""
    lines = _single_lines(sound_shapes(ground.holes, "holes"))
    turned = _backwards(ground, lines)
    lines[turned] = shapely.reverse(lines[turned])
    return lines


def _starts(lines: Geometries) -> Geometries:
    parts = [
        substring(line, 0.0, TEE_PART, normalized=True) if line.length else shapely.LineString()
        for line in lines
    ]
    found = np.empty(len(parts), dtype=object)
    found[:] = parts
    return found


def _nearest(areas: Geometries, marks: Geometries, reach_m: float) -> NDArray[np.int64]:
    """Place of the nearest mark of each area, -1 beyond the reach."""
    best = np.full(len(areas), -1, dtype=np.int64)
    there = np.flatnonzero(~shapely.is_empty(marks))
    if len(there) and len(areas):
        tree = shapely.STRtree(marks[there])
        area, mark = tree.query_nearest(areas, max_distance=reach_m, all_matches=False)
        best[area] = there[mark]
    return best


def _greens(greens: Geometries, ends: Geometries) -> NDArray[np.int64]:
    """A hole has one green: the one nearest to its line's end, and any that holds an end.

    A practice green beside the last hole is nearest to nothing of its own, so it gets none.
    """
    hole_of = _nearest(greens, ends, GREEN_REACH_M)
    green_of = _nearest(ends, greens, GREEN_REACH_M)
    for green, hole in enumerate(hole_of):
        if hole < 0 or green_of[hole] == green:
            continue
        if not shapely.covers(greens[green], ends[hole]):
            hole_of[green] = -1
    return hole_of


def _along(areas: Geometries, lines: Geometries) -> NDArray[np.int64]:
    """The hole with the most of its line on the area, else the nearest line."""
    best = _nearest(areas, lines, LINE_REACH_M)
    area, line = shapely.STRtree(lines).query(areas, predicate="intersects")
    length = shapely.length(shapely.intersection(areas[area], lines[line]))
    order = np.argsort(length, kind="stable")
    on_it = order[length[order] > 0]
    best[area[on_it]] = line[on_it]
    return best


def _by_geometry(ground: Ground) -> NDArray[np.int64]:
    """Place of each area's hole in `ground.holes`, -1 for none."""
    shapes = sound_shapes(ground.areas, "areas")
    lines = played_lines(ground)
    kinds = ground.areas["kind"].to_numpy()
    found = np.full(len(shapes), -1, dtype=np.int64)
    green, tee = kinds == "green", kinds == "tee"
    rest = ~green & ~tee & ~np.isin(kinds, NO_HOLE_KINDS) & ~shapely.is_empty(shapes)
    found[green] = _greens(shapes[green], shapely.get_point(lines, -1))
    found[tee] = _nearest(shapes[tee], _starts(lines), TEE_REACH_M)
    found[rest] = _along(shapes[rest], lines)
    return found


def area_holes(ground: Ground) -> pd.Series[Any]:
    """The hole of each area: declared, else by geometry, else None.

    Greens go by the end of the line of play (within 75 m, one green a hole; a line drawn
    from green to tee is turned round, see `backward_lines`), tees by
    its first third (within 60 m), other turf and bunkers by the length of line on them,
    else the nearest line within 60 m. Practice, grounds, native, water,
    paths and buildings get none.

    Returns:
        Series area id → hole id or None, in the order of `ground.areas`.
    """
    declared = ground.areas["hole"]
    places = _by_geometry(ground)
    guessed = pd.Series(chosen(ids(ground.holes), places), ground.areas.index, dtype=object)
    known = declared.isin(ground.holes.index)
    holes: pd.Series[Any] = declared.where(known, guessed)
    return holes.rename("hole")
