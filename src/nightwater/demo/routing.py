"""The eighteen lines of play of the invented club, and places along them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline

from nightwater.demo.place import Metres

_STEPS: Final = 200


@dataclass(frozen=True)
class Line:
    """A line of play as a smooth curve; places are metres along it and to its right."""

    number: int
    par: int
    points: Metres

    @cached_property
    def along(self) -> Metres:
        """Metres from the back tee at each point of the curve."""
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        return np.concatenate([[0.0], np.cumsum(steps)])

    @property
    def length_m(self) -> float:
        """Metres from back tee to the middle of the green."""
        return float(self.along[-1])

    @property
    def label(self) -> str:
        """Two digits, as on every tag of the hole."""
        return f"{self.number:02d}"

    def bearing_rad(self, along_m: ArrayLike) -> Metres:
        """Direction of play, clockwise from north [rad]."""
        step = np.gradient(self.points, self.along, axis=0)
        place = np.asarray(along_m, dtype=float)
        east = np.interp(place, self.along, step[:, 0])
        north = np.interp(place, self.along, step[:, 1])
        return np.asarray(np.arctan2(east, north))

    def at(self, along_m: ArrayLike, right_m: ArrayLike = 0.0) -> Metres:
        """Places of the drawing, shape (n, 2); beyond the ends the line runs straight on."""
        along, right = np.broadcast_arrays(
            np.atleast_1d(np.asarray(along_m, dtype=float)), np.asarray(right_m, dtype=float)
        )
        inside = np.clip(along, 0.0, self.length_m)
        bearing = self.bearing_rad(inside)
        ahead = np.column_stack([np.sin(bearing), np.cos(bearing)])
        aside = np.column_stack([np.cos(bearing), -np.sin(bearing)])
        foot = np.column_stack([np.interp(inside, self.along, column) for column in self.points.T])
        return np.asarray(foot + ahead * (along - inside)[:, None] + aside * right[:, None])

    def part(self, start_m: float, end_m: float) -> shapely.LineString:
        """The line between two distances along it."""
        inner = self.along[(self.along > start_m) & (self.along < end_m)]
        return shapely.LineString(self.at(np.concatenate([[start_m], inner, [end_m]])))


def _curve(waypoints: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """A clamped B-spline that starts and ends on the outer waypoints."""
    points = np.asarray(waypoints, dtype=float)
    degree = min(3, len(points) - 1)
    inner = np.linspace(0.0, 1.0, len(points) - degree + 1)
    knots = np.concatenate([[0.0] * degree, inner, [1.0] * degree])
    return np.asarray(BSpline(knots, points, degree)(np.linspace(0.0, 1.0, _STEPS)))


_WAYPOINTS: Final[dict[int, tuple[int, tuple[tuple[float, float], ...]]]] = {
    1: (4, ((-62, 72), (-85, 200), (-70, 310), (-128, 432))),
    2: (4, ((-150, 496), (-140, 630), (-215, 720), (-200, 862))),
    3: (3, ((-238, 908), (-320, 940), (-388, 938))),
    4: (5, ((-482, 990), (-424, 870), (-305, 720), (-372, 610), (-318, 502))),
    5: (4, ((-398, 462), (-450, 560), (-500, 690), (-575, 800))),
    6: (3, ((-642, 852), (-668, 775), (-650, 694))),
    7: (4, ((-626, 642), (-592, 530), (-690, 400), (-668, 276))),
    8: (4, ((-700, 225), (-735, 90), (-640, -10), (-632, -128))),
    9: (5, ((-580, -118), (-470, -60), (-350, 60), (-230, -5), (-118, 8))),
    10: (4, ((62, 72), (95, 200), (75, 310), (142, 428))),
    11: (4, ((168, 486), (150, 620), (240, 720), (235, 850))),
    12: (5, ((262, 905), (400, 990), (520, 900), (620, 900), (735, 942))),
    13: (3, ((752, 892), (730, 820), (748, 738))),
    14: (4, ((722, 690), (600, 650), (500, 725), (362, 668))),
    15: (3, ((338, 618), (360, 540), (328, 462))),
    16: (5, ((362, 408), (480, 425), (610, 470), (715, 420), (742, 320), (738, 232))),
    17: (3, ((702, 192), (640, 190), (552, 148))),
    18: (4, ((482, 112), (360, 120), (270, 20), (118, 8))),
}
LINES: Final = tuple(
    Line(number, par, _curve(waypoints)) for number, (par, waypoints) in _WAYPOINTS.items()
)
