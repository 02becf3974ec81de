"""Where every sprinkler head of the invented club stands, class by class."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from nightwater.demo.place import Metres, chance
from nightwater.demo.routing import LINES, Line
from nightwater.units import M_PER_FT

SPACING_M: Final = 62.5 * M_PER_FT  # the design says 65 ft; on the ground rows stand closer
ROW_M: Final = SPACING_M * 3**0.5 / 2
TEE_PAIR_M: Final = 50 * M_PER_FT
GROUNDS_SPACING_M: Final = 30 * M_PER_FT
RING_SIDE_FT: Final = 72.3  # square of the four heads around a green
RING_M: Final = RING_SIDE_FT * M_PER_FT / 2**0.5
APPROACH_M: Final = 64.0  # the last fairway head stands this far from the green's middle
BACK_TO_BACK_M: Final = 1.2
PRACTICE_GREENS: Final = {"P1": (-42.0, -135.0), "P2": (48.0, -132.0)}
RANGE_AT: Final = (-326.0, 270.0)
SHORT_GAME_AT: Final = (-204.0, 310.0)
RANGE_TURN_DEG: Final = -7.0
GROUNDS_AT: Final = (
    *((x, 30.0) for x in (-60.0, -20.0, 20.0, 60.0)),
    *((x, y) for y in (4.0, -46.0) for x in (-62.0, 0.0, 62.0)),
    *((x, -74.0) for x in (-60.0, -20.0, 20.0, 60.0)),
)
_FAIRWAY_HEADS: Final = {3: 4, 4: 19, 5: 34}
_MORE_FAIRWAY: Final = (1, 10, 18)  # one head more
_ROUGH_SIDES: Final = {3: (8, 8), 4: (16, 16), 5: (22, 22)}
_LESS_ROUGH: Final = (4, 9)  # one pair less on the right
_FOUR_TEES: Final = (12, 16)
_SURVEY_ERROR_M: Final = 0.1


@dataclass(frozen=True)
class HeadSpot:
    """One head: its tag, its place and how it throws.

    Attributes:
        hole: "07", "P1" (practice green), "P" (practice) or "C" (grounds).
        letter: G green, A approach, T tee, F fairway, R rough, P practice, Z grounds zone.
        number: number on its tag within hole and letter.
        x, y: place on the drawing [m].
        nozzle: id of its nozzle.
        arc_deg, bearing_deg: its sector; bearing None for a full circle.
        spacing_ft, row_ft: design spacing.
        pair: heads of one hole and letter with the same pair share a station.
        turf: key of the area it is meant to water (for the tests).
    """

    hole: str
    letter: str
    number: int
    x: float
    y: float
    nozzle: str
    arc_deg: float
    bearing_deg: float | None
    spacing_ft: float
    row_ft: float
    pair: int
    turf: str

    @property
    def label(self) -> str:
        """The tag, for instance 07-F-14."""
        return f"{self.hole}-{self.letter}-{self.number:02d}"


def _full(tag: tuple[str, str, int], place: Metres, pair: int, turf: str) -> HeadSpot:
    """A full circle of the large nozzle on the 65 ft triangle."""
    hole, letter, number = tag
    x, y = (float(value) for value in place)
    return HeadSpot(hole, letter, number, x, y, "N27", 360, None, 65, 65 * 3**0.5 / 2, pair, turf)


def ring(hole: str, middle: Metres, play_deg: float) -> Iterator[HeadSpot]:
    """Four in-throw and four out-throw heads, clockwise from the lower left of the approach."""
    for number, turn in enumerate((225.0, 315.0, 45.0, 135.0), 1):
        out_deg = (play_deg + turn) % 360
        ahead = np.array([np.sin(np.radians(out_deg)), np.cos(np.radians(out_deg))])
        x, y = middle + RING_M * ahead
        inner = HeadSpot(
            hole, "G", number, x, y, "N24", 180, (out_deg + 180) % 360,
            RING_SIDE_FT, RING_SIDE_FT, number, f"{hole}-green",
        )  # fmt: skip
        yield inner
        x, y = middle + (RING_M + BACK_TO_BACK_M) * ahead
        yield replace(
            inner, letter="A", x=x, y=y, arc_deg=160, bearing_deg=out_deg, spacing_ft=65,
            row_ft=65 * 3**0.5 / 2, turf=f"{hole}-approach",
        )  # fmt: skip


def tee_boxes(line: Line) -> list[tuple[float, float]]:
    """Middle of each tee box: metres along the line and to its right, from the back."""
    boxes = 4 if line.number in _FOUR_TEES else 3
    first, step = (-3.0, 24.5) if line.par == 3 else (3.0, 26.0)
    return [(first + step * box, 6.5 * (-1) ** box) for box in range(boxes)]


def _tees(line: Line) -> Iterator[HeadSpot]:
    for box, (along, right) in enumerate(tee_boxes(line)):
        for side in (0, 1):
            shift = TEE_PAIR_M * (side - 0.5)
            x, y = line.at(along + shift, right)[0]
            yield HeadSpot(
                line.label, "T", 2 * box + side + 1, x, y, "N14", 360, None, 50, 50 * 3**0.5 / 2,
                box, f"{line.label}-tee-{box + 1}",
            )  # fmt: skip


def _row_ends(line: Line, last_m: float, counts: tuple[int, int]) -> tuple[Metres, Metres]:
    """Two rows that end near `last_m`, in triangular pattern, each from tee to green."""
    steps = [SPACING_M * np.arange(count, dtype=float)[::-1] for count in counts]
    return last_m - steps[0], last_m - SPACING_M / 2 - steps[1]


def fairway_rows(line: Line) -> tuple[Metres, Metres]:
    """Metres along the line of the heads of the left and the right fairway row."""
    count = _FAIRWAY_HEADS[line.par] + (line.number in _MORE_FAIRWAY)
    return _row_ends(line, line.length_m - APPROACH_M, ((count + 1) // 2, count // 2))


def _fairway(line: Line) -> Iterator[HeadSpot]:
    for side, row in enumerate(fairway_rows(line)):
        offset = ROW_M / 2 * (2 * side - 1)
        for place, spot in enumerate(line.at(row, offset)):
            number = 2 * place + side + 1
            yield _full((line.label, "F", number), spot, number, f"{line.label}-fairway")


def _approach(line: Line) -> Iterator[HeadSpot]:
    spots = ((-47.0, 0.0), (-31.0, -SPACING_M / 2), (-31.0, SPACING_M / 2))
    for number, (back, right) in enumerate(spots, 5):
        spot = line.at(line.length_m + back, right)[0]
        yield _full((line.label, "A", number), spot, number, f"{line.label}-approach")


def _rough(line: Line) -> Iterator[HeadSpot]:
    left, right = _ROUGH_SIDES[line.par]
    counts = (left, right - 2 * (line.number in _LESS_ROUGH))
    for side, row in enumerate(_row_ends(line, line.length_m - 12.0, counts)):
        offset = 1.5 * ROW_M * (2 * side - 1)
        for place, spot in enumerate(line.at(row, offset)):
            number, pair = 2 * place + side + 1, 2 * (place // 2) + side
            yield _full((line.label, "R", number), spot, pair, f"{line.label}-rough")


def lattice(middle: tuple[float, float], rows: int, across: int, turn_deg: float) -> Metres:
    """A triangular pattern around a place, row by row, shape (rows · across, 2)."""
    row, place = (index.ravel() for index in np.mgrid[0:rows, 0:across])
    x = (place - (across - 1) / 2 + 0.5 * (row % 2) - 0.25) * SPACING_M
    y = (row - (rows - 1) / 2) * ROW_M
    turn = np.radians(turn_deg)
    east = x * np.cos(turn) - y * np.sin(turn)
    north = x * np.sin(turn) + y * np.cos(turn)
    return np.asarray(np.column_stack([east, north]) + np.asarray(middle))


def _practice() -> Iterator[HeadSpot]:
    targets = lattice(RANGE_AT, 10, 7, RANGE_TURN_DEG)
    targets = targets[np.argsort(np.arange(70) % 7, kind="stable")]  # numbered along the range
    for place, spot in enumerate(targets):
        pair = place // 2 if place < 60 else place
        yield _full(("P", "P", place + 1), spot, pair, "range")
    for place, spot in enumerate(lattice(SHORT_GAME_AT, 5, 4, 0.0)):
        yield _full(("P", "P", place + 71), spot, place + 71, "short-game")


def zone_heads(zone: int) -> int:
    """Heads on a zone valve of the grounds."""
    return 8 if zone < 12 else 7


def _grounds() -> Iterator[HeadSpot]:
    for zone, (x, y) in enumerate(GROUNDS_AT):
        for head in range(zone_heads(zone)):
            row, place = divmod(head, 4)
            east = x + (place - 1.75 + 0.5 * row) * GROUNDS_SPACING_M
            north = y + (row - 0.5) * GROUNDS_SPACING_M * 3**0.5 / 2
            yield HeadSpot(
                "C", "Z", 10 * (zone + 1) + head, east, north, "N04", 360, None, 30,
                30 * 3**0.5 / 2, zone, f"grounds-{zone + 1:02d}",
            )  # fmt: skip


def _hole(line: Line) -> Iterator[HeadSpot]:
    yield from _tees(line)
    yield from _fairway(line)
    middle = line.at(line.length_m)[0]
    play_deg = float(np.degrees(line.bearing_rad(line.length_m)))
    around = list(ring(line.label, middle, play_deg))
    yield from (spot for spot in around if spot.letter == "A")
    yield from _approach(line)
    yield from (spot for spot in around if spot.letter == "G")
    yield from _rough(line)


def _drawn() -> Iterator[HeadSpot]:
    for line in LINES:
        yield from _hole(line)
    for name, middle in PRACTICE_GREENS.items():
        yield from sorted(ring(name, np.asarray(middle), 0.0), key=lambda spot: spot.label)
    yield from _practice()
    yield from _grounds()


def head_spots() -> list[HeadSpot]:
    """Every head of the club, as a survey by satellite would place it (± 0.1 m)."""
    drawn = list(_drawn())
    error = chance("heads").normal(0.0, _SURVEY_ERROR_M, (len(drawn), 2))
    return [
        replace(spot, x=round(spot.x + dx, 2), y=round(spot.y + dy, 2))
        for spot, (dx, dy) in zip(drawn, error, strict=True)
    ]
