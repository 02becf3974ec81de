"""The outlines of turf, sand, water and native ground."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from nightwater.demo.layout import (
    GROUNDS_AT,
    PRACTICE_GREENS,
    RANGE_AT,
    RANGE_TURN_DEG,
    SHORT_GAME_AT,
    SPACING_M,
    HeadSpot,
    fairway_rows,
    tee_boxes,
)
from nightwater.demo.place import Metres, chance
from nightwater.demo.routing import LINES, Line
from nightwater.units import M2_PER_ACRE

NATIVE_ACRES: Final = 41.0
_ROUGH_M: Final = 30.5
_SURROUND_M: Final = 25.8
_GREEN_M: Final = 13.5  # mean radius: some 6,200 ft²
_CLEAR_OF_HEADS_M: Final = 1.5


@dataclass(frozen=True)
class Outline:
    """One polygon of the survey: key, kind, hole ("" for none) and shape."""

    key: str
    kind: str
    hole: str
    label: str
    shape: BaseGeometry


def _around(middle: Metres, radius_m: Metres) -> Polygon:
    turn = np.linspace(0.0, 2 * np.pi, len(radius_m), endpoint=False)
    return Polygon(middle + radius_m[:, None] * np.column_stack([np.sin(turn), np.cos(turn)]))


def _kidney(middle: Metres, mean_m: float, dent_deg: float, depth: float) -> Polygon:
    """An oval with a dent on one side, of the area of a circle of radius `mean_m`."""
    turn = np.linspace(-np.pi, np.pi, 72, endpoint=False)
    dent = depth * np.exp(-((turn / 0.7) ** 2))
    radius = 1.0 + 0.10 * np.cos(2 * (turn + 1.2)) + 0.04 * np.cos(3 * turn) - dent
    radius *= mean_m / np.sqrt(np.mean(radius**2))
    return _around(middle, np.roll(radius, round(dent_deg / 5.0) - 36))


def _ribbon(line: Line, along_m: Metres, half_m: Metres) -> BaseGeometry:
    """A strip along a line of play, with rounded corners."""
    edge = np.concatenate([line.at(along_m, -half_m), line.at(along_m, half_m)[::-1]])
    return Polygon(edge).buffer(0).buffer(-6.0).buffer(6.0)


def _green(key: str, hole: str, middle: Metres, dent_deg: float) -> Outline:
    shape = _kidney(middle, _GREEN_M, dent_deg, 0.22)
    return Outline(f"{key}-green", "green", hole, f"{key} green", shape)


def _approach(line: Line) -> Outline:
    front = line.part(line.length_m - 47.0, line.length_m - 22.0).buffer(11.8)
    shape = Point(line.at(line.length_m)[0]).buffer(_SURROUND_M).union(front)
    smooth = shape.buffer(4.0).buffer(-4.0)
    return Outline(
        f"{line.label}-approach", "approach", line.label, f"{line.label} approach", smooth
    )


def _fairway(line: Line, random: np.random.Generator) -> Outline:
    start = min(row.min() for row in fairway_rows(line)) - 11.0
    along = np.linspace(start, line.length_m - 54.0, 40)
    half = 15.2 + 2.4 * np.sin(along / 29.0 + random.uniform(0, 6))
    shape = _ribbon(line, along, half)
    return Outline(f"{line.label}-fairway", "fairway", line.label, f"{line.label} fairway", shape)


def _tees(line: Line) -> Iterator[Outline]:
    for number, (along, right) in enumerate(tee_boxes(line), 1):
        x, y = line.at(along, right)[0]
        flat = box(x - 4.0, y - 10.0, x + 4.0, y + 10.0).buffer(1.5)
        bearing = float(np.degrees(line.bearing_rad(max(along, 0.0))))
        shape = affinity.rotate(flat, -bearing, origin=(x, y))
        name = f"{line.label} tee {number}"
        yield Outline(f"{line.label}-tee-{number}", "tee", line.label, name, shape)


def _bunkers(line: Line, heads: BaseGeometry, random: np.random.Generator) -> Iterator[Outline]:
    """Some beside the fairway, some beside the green, clear of every head."""
    middle = line.at(line.length_m)[0]
    play = float(line.bearing_rad(line.length_m))
    spots = [
        (middle + 18.6 * np.array([np.sin(play + turn), np.cos(play + turn)]), 3.3)
        for turn in random.choice([0.0, np.pi / 2, np.pi, 1.5 * np.pi], 2, replace=False)
    ]
    for along in random.uniform(0.45, 0.75, {3: 0, 4: 2, 5: 3}[line.par]) * line.length_m:
        spots.append((line.at(along, random.choice([-1, 1]) * 17.2)[0], 4.2))
    for number, (spot, radius) in enumerate(spots, 1):
        blob = _kidney(spot, radius, random.uniform(0, 360), 0.25)
        shape = blob.difference(heads)
        key = f"{line.label}-bunker-{number}"
        yield Outline(key, "bunker", line.label, f"{line.label} bunker {number}", shape)


def _corridor(line: Line, random: np.random.Generator) -> BaseGeometry:
    along = np.linspace(-22.0, line.length_m + 26.0, 80)
    half = _ROUGH_M + 2.2 * np.sin(along / 41.0 + random.uniform(0, 6))
    around = Point(line.at(line.length_m)[0]).buffer(_SURROUND_M + 3.0)
    return shapely.union(_ribbon(line, along, half).buffer(-14.0).buffer(14.0), around)


def _roughs(random: np.random.Generator) -> Iterator[Outline]:
    """The corridor of each hole, without what an earlier hole has taken."""
    taken = shapely.unary_union(
        [Point(x, y).buffer(_SURROUND_M) for x, y in PRACTICE_GREENS.values()]
    )
    for line in LINES:
        corridor = _corridor(line, random)
        shape = corridor.difference(taken)
        yield Outline(f"{line.label}-rough", "rough", line.label, f"{line.label} rough", shape)
        taken = taken.union(corridor)


def _practice() -> Iterator[Outline]:
    for key, spot in PRACTICE_GREENS.items():
        middle = np.asarray(spot)
        yield _green(key, "", middle, 90.0)
        around = Point(spot).buffer(_SURROUND_M)
        yield Outline(f"{key}-approach", "approach", "", f"{key} surround", around)
    for key, label, at, rows, across, turn in (
        ("range", "Practice range", RANGE_AT, 10, 7, RANGE_TURN_DEG),
        ("short-game", "Short game", SHORT_GAME_AT, 5, 4, 0.0),
    ):
        half_x, half_y = across * SPACING_M / 2, rows * SPACING_M * 0.433
        flat = box(at[0] - half_x, at[1] - half_y, at[0] + half_x, at[1] + half_y)
        shape = affinity.rotate(flat.buffer(-4.0).buffer(6.0), turn, origin=at)
        yield Outline(key, "practice", "", label, shape)


def _grounds() -> Iterator[Outline]:
    for number, (x, y) in enumerate(GROUNDS_AT, 1):
        shape = box(x - 17.0, y - 7.0, x + 17.0, y + 7.0).buffer(1.4)
        yield Outline(f"grounds-{number:02d}", "grounds", "", f"C lawn {number:02d}", shape)


def pond() -> Outline:
    """Heron Pond, between the nines."""
    turn = np.linspace(0.0, 2 * np.pi, 90, endpoint=False)
    radius = 60.0 + 9.0 * np.sin(turn + 0.6) + 6.0 * np.sin(3 * turn) + 3.0 * np.cos(5 * turn)
    outline = affinity.scale(_around(np.array([6.0, 545.0]), radius), 1.2, 0.95)
    return Outline("heron-pond", "water", "", "Heron Pond", outline)


def _native(course: list[Outline]) -> Outline:
    """A fringe of native ground around the watered corridors, of the stated size."""
    played = shapely.unary_union([outline.shape for outline in course]).buffer(0.5)
    narrow, wide = 0.0, 60.0
    for _ in range(24):
        width = (narrow + wide) / 2
        fringe = played.buffer(width, quad_segs=4).difference(played)
        narrow, wide = (
            (narrow, width) if fringe.area > NATIVE_ACRES * M2_PER_ACRE else (width, wide)
        )
    return Outline("native", "native", "", "Native fringe", fringe.simplify(0.2))


def outlines(heads: list[HeadSpot]) -> list[Outline]:
    """Every polygon of the club; turf polygons lie on the rough, as surveys draw them."""
    random = chance("turf")
    clear = shapely.MultiPoint([(spot.x, spot.y) for spot in heads]).buffer(_CLEAR_OF_HEADS_M)
    found = list(_roughs(random))
    for line in LINES:
        dent = float(random.uniform(0, 360))
        middle = line.at(line.length_m)[0]
        found += [_fairway(line, random), _approach(line)]
        found += [_green(line.label, line.label, middle, dent), *_tees(line)]
        found += _bunkers(line, clear, random)
    found += [*_practice(), *_grounds(), pond()]
    return [*found, _native(found)]
