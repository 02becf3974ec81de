"""What an entity of a drawing draws, in metres: a point, a line of straight pieces, an outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final, cast

import numpy as np
import shapely
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.insert import Insert
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.mtext import MText
from ezdxf.entities.point import Point
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline
from ezdxf.entities.text import Text
from ezdxf.math import OCS, Vec2, Vec3, bulge_center
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nightwater.survey.drawing_file import FOREIGN_FAULTS

SAGITTA_M: Final = 0.02  # a curve's straight pieces stay this near to it
MAX_RADIUS_M: Final = 100_000.0
MAX_COORDINATE_M: Final = 1e8  # beyond any projected system
POINT_KINDS: Final = ("INSERT", "POINT", "CIRCLE")
LINE_KINDS: Final = ("LINE", "ARC", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE")
OUTLINE_KINDS: Final = ("CIRCLE", "HATCH", "MPOLYGON")
_FEWEST_PIECES: Final = 16  # of a full turn, however small
_SPLINE_FRAME: Final = 16  # vertex flag of a control point that the curve does not meet

Points = NDArray[np.float64]


class BadShapeError(Exception):
    """Why an entity has no shape, in words that follow 'because'."""


class NoLengthError(BadShapeError):
    """A line from a place to the same place."""


def checked_points(points: Any, unit_m: float) -> Points:
    """Points in drawing units as an n × 3 array [m].

    Raises:
        BadShapeError: not finite, or beyond any mapped system.
    """
    array = np.array([tuple(Vec3(point)) for point in points], dtype=float).reshape(-1, 3) * unit_m
    if not (np.abs(array) < MAX_COORDINATE_M).all():
        raise BadShapeError("its coordinates are not finite or lie beyond any mapped system")
    return array


def _radius(entity: Circle, unit_m: float) -> float:
    radius = float(entity.dxf.radius)
    if not radius > 0:
        raise BadShapeError(f"its radius is {radius:g}")
    if not radius * unit_m <= MAX_RADIUS_M:
        raise BadShapeError(f"its radius is {radius * unit_m:g} m, more than 100 km")
    return radius


def turned_points(
    center: Vec2, radius: float, start: float, sweep: float, sagitta: float
) -> list[Vec2]:
    """Points of an arc in drawing units, angles in radians, within `sagitta` of it."""
    step = 2.0 * math.acos(max(0.0, 1.0 - sagitta / radius)) if sagitta < radius else math.pi
    step = min(step, 2.0 * math.pi / _FEWEST_PIECES)
    number = max(1, math.ceil(abs(sweep) / step))
    return [
        center + Vec2.from_angle(start + sweep * turn / number, radius)
        for turn in range(number + 1)
    ]


def in_world(ocs: OCS, points: Sequence[Vec2], elevation: float) -> list[Vec3]:
    """Points of an object's own plane in world coordinates."""
    flat = [Vec3(point.x, point.y, elevation) for point in points]
    return list(ocs.points_to_wcs(flat)) if ocs.transform else flat


def _arc(entity: Circle, unit_m: float) -> tuple[list[Vec3], bool]:
    radius, center = _radius(entity, unit_m), Vec3(entity.dxf.center)
    start, sweep = 0.0, 2.0 * math.pi
    if isinstance(entity, Arc):
        start = math.radians(entity.dxf.start_angle)
        sweep = (math.radians(entity.dxf.end_angle) - start) % (2.0 * math.pi) or sweep
    points = turned_points(Vec2(center), radius, start, sweep, SAGITTA_M / unit_m)
    return in_world(entity.ocs(), points, center.z), not isinstance(entity, Arc)


def bulged_points(
    corners: Sequence[tuple[float, float, float]], closed: bool, unit_m: float
) -> Any:
    """Corners (x, y, bulge) as plain points; a bulge is the tangent of a quarter of its angle."""
    sagitta = SAGITTA_M / unit_m
    ends = [*corners[1:], corners[0]] if closed else corners[1:]
    points = [Vec2(corners[0][:2])] if corners else []
    for (x, y, bulge), end in zip(corners, ends, strict=False):
        start, stop = Vec2(x, y), Vec2(end[:2])
        if abs(bulge) * start.distance(stop) / 2.0 > sagitta:
            center = bulge_center(start, stop, bulge)
            radius = center.distance(start)
            if not radius * unit_m <= MAX_RADIUS_M:
                raise BadShapeError("an arc of it has a radius of more than 100 km")
            turned = turned_points(
                center, radius, (start - center).angle, 4.0 * math.atan(bulge), sagitta
            )
            points += turned[1:-1]
        points.append(stop)
    return points


