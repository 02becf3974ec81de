"""Labels on a printed map: placed beside their points without covering one another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

Box = tuple[float, float, float, float]  # left, top, right, bottom [mm], y down

GAP_MM: Final = 1.0  # between the middle of a point and its label
_CELL_MM: Final = 10.0
_CLOSE_DEG: Final = (90, 270, 45, 135, 315, 225, 0, 180)
_FAR_DEG: Final = tuple(range(0, 360, 15))
_RINGS_MM: Final = (1.3, 2.6, 4.0, 5.5, 7.5, 10.0, 13.0, 17.0)


@dataclass(frozen=True)
class Wanted:
    """A text that wants a place beside a point; millimetres of paper, y down."""

    text: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Placed:
    """Where a label stands: the middle of its box; `led` where it needs a line to its point."""

    wanted: Wanted
    x: float
    y: float
    led: bool

    @property
    def box(self) -> Box:
        """The ground it covers."""
        return _box(self.wanted, self.x, self.y)


def _box(wanted: Wanted, x: float, y: float) -> Box:
    across, up = wanted.width / 2, wanted.height / 2
    return x - across, y - up, x + across, y + up


def _candidates(wanted: Wanted) -> Iterator[tuple[float, float, bool]]:
    """Middles of the boxes to try, the nearest and most usual first."""
    for ring in (0.0, *_RINGS_MM):
        for turn in _FAR_DEG if ring else _CLOSE_DEG:
            east, south = math.sin(math.radians(turn)), -math.cos(math.radians(turn))
            # The box touches the circle that the gap and the ring draw around the point.
            x = wanted.x + east * (GAP_MM + ring) + np.sign(round(east, 6)) * wanted.width / 2
            y = wanted.y + south * (GAP_MM + ring) + np.sign(round(south, 6)) * wanted.height / 2
            yield float(x), float(y), ring > 0


class _Paper:
    """What is covered already; a grid keeps the looking short."""

    def __init__(self, frame: Box) -> None:
        self._frame = frame
        self._covered: dict[tuple[int, int], list[Box]] = {}

    def _cells(self, box: Box) -> Iterator[tuple[int, int]]:
        left, top, right, bottom = (math.floor(edge / _CELL_MM) for edge in box)
        for across in range(left, right + 1):
            for down in range(top, bottom + 1):
                yield across, down

    def cover(self, box: Box) -> None:
        for cell in self._cells(box):
            self._covered.setdefault(cell, []).append(box)

    def is_free(self, box: Box) -> bool:
        frame = self._frame
        inside = box[0] >= frame[0] and box[1] >= frame[1]
        inside = inside and box[2] <= frame[2] and box[3] <= frame[3]
        return inside and not any(
            box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]
            for cell in self._cells(box)
            for other in self._covered.get(cell, ())
        )


def _crowded_first(wanted: Sequence[Wanted]) -> list[int]:
    """The places of the labels, those with most neighbours within a label's reach first."""
    points = np.array([(each.x, each.y) for each in wanted]).reshape(-1, 2)
    away = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    return [int(place) for place in np.argsort(-(away < _CELL_MM).sum(axis=1), kind="stable")]


def place_labels(
    wanted: Sequence[Wanted], frame: Box, covered: Sequence[Box]
) -> tuple[list[Placed], list[Wanted]]:
    """Places for labels so that none covers another, nor anything else that is to be seen.

    Greedy: the most crowded point chooses first among places around it, near ones before far
    ones. A label that no place within 18 mm can take is left out and told.

    Args:
        wanted: the labels, in any order.
        frame: where they must stay inside.
        covered: what must stay to be seen, as the marks of the points.

    Returns:
        The placed labels, and those left out.
    """
    paper = _Paper(frame)
    for box in covered:
        paper.cover(box)
    placed, left = [], []
    for place in _crowded_first(wanted):
        each = wanted[place]
        free = ((x, y, led) for x, y, led in _candidates(each) if paper.is_free(_box(each, x, y)))
        found = next(free, None)
        if found is None:
            left.append(each)
            continue
        placed.append(Placed(each, *found))
        paper.cover(placed[-1].box)
    return placed, left
