"""The ground of an audit with its numbered cans and heads, drawn as SVG."""

from __future__ import annotations

import math
from collections.abc import Mapping
from html import escape
from typing import Any, Final

import numpy as np
import shapely

from nightwater.desk.audit_kept import Audit
from nightwater.desk.audit_planning import heads_of
from nightwater.desk.course import Course

_MARGIN_M: Final = 3.0
RATIO_STEPS: Final = (0.7, 0.9, 1.1, 1.3)
RATIO_CLASSES: Final = ("far-under", "under", "even", "over", "far-over")
RATIO_WORDS: Final = (
    "under 70 % of computed", "70 to 90 %", "90 to 110 %", "110 to 130 %", "over 130 %",
)  # fmt: skip


def ratio_class(ratio: float) -> str:
    """How a can compares with the computed pattern, as a class name; "unknown" for NaN."""
    if math.isnan(ratio):
        return "unknown"
    return RATIO_CLASSES[int(np.searchsorted(RATIO_STEPS, ratio, side="right"))]


def _path(shape: shapely.Geometry, top: float) -> str:
    rings = shapely.get_rings(shapely.get_parts(shape))
    return " ".join(
        "M" + " L".join(f"{x:.2f},{top - y:.2f}" for x, y in shapely.get_coordinates(ring)) + "Z"
        for ring in rings
    )


def _frame(audit: Audit) -> tuple[float, float, float, float]:
    xs, ys = audit.cans["x_m"], audit.cans["y_m"]
    margin = _MARGIN_M + 0.06 * max(xs.max() - xs.min(), ys.max() - ys.min())
    return xs.min() - margin, ys.min() - margin, xs.max() + margin, ys.max() + margin


def _head(name: str, x: float, y: float, size: float) -> str:
    half = 0.7 * size
    return (
        f'<path class="head" d="M{x - half:.2f},{y:.2f}H{x + half:.2f}M{x:.2f},{y - half:.2f}'
        f'V{y + half:.2f}" stroke="currentColor" stroke-width="{0.16 * size:.2f}" fill="none">'
        f"<title>head {escape(name)}</title></path>"
    )


def _can(row: Mapping[Any, Any], y: float, size: float, classes: str) -> str:
    return (
        f'<circle class="can {classes}" cx="{row["x_m"]:.2f}" cy="{y:.2f}" r="{size:.2f}" '
        f'fill="#ffffff" stroke="currentColor" stroke-width="{0.12 * size:.2f}"/>'
        f'<text class="can-number {classes}" x="{row["x_m"]:.2f}" y="{y + 0.38 * size:.2f}" '
        f'font-size="{1.05 * size:.2f}" text-anchor="middle" fill="#111111">'
        f"{escape(str(row['label']))}</text>"
    )


def audit_svg(course: Course, audit: Audit, classes: Mapping[str, str]) -> str:
    """A drawing of an audit's ground, north up, in metres.

    Args:
        course: the course.
        audit: the audit.
        classes: can number → class names for the page's colours; may be empty, as on paper.

    Returns:
        SVG text with plain attributes that a page's style may overrule.
    """
    left, bottom, right, top = _frame(audit)
    window = shapely.box(left, bottom, right, top)
    size = 0.023 * max(right - left, top - bottom)
    shape = course.ground.areas.geometry.get(str(audit.facts["area"]))
    parts = []
    if shape is not None:
        drawn = _path(shape.intersection(window), top)
        parts.append(
            f'<path class="turf" d="{drawn}" fill="#e9f1ec" stroke="#6d7a6f" '
            f'stroke-width="{0.1 * size:.2f}" fill-rule="evenodd"/>'
        )
    heads = heads_of(course, audit.stations)
    for name, point in zip(heads.index, heads.geometry, strict=True):
        if point is not None and window.contains(point):
            parts.append(_head(str(name), point.x, top - point.y, size))
    parts += [
        _can(row, top - row["y_m"], size, classes.get(str(row["label"]), ""))
        for row in audit.cans.to_dict("records")
    ]
    box = f"{left:.2f} 0 {right - left:.2f} {top - bottom:.2f}"
    # Heads and cans have their own x; only y runs down from the top.
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="Map of the cans" color="#1d2f38" font-family="sans-serif">'
        f"{''.join(parts)}</svg>"
    )
