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
from ezdxf.math import OCS, Vec2, Vec3
from shapely.geometry.base import BaseGeometry

from nightwater.survey.drawing_curves import (
    SAGITTA_M,
    BadShapeError,
    NoLengthError,
    Points,
    arc_points,
    bulged_points,
    checked_points,
    checked_radius,
    ellipse_points,
    spline_points,
)
from nightwater.survey.drawing_file import FOREIGN_FAULTS

POINT_KINDS: Final = ("INSERT", "POINT", "CIRCLE")
LINE_KINDS: Final = ("LINE", "ARC", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE")
OUTLINE_KINDS: Final = ("CIRCLE", "HATCH", "MPOLYGON")
_SPLINE_FRAME: Final = 16  # vertex flag of a control point that the curve does not meet


def in_world(ocs: OCS, points: Sequence[Vec2], elevation: float) -> list[Vec3]:
    """Points of an object's own plane in world coordinates."""
    flat = [Vec3(point.x, point.y, elevation) for point in points]
    return list(ocs.points_to_wcs(flat)) if ocs.transform else flat


def _arc(entity: Circle, unit_m: float) -> tuple[list[Vec3], bool]:
    radius, center = checked_radius(float(entity.dxf.radius), unit_m), Vec3(entity.dxf.center)
    start, sweep = 0.0, math.tau
    if isinstance(entity, Arc):
        start = math.radians(entity.dxf.start_angle)
        sweep = (math.radians(entity.dxf.end_angle) - start) % math.tau or math.tau
    points = arc_points(Vec2(center), radius, start, sweep, SAGITTA_M / unit_m)
    return in_world(entity.ocs(), points, center.z), not isinstance(entity, Arc)


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
        return ellipse_points(entity.construction_tool(), unit_m), False
    if isinstance(entity, Spline):
        points = spline_points(entity.construction_tool(), unit_m)
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
        radius = (
            checked_radius(float(entity.dxf.radius), unit_m) * unit_m
            if isinstance(entity, Circle)
            else None
        )
    except FOREIGN_FAULTS as problem:
        raise BadShapeError(f"it is broken ({type(problem).__name__})") from None
    point: Any = shapely.points(spot[0])
    return cast("BaseGeometry", point), radius