def _lwpolyline(entity: LWPolyline, unit_m: float) -> tuple[list[Vec3], bool]:
    corners = [(float(x), float(y), float(b)) for x, y, b in entity.get_points("xyb")]
    points = bulged_points(corners, entity.closed, unit_m)
    return in_world(entity.ocs(), points, float(entity.dxf.elevation)), bool(entity.closed)


def _polyline(entity: Polyline, unit_m: float) -> tuple[list[Vec3], bool]:
    vertices = [v for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
    closed = bool(entity.is_closed)
    if entity.is_3d_polyline:
        spots = [Vec3(vertex.dxf.location) for vertex in vertices]
        return (spots + spots[:1] if closed else spots), closed
    corners = [
        (v.dxf.location.x, v.dxf.location.y, float(v.dxf.get("bulge", 0.0))) for v in vertices
    ]
    elevation = float(vertices[0].dxf.location.z) if vertices else 0.0
    return in_world(entity.ocs(), bulged_points(corners, closed, unit_m), elevation), closed


def _traced(entity: DXFGraphic, unit_m: float) -> tuple[list[Vec3], bool]:
    """The points of an entity in its own unit, and whether it says it is closed."""
    if isinstance(entity, Line):
        return [entity.dxf.start, entity.dxf.end], False
    if isinstance(entity, Circle):  # an arc is one too
        return _arc(entity, unit_m)
    if isinstance(entity, LWPolyline):
        return _lwpolyline(entity, unit_m)
    if isinstance(entity, Polyline):
        return _polyline(entity, unit_m)
    if isinstance(entity, Ellipse):
        checked_points([entity.dxf.center, entity.dxf.major_axis], unit_m * 1e3)
        return list(entity.flattening(SAGITTA_M / unit_m, 8)), False
    if isinstance(entity, Spline):
        checked_points([*entity.control_points, *entity.fit_points], unit_m)
        points = list(entity.flattening(SAGITTA_M / unit_m))
        return (points + points[:1] if entity.closed else points), bool(entity.closed)
    raise BadShapeError(f"{entity.dxftype()} draws no line")


def _flat(points: Points) -> Points:
    """Without heights where all are zero."""
    flat: Points = points if points[:, 2:].any() else points[:, :2]
    return flat


def line_through(points: Points) -> BaseGeometry:
    """A line through points, without heights where all are zero.

    Raises:
        NoLengthError: it goes nowhere.
    """
    flat = _flat(points)
    if len(flat) < 2 or not np.ptp(flat, axis=0).any():
        raise NoLengthError("it has no length")
    line: Any = shapely.linestrings(flat)
    return cast("BaseGeometry", line)


def traced_line(entity: DXFGraphic, unit_m: float) -> BaseGeometry:
    """The line that an entity draws, curves as straight pieces within 0.02 m [m].

    A closed line ends exactly where it begins.

    Args:
        entity: LINE, ARC, CIRCLE, LWPOLYLINE, POLYLINE, SPLINE or ELLIPSE, in world coordinates.
        unit_m: length of a drawing unit [m].

    Raises:
        BadShapeError: with the reason.
    """
    try:
        traced, closed = _traced(entity, unit_m)
        points = checked_points(traced, unit_m)
    except FOREIGN_FAULTS as problem:
        raise BadShapeError(f"it is broken ({type(problem).__name__})") from None
    if closed and len(points):
        points[-1] = points[0]
    return line_through(points)


def encloses(line: BaseGeometry) -> bool:
    """Whether a line ends exactly where it begins, and goes round something."""
    points = shapely.get_coordinates(line)
    return len(points) > 3 and bool((points[0] == points[-1]).all())


def _spot(entity: DXFGraphic) -> Vec3:
    if isinstance(entity, Insert):
        return entity.ocs().to_wcs(Vec3(entity.dxf.insert))
    if isinstance(entity, Circle):
        return entity.ocs().to_wcs(Vec3(entity.dxf.center))
    if isinstance(entity, Point):
        return Vec3(entity.dxf.location)
    if isinstance(entity, Text):
        return entity.ocs().to_wcs(Vec3(entity.get_placement()[1]))
    if isinstance(entity, MText):
        return Vec3(entity.dxf.insert)
    raise BadShapeError(f"{entity.dxftype()} marks no point")


def marked_point(entity: DXFGraphic, unit_m: float) -> tuple[BaseGeometry, float | None]:
    """Where a block, point, circle or text stands, and the circle's radius [m].

    Raises:
        BadShapeError: with the reason.
    """
    try:
        spot = _flat(checked_points([_spot(entity)], unit_m))
        radius = _radius(entity, unit_m) * unit_m if isinstance(entity, Circle) else None
    except FOREIGN_FAULTS as problem:
        raise BadShapeError(f"it is broken ({type(problem).__name__})") from None
    point: Any = shapely.points(spot[0])
    return cast("BaseGeometry", point), radius
