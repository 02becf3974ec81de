"""How the heads of one kind of ground on one hole are counted, scheme by scheme."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.along import green_bearing_deg, lines_by_hole
from nightwater.ground.number_rules import KindRule, NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, ids, sound_shapes

LOWER_LEFT_DEG: Final = 225.0  # from the direction of play, clockwise
ABREAST_M: Final = 3.0  # heads this near along the line stand abreast: the left one is first
ROW_GAP_SHARE: Final = 0.4  # of the distance between neighbours; more begins a new row

Numbered = tuple[NDArray[np.int64], NDArray[np.int64]]  # places in order, their numbers
Scheme = Callable[[pd.DataFrame, KindRule, "Sight"], Numbered]


class Sight:
    """What the schemes look at beside the heads: greens, directions, shapes of areas."""

    def __init__(self, ground: Ground, rules: NumberRules) -> None:
        self.rules = rules
        shapes = sound_shapes(ground.areas, "areas")
        self.areas = dict(zip((str(a) for a in ids(ground.areas)), shapes, strict=True))
        self.rank = {area: place for place, area in enumerate(self.areas)}
        lines = lines_by_hole(ground)
        self.bearing_deg = {hole: green_bearing_deg(line) for hole, line in lines.items()}

    def long_side_deg(self, area: str) -> float:
        """Direction of an area's longer side to the north (else east), clockwise from north."""
        box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(self.areas[area]))
        if len(box) < 4:
            return 0.0
        sides = np.diff(box[:3], axis=0)
        east, north = sides[int(np.argmax(np.hypot(*sides.T)))]
        turn = round(float(np.degrees(np.arctan2(east, north))), 6)
        return 90.0 - (90.0 - turn) % 180.0


def _steps(values: NDArray[np.float64], gap: float) -> NDArray[np.int64]:
    """Which step each value stands on, where a gap in the sorted values begins a new one."""
    order = np.argsort(values, kind="stable")
    step = np.zeros(len(values), dtype=np.int64)
    step[order[1:]] = np.cumsum(np.diff(values[order]) > gap)
    return step


def _counted(order: NDArray[np.int64], rule: KindRule) -> Numbered:
    return order, rule.start + np.arange(len(order), dtype=np.int64)


def _by_area(heads: pd.DataFrame, sight: Sight) -> Iterator[NDArray[np.int64]]:
    """Places of the heads of each area, areas in the record's order."""
    rank = heads["area"].map(sight.rank).to_numpy(dtype=np.int64)
    for area in np.unique(rank):
        yield np.flatnonzero(rank == area)


def _sequence_of(heads: pd.DataFrame) -> NDArray[np.int64]:
    along = heads["chainage_m"].to_numpy(dtype=float)
    aside = heads["offset_m"].to_numpy(dtype=float)
    return np.lexsort((aside, _steps(along, ABREAST_M)))


