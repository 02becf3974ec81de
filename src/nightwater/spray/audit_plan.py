"""Where to put the cans of an audit, and how long to run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError, warning
from nightwater.units import MINUTES_PER_HOUR

LEAST_CANS: Final = 24  # the association's guidelines; see docs/how/audits.md
MOST_CANS: Final = 200
EDGE_M: Final = 0.45  # 12 to 24 inches in from the edge, the guidelines
FROM_HEAD_M: Final = 0.75  # 2 to 3 ft from a head, the guidelines (from memory)
WIDE_SPACING_M: Final = 12.192  # 40 ft; wider heads want quarters, nearer ones thirds (memory)
CALM_M_S: Final = 2.2352  # 5 mph, the guidelines after ASAE S398.1
LEAST_CATCH_ML: Final = 25.0  # so that a millilitre is 4 % (from memory)
LEAST_TURNS: Final = 5.0  # whole turns of a rotor (from memory)
MOST_MINUTES: Final = 60
FULL_SHARE: Final = 0.9  # of the cans there are; a grid with fewer is sought anew. Our choice
LEAST_SHARE: Final = 0.8  # a square tee takes 20 or 25, so 24 cans leave some over. Our choice
_STEPS: Final = 160
_SHIFTS: Final = tuple((e / 4.0, n / 4.0) for e in range(4) for n in range(4))

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class CanPlaces:
    """Where cans stand, in walking order.

    Attributes:
        x_m, y_m: places in the record's system.
        step_m: distance between neighbours of the grid.
        wanted_step_m: at most so far apart by the guidelines, NaN where spacing is unknown.
    """

    x_m: Numbers
    y_m: Numbers
    step_m: float
    wanted_step_m: float

    def __len__(self) -> int:
        return len(self.x_m)


def guideline_step_m(spacing_m: float) -> float:
    """Distance between cans that the guidelines ask for: a third of the spacing, or a quarter.

    Args:
        spacing_m: usual distance between heads; NaN gives NaN.

    Reference: Irrigation Association, Recommended Audit Guidelines, 2009: near a head and
    every third of the spacing of rotors up to 40 ft, every quarter beyond (from memory).
    """
    return spacing_m / (4.0 if spacing_m > WIDE_SPACING_M else 3.0)


def _grid(shape: shapely.Geometry, step_m: float, corner: tuple[float, float]) -> Numbers:
    """Grid points within a shape, row by row, each row walked back from the one before."""
    left, bottom, right, top = shapely.bounds(shape)
    first_x = corner[0] - math.floor((corner[0] - left) / step_m) * step_m
    first_y = corner[1] - math.floor((corner[1] - bottom) / step_m) * step_m
    rows = []
    for number, y in enumerate(np.arange(first_y, top + 1e-9, step_m)):
        xs = np.arange(first_x, right + 1e-9, step_m)
        row = xs[shapely.contains_xy(shape, xs, np.full(len(xs), y))]
        row = row[::-1] if number % 2 else row
        rows.append(np.column_stack([row, np.full(len(row), y)]))
    return np.concatenate(rows) if rows else np.empty((0, 2))


def _clear_of_heads(places: Numbers, heads: Numbers, shape: shapely.Geometry) -> Numbers:
    """Cans that would stand on a head put beside it, on the side that lies in the ground."""
    if not len(heads) or not len(places):
        return places
    offset = places[:, None, :] - heads[None, :, :]
    away = np.hypot(offset[..., 0], offset[..., 1])
    nearest = away.argmin(axis=1)
    moved = places.copy()
    for can in np.flatnonzero(away.min(axis=1) < FROM_HEAD_M):
        middle = shapely.get_coordinates(shapely.centroid(shape))[0] - heads[nearest[can]]
        length = float(np.hypot(*middle))
        way = middle / length if length > 0 else np.array([0.0, 1.0])
        moved[can] = heads[nearest[can]] + way * FROM_HEAD_M
    return moved


def _closest(
    ground: shapely.Geometry,
    first: tuple[float, float],
    cans: int,
    shifts: Sequence[tuple[float, float]],
) -> tuple[Numbers, float]:
    """The fullest grid of at most so many cans, and its step; origins shifted by parts of it."""
    about = math.sqrt(max(float(shapely.area(ground)), 1e-9) / cans)
    best, step = np.empty((0, 2)), about
    for tried in np.geomspace(0.6 * about, 2.0 * about, _STEPS).tolist():
        for east, north in shifts:
            found = _grid(ground, tried, (first[0] + east * tried, first[1] + north * tried))
            if len(best) < len(found) <= cans:
                best, step = found, tried
    return best, step


def can_places(
    shape: shapely.Geometry, heads_m: Numbers, spacing_m: float, cans: int = LEAST_CANS
) -> CanPlaces:
    """Spread cans evenly over the ground of an audit.

    A square grid, so that each can stands for as much ground as any other, which is what DU
    and CU suppose; one line of it runs past a head. The step is the closest that so many cans
    allow. A can closer to a head than 0.75 m stands beside it at that distance.

    Args:
        shape: the ground; the strip of 0.45 m along its edge stays free.
        heads_m: places of the heads, shape (heads, 2).
        spacing_m: usual distance between heads, NaN where unknown.
        cans: how many there are, 24 to 200.

    Raises:
        UserError: too few or too many cans, or ground too small for 24.

    Reference: Irrigation Association, Recommended Audit Guidelines, 2009 (24 cans or more,
    12 to 24 inches from the edge as told by Landscape Management, "How to do an irrigation
    audit"; distances from heads from memory).
    """
    if not LEAST_CANS <= cans <= MOST_CANS:
        raise UserError(f"An audit takes {LEAST_CANS} to {MOST_CANS} cans; {cans} were named.")
    inner = shapely.buffer(shape, -EDGE_M)
    ground = inner if not inner.is_empty else shape
    corner = tuple(heads_m[0] + FROM_HEAD_M) if len(heads_m) else shapely.bounds(ground)[:2]
    first = (float(corner[0]), float(corner[1]))
    best, step = _closest(ground, first, cans, ((0.0, 0.0),))
    if len(best) < FULL_SHARE * cans:  # a small rectangle may take 20 or 25 from there, not 24
        best, step = _closest(ground, first, cans, _SHIFTS)
    if len(best) < LEAST_CANS and len(best) < LEAST_SHARE * cans:
        raise UserError("The ground is too small or too narrow to spread that many cans over.")
    best = _clear_of_heads(best, heads_m, ground)
    return CanPlaces(best[:, 0], best[:, 1], step, guideline_step_m(spacing_m))


def run_minutes(rate_mm_h: float, throat_m2: float, rotation_s: float) -> int:
    """Minutes that fill cans well: 25 mL in the mean can, and five turns of a rotor.

    Args:
        rate_mm_h: rate that is expected with all stations on; NaN counts as 15 minutes.
        throat_m2: opening of a can.
        rotation_s: time of one turn, NaN where unknown.

    Returns:
        Whole minutes, at most 60.

    Reference: both rules from memory of audit courses.
    """
    by_catch = 15.0
    if rate_mm_h > 0 and throat_m2 > 0:
        by_catch = LEAST_CATCH_ML / 1000.0 / throat_m2 / rate_mm_h * MINUTES_PER_HOUR
    by_turns = LEAST_TURNS * rotation_s / 60.0 if rotation_s > 0 else 0.0
    return int(min(MOST_MINUTES, max(1, math.ceil(max(by_catch, by_turns) - 1e-9))))


def plan_doubts(places: CanPlaces, subject: str) -> list[Finding]:
    """What is to be said of a plan: too few cans, or too far apart to see single heads."""
    doubts: list[Finding] = []
    if len(places) < LEAST_CANS:
        doubts.append(
            warning(
                "audit-few-cans",
                subject,
                f"Only {len(places)} cans find a place; the guidelines ask for {LEAST_CANS}.",
                "Audit a larger part, or run the same cans twice in other places.",
            )
        )
    if places.step_m > places.wanted_step_m * 1.1:
        doubts.append(
            warning(
                "audit-wide-grid",
                subject,
                f"The cans stand {places.step_m:.1f} m apart; between these heads the "
                f"guidelines want {places.wanted_step_m:.1f} m.",
                "Name fewer stations to audit a part of the area, or use more cans. Evenness "
                "can be told all the same; single heads less well.",
            )
        )
    return doubts


def wind_doubts(wind_m_s: Any, subject: str) -> list[Finding]:
    """A warning where the wind was over what the guidelines allow; none where it is missing."""
    if wind_m_s is None or not float(wind_m_s) > CALM_M_S:
        return []
    return [
        warning(
            "audit-windy",
            subject,
            f"The wind was {float(wind_m_s):.1f} m/s; an audit wants at most {CALM_M_S:.1f} m/s "
            "(5 mph).",
            "Measure again on a calm morning before heads are changed by this audit: the fit "
            "may take the wind for a lean.",
        )
    ]
