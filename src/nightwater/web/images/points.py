"""Control points in an address: column,row,x,y of each, parted by semicolons."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.desk.course import Course
from nightwater.desk.imaging import CourseImage, fitted, image_doubts
from nightwater.findings import Finding, UserError
from nightwater.ground.placement import FEWEST_POINTS, Placement

MOST_POINTS: Final = 30
Pair = tuple[float, float, float, float]


@dataclass(frozen=True)
class Fit:
    """What a page says of the points picked so far.

    Attributes:
        pairs: column, row, x, y of each.
        placement: how they place the picture, or None.
        why_not: why they do not, as a sentence; empty where they do.
        findings: doubts about the placement.
    """

    pairs: tuple[Pair, ...]
    placement: Placement | None
    why_not: str
    findings: tuple[Finding, ...]


def pairs_from(text: str) -> tuple[Pair, ...]:
    """The pairs that a text names.

    Raises:
        UserError: not four numbers each, or too many.
    """
    parts = [part for part in text.split(";") if part.strip()]
    if len(parts) > MOST_POINTS:
        raise UserError(f"At most {MOST_POINTS} control points are taken.")
    return tuple(map(_pair, parts))


def _pair(text: str) -> Pair:
    try:
        column, row, x, y = (float(word) for word in text.split(","))
    except ValueError:
        raise UserError(f"'{text[:60]}' is not a control point; write column,row,x,y.") from None
    if not all(map(math.isfinite, (column, row, x, y))):
        raise UserError("A control point needs four finite numbers.")
    return column, row, x, y


def pairs_text(pairs: tuple[Pair, ...]) -> str:
    """The inverse of `pairs_from`, to a hundredth of a pixel and a centimetre."""
    return ";".join(",".join(f"{value:.2f}" for value in pair) for pair in pairs)


def without(pairs: tuple[Pair, ...], index: int) -> str:
    """The text of all pairs but one."""
    return pairs_text(pairs[:index] + pairs[index + 1 :])


def pairs_array(pairs: tuple[Pair, ...]) -> NDArray[np.float64]:
    """Shape (n, 4)."""
    return np.array(pairs, dtype=float).reshape(-1, 4)


def fit(course: Course, image: CourseImage, pairs: tuple[Pair, ...]) -> Fit:
    """Place a picture by the points picked so far; nothing is changed."""
    missing = FEWEST_POINTS - len(pairs)
    if missing > 0:
        words = "one more point" if missing == 1 else f"{missing} more points"
        return Fit(pairs, None, f"Pick {words}; three are the fewest, five tell a wrong one.", ())
    try:
        placement = fitted(pairs_array(pairs), image.size_px)
    except UserError as refusal:
        return Fit(pairs, None, str(refusal), ())
    subject = f"images:{image.id}"
    doubts = image_doubts(course, placement.transform, placement, image.size_px, subject)
    return Fit(pairs, placement, "", tuple(doubts))