def _sequence(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    if heads["chainage_m"].isna().any():
        return _rows(heads, rule, sight)
    return _counted(_sequence_of(heads), rule)


def _odd_and_even(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    """Left heads get every second number from the start, right ones from the next."""
    aside = heads["offset_m"].to_numpy(dtype=float)
    if np.isnan(aside).any() or (np.abs(aside) <= sight.rules.centre_m).all():
        return _sequence(heads, rule, sight)
    order = _sequence_of(heads)
    right = aside[order] > 0
    numbers = np.zeros(len(order), dtype=np.int64)
    for side in (False, True):
        here = right == side
        numbers[here] = rule.start + int(side) + 2 * np.arange(int(here.sum()))
    ranked = np.argsort(numbers, kind="stable")
    return order[ranked], numbers[ranked]


def _clockwise_of(heads: pd.DataFrame, middle: Any, play_deg: float) -> NDArray[np.int64]:
    east = heads["x"].to_numpy(dtype=float) - middle.x
    north = heads["y"].to_numpy(dtype=float) - middle.y
    turn = (np.degrees(np.arctan2(east, north)) - play_deg) % 360.0
    off = np.abs((turn - LOWER_LEFT_DEG + 180.0) % 360.0 - 180.0)
    first = turn[int(np.argmin(off))]
    return np.argsort((turn - first) % 360.0, kind="stable")


def _around(heads: pd.DataFrame, green: str, sight: Sight) -> NDArray[np.int64]:
    """Clockwise from the lower left, as seen from the approach; from the south without a line."""
    play = heads["hole"].map(sight.bearing_deg).iloc[0]
    shape = sight.areas.get(green, shapely.MultiPoint(heads[["x", "y"]].to_numpy(dtype=float)))
    return _clockwise_of(heads, shapely.centroid(shape), 0.0 if pd.isna(play) else float(play))


def _clockwise(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    greens = heads["green"].where(heads["kind"] != "green", heads["area"])
    rank = greens.map(sight.rank).fillna(-1).to_numpy(dtype=np.int64)
    parts = []
    for place in np.unique(rank):
        here = np.flatnonzero(rank == place)
        parts.append(here[_around(heads.iloc[here], str(greens.iloc[here[0]]), sight)])
    return _counted(np.concatenate(parts), rule)


def _back_to_front(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    """Tee by tee from the back one, and from back to front upon each."""
    if heads["chainage_m"].isna().any():
        return _rows(heads, rule, sight)
    back = heads.groupby("area")["chainage_m"].transform("mean").to_numpy(dtype=float)
    place = heads["area"].map(sight.rank).to_numpy(dtype=np.int64)
    within = np.empty(len(heads), dtype=np.int64)
    within[_sequence_of(heads)] = np.arange(len(heads))
    return _counted(np.lexsort((within, place, back)), rule)


def _grid(heads: pd.DataFrame, turn_deg: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row (counted ahead) and rank in its row (counted to the right) of each head."""
    spot = heads[["x", "y"]].to_numpy(dtype=float)
    turn = np.radians(turn_deg)
    ahead = spot @ np.array([np.sin(turn), np.cos(turn)])
    right = spot @ np.array([np.cos(turn), -np.sin(turn)])
    row = np.zeros(len(heads), dtype=np.int64)
    if len(heads) > 1:
        points: Geometries = np.asarray(shapely.points(spot), dtype=object)
        _, near = shapely.STRtree(points).query_nearest(
            points, exclusive=True, return_distance=True, all_matches=False
        )
        apart = float(np.median(near)) if len(near) else 0.0  # equal points are no neighbours
        row = _steps(ahead, ROW_GAP_SHARE * apart)
    order = np.lexsort((right, row))
    rank = np.zeros(len(heads), dtype=np.int64)
    starts = np.searchsorted(row[order], row[order])
    rank[order] = np.arange(len(heads)) - starts
    return row, rank


def _gridded(heads: pd.DataFrame, rule: KindRule, sight: Sight, by_row: bool) -> Numbered:
    orders, numbers, counted = [], [], rule.start
    for place, here in enumerate(_by_area(heads, sight), 1):
        area = str(heads["area"].iloc[here[0]])
        turn = sight.long_side_deg(area) if rule.bearing_deg is None else rule.bearing_deg
        row, rank = _grid(heads.iloc[here], turn)
        orders.append(here[np.lexsort((rank, row) if by_row else (row, rank))])
        first = rule.per_area * place if rule.per_area else counted
        numbers.append(first + np.arange(len(here), dtype=np.int64))
        counted += len(here)
    return np.concatenate(orders), np.concatenate(numbers)


def _rows(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    return _gridded(heads, rule, sight, by_row=True)


def _columns(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    return _gridded(heads, rule, sight, by_row=False)


_SCHEMES: Final[dict[str, Scheme]] = {
    "sequence": _sequence,
    "odd_left_even_right": _odd_and_even,
    "clockwise_from_lower_left": _clockwise,
    "back_to_front": _back_to_front,
    "rows": _rows,
    "columns": _columns,
}


def behind(last: int, rule: KindRule) -> int:
    """What to add to numbers that count on behind `last`; odd stays odd on the left."""
    shift = last - rule.start + 1
    odd_and_even = rule.scheme == "odd_left_even_right"
    return shift + shift % 2 if odd_and_even else shift


def numbered(heads: pd.DataFrame, rule: KindRule, sight: Sight) -> Numbered:
    """The heads of one rule in order: those around the green apart, where the rule says so."""
    scheme = _SCHEMES[rule.scheme]
    ring = heads["green_m"].to_numpy(dtype=float) <= sight.rules.around_green_m
    if rule.around_green == "with_the_rest" or ring.all() or not ring.any():
        around = rule.around_green != "with_the_rest" and bool(ring.any())
        return (_clockwise if around else scheme)(heads, rule, sight)
    parts = [(_clockwise, np.flatnonzero(ring)), (scheme, np.flatnonzero(~ring))]
    orders, numbers, after = [], [], 0
    for count, places in parts if rule.around_green == "first" else parts[::-1]:
        order, number = count(heads.iloc[places], rule, sight)
        orders.append(places[order])
        numbers.append(number + after)
        after = behind(int(numbers[-1].max()), rule)
    return np.concatenate(orders), np.concatenate(numbers)
