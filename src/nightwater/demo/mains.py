"""The header, mains, loop and spurs of the invented club, drawn by hand along the holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightwater.demo.layout import fairway_rows
from nightwater.demo.place import Metres
from nightwater.demo.routing import LINES

# true bores of SDR-21 pipe [in] by nominal size
BORE_IN: Final = {2: 2.149, 3: 3.166, 4: 4.072, 6: 5.993, 8: 7.805, 10: 9.728, 12: 11.538}
PUMP_HOUSE: Final = (0.0, 452.0)
PUMP_APART_M: Final = 3.0
_HEADER_HALF_M: Final = 9.144  # 60 ft in all
_SAME_PLACE_M: Final = 0.05


@dataclass(frozen=True)
class Main:
    """A stretch of header, main, loop or spur between two joints.

    Attributes:
        kind: as in the record's pipes table.
        inches: nominal size.
        points: shape (n, 2), water running from first to last in normal service [m].
    """

    kind: str
    inches: int
    points: Metres

    @property
    def length_m(self) -> float:
        """Its length on the drawing."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


_BY_NUMBER: Final = {line.number: line for line in LINES}


def _at(hole: int, along_m: float) -> Metres:
    return _BY_NUMBER[hole].at(along_m)


def _hole(hole: int, start_m: float, end_m: float) -> Metres:
    """Along a line of play, from one distance to another in either direction."""
    low, high = min(start_m, end_m), max(start_m, end_m)
    points = np.asarray(_BY_NUMBER[hole].part(low, high).simplify(0.3).coords)
    return points if end_m > start_m else points[::-1]


def _fairway_end(hole: int) -> float:
    return float(max(row.max() for row in fairway_rows(_BY_NUMBER[hole])))


def _fairway_start(hole: int) -> float:
    return float(min(row.min() for row in fairway_rows(_BY_NUMBER[hole])))


def _main(kind: str, inches: int, *parts: ArrayLike) -> Main:
    points = np.concatenate([np.atleast_2d(np.asarray(part, dtype=float)) for part in parts])
    distinct = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > _SAME_PLACE_M])
    return Main(kind, inches, points[distinct])


def _trunks() -> list[Main]:
    x, y = PUMP_HOUSE
    west, east = (x - _HEADER_HALF_M, y), (x + _HEADER_HALF_M, y)
    return [
        _main("header", 12, west, (x - PUMP_APART_M, y)),
        _main("header", 12, (x, y), (x - PUMP_APART_M, y)),
        _main("header", 12, (x, y), (x + PUMP_APART_M, y)),
        _main("header", 12, (x + PUMP_APART_M, y), east),
        _main("main", 10, west, (-105, 463), (-128, 466), (-262, 464), (-345, 462), (-369, 472)),
        _main("main", 10, east, (112, 457), (150, 461), (338, 434), (365, 442)),
    ]


def _loop() -> list[Main]:
    """The 8-inch loop down the first fairway, past the clubhouse and up the tenth."""
    return [
        _main("loop", 8, (-105, 463), (-92, 440), _hole(1, 304, 116), (-60, 150), (60, 150)),
        _main("loop", 8, (112, 457), (108, 440), _hole(10, 303, 116), (60, 150)),
    ]


def _front_nine() -> list[Main]:
    return [
        _main("main", 6, (-369, 472), (-405, 530), _hole(5, 140, 170)),
        _main("spur", 4, _at(5, 170), (-600, 640)),
        _main("spur", 3, (-600, 640), _hole(7, 125, 170)),
        _main("spur", 3, (-600, 640), (-618, 690), _at(6, 115)),
        _main("spur", 3, (-345, 462), (-350, 510), _hole(4, _fairway_end(4), 300)),
        _main("spur", 4, (-128, 466), (-174, 520), _hole(2, 129, 192)),
        _main("spur", 3, _hole(2, 192, 308), (-235, 852), _at(3, 60)),
        _main("main", 8, (-60, 150), (-150, 70), _hole(9, 425, 268)),
        _main("main", 6, _hole(9, 268, 153)),
        _main(
            "spur",
            3,
            _hole(9, 153, _fairway_start(9)),
            (-560, -70),
            (-625, -40),
            _hole(8, 290, 200),
        ),
        _main("spur", 4, (-262, 464), (-262, 336)),
    ]


def _back_nine() -> list[Main]:
    return [
        _main("spur", 3, (60, 150), (140, 70), _hole(18, 318, 230)),
        _main("main", 6, (365, 442), _hole(16, 142, 285)),
        _main("spur", 4, _hole(16, 285, 400)),
        _main("spur", 3, _hole(16, 400, 430), (708, 235), _at(17, 64)),
        _main(
            "main", 6, (150, 461), (150, 520), _hole(11, 131, 309), (268, 832), (300, 890),
            _hole(12, 105, 292),
        ),
        _main("spur", 4, _hole(12, 292, 326)),
        _main("spur", 3, _hole(12, 326, 440)),
        _main("spur", 4, (338, 434), (306, 460), _at(15, 95), _at(15, 66)),
        _main("spur", 3, _at(15, 66), (372, 640), _at(14, 290), _at(14, 270)),
    ]  # fmt: skip


def _cut(main: Main, joints: Metres) -> list[Main]:
    """The main in stretches from joint to joint."""
    away = np.hypot(*(main.points[:, None, :] - joints[None, :, :]).transpose(2, 0, 1))
    joined = np.flatnonzero((away < _SAME_PLACE_M).any(axis=1))
    cuts = sorted({0, *(int(place) for place in joined), len(main.points) - 1})
    return [
        Main(main.kind, main.inches, main.points[start : end + 1]) for start, end in pairwise(cuts)
    ]


def _stretches(mains: Sequence[Main]) -> list[Main]:
    joints = np.concatenate([main.points[[0, -1]] for main in mains])
    return [stretch for main in mains for stretch in _cut(main, joints)]


@cache
def mains() -> tuple[Main, ...]:
    """Every stretch of pipe larger than a lateral, cut at its joints."""
    return tuple(_stretches([*_trunks(), *_loop(), *_front_nine(), *_back_nine()]))
