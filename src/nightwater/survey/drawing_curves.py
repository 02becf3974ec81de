"""Curves of a drawing as straight pieces that stay within a stated distance of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
from ezdxf.math import BSpline, ConstructionEllipse, Vec2, Vec3, bulge_center
from numpy.typing import NDArray
from scipy import interpolate

SAGITTA_M: Final = 0.02  # straight pieces stay this near to a curve
MAX_RADIUS_M: Final = 100_000.0
MAX_COORDINATE_M: Final = 1e8  # beyond any projected system
_FEWEST_PIECES: Final = 16  # of a full turn, however small
_MOST_SPLITS: Final = 14  # a span of a spline becomes 2 to this power pieces at most
_MOST_POINTS: Final = 200_000

Points = NDArray[np.float64]


class BadShapeError(Exception):
    """Why an entity has no shape, in words that follow 'because'."""


class NoLengthError(BadShapeError):
    """A line from a place to the same place."""


def checked_points(points: Iterable[Any], unit_m: float) -> Points:
    """Points in drawing units as an n × 3 array [m].

    Raises:
        BadShapeError: not finite, or beyond any mapped system.
    """
    array = np.array([tuple(Vec3(point)) for point in points], dtype=float).reshape(-1, 3) * unit_m
    if not (np.abs(array) < MAX_COORDINATE_M).all():
        raise BadShapeError("its coordinates are not finite or lie beyond any mapped system")
    return array


def checked_radius(radius: float, unit_m: float) -> float:
    """A radius in drawing units, as it stands.

    Raises:
        BadShapeError: zero, negative, not a number, or more than 100 km.
    """
    if not radius > 0:
        raise BadShapeError(f"its radius is {radius:g}")
    if not radius * unit_m <= MAX_RADIUS_M:
        raise BadShapeError(f"its radius is {radius * unit_m:g} m, more than 100 km")
    return radius


def _pieces(radius: float, sweep: float, sagitta: float) -> int:
    step = 2.0 * math.acos(1.0 - sagitta / radius) if sagitta < radius else math.pi
    return max(1, math.ceil(abs(sweep) / min(step, math.tau / _FEWEST_PIECES)))


def arc_points(
    center: Vec2, radius: float, start: float, sweep: float, sagitta: float
) -> list[Vec2]:
    """Points of an arc, both ends included.

    Args:
        center, radius: in drawing units.
        start, sweep: angles [rad]; a negative sweep turns clockwise.
        sagitta: how far the middle of a piece may be off, in drawing units.
    """
    number = _pieces(radius, sweep, sagitta)
    turns = (start + sweep * turn / number for turn in range(number + 1))
    return [center + Vec2.from_angle(angle, radius) for angle in turns]


def bulged_points(
    corners: Sequence[tuple[float, float, float]], closed: bool, unit_m: float
) -> list[Vec2]:
    """Corners (x, y, bulge) as plain points; a bulge is the tangent of a quarter of its angle.

    A closed line ends where it begins.

    Raises:
        BadShapeError: an arc of more than 100 km radius.
    """
    ends = [*corners[1:], corners[0]] if closed and corners else corners[1:]
    points = [Vec2(corner[:2]) for corner in corners[:1]]
    for (x, y, bulge), end in zip(corners, ends, strict=False):
        start, stop = Vec2(x, y), Vec2(end[:2])
        points += [*_bulge(start, stop, bulge, unit_m), stop]
    return points


def _bulge(start: Vec2, stop: Vec2, bulge: float, unit_m: float) -> list[Vec2]:
    """Points strictly between the ends; none where the arc is flatter than the sagitta."""
    sagitta = SAGITTA_M / unit_m
    if not abs(bulge) * start.distance(stop) / 2.0 > sagitta:
        return []
    center = bulge_center(start, stop, bulge)
    radius = checked_radius(center.distance(start), unit_m)
    first = (start - center).angle
    return arc_points(center, radius, first, 4.0 * math.atan(bulge), sagitta)[1:-1]


def ellipse_points(ellipse: ConstructionEllipse, unit_m: float) -> list[Vec3]:
    """Points of an ellipse or an arc of one, in drawing units, both ends included.

    An ellipse is a circle of its larger axis, pressed: equal steps that do for the
    circle do for it.

    Raises:
        BadShapeError: an axis of no length, or more than 100 km.
    """
    axes = (ellipse.major_axis.magnitude, ellipse.minor_axis.magnitude)
    radius = max(checked_radius(axis, unit_m) for axis in axes)
    sweep = (ellipse.end_param - ellipse.start_param) % math.tau or math.tau
    number = _pieces(radius, sweep, SAGITTA_M / unit_m)
    turns = [ellipse.start_param + sweep * turn / number for turn in range(number + 1)]
    points = list(ellipse.vertices(turns))
    return [*points[:-1], points[0]] if sweep == math.tau else points


def _curve(spline: BSpline) -> tuple[interpolate.BSpline, Points]:
    """The spline in coordinates that carry its weights, and its knots without repeats."""
    control = np.array([tuple(point) for point in spline.control_points], dtype=float)
    weights = np.array(spline.weights() or np.ones(len(control)), dtype=float)
    knots = np.array(spline.knots(), dtype=float)
    if not (weights > 0).all() or not np.isfinite(knots).all():
        raise BadShapeError("its weights or knots are not sound")
    degree = int(spline.degree)
    carried = np.column_stack((control * weights[:, None], weights))
    curve = interpolate.BSpline(knots, carried, degree, extrapolate=False)
    return curve, np.unique(knots[degree : len(control) + 1])


def _at(curve: interpolate.BSpline, places: Points) -> Points:
    carried = np.asarray(curve(places), dtype=float)
    at: Points = carried[:, :3] / carried[:, 3:]
    return at


def spline_points(spline: BSpline, unit_m: float) -> list[Vec3]:
    """Points of a spline, in drawing units; every span is halved until it is straight enough.

    Raises:
        BadShapeError: weights or knots that make no curve, or one that never gets straight.
    """
    checked_points(spline.control_points, unit_m)
    curve, places = _curve(spline)
    points = _at(curve, places)
    for _ in range(_MOST_SPLITS):
        middles = (places[:-1] + places[1:]) / 2.0
        between = _at(curve, middles)
        off = np.linalg.norm(between - (points[:-1] + points[1:]) / 2.0, axis=1)
        split = off * unit_m > SAGITTA_M / 2.0
        # The first halvings are taken anyway: an S is straight in its middle.
        split |= len(points) < _FEWEST_PIECES
        if not split.any() or len(points) > _MOST_POINTS:
            break
        where = np.flatnonzero(split) + 1
        places = np.insert(places, where, middles[split])
        points = np.insert(points, where, between[split], axis=0)
    if split.any() or not np.isfinite(points).all():
        raise BadShapeError("it cannot be followed within 0.02 m")
    return [Vec3(point) for point in points]
