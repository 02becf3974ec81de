"""The ground that a hatch of a drawing fills."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce
from typing import Any, Final

import numpy as np
import shapely
from ezdxf.entities.boundary_paths import (
    ArcEdge,
    EdgePath,
    EllipseEdge,
    LineEdge,
    PolylinePath,
    SplineEdge,
)
from ezdxf.entities.polygon import DXFPolygon
from ezdxf.math import Vec2
from shapely.geometry.base import BaseGeometry

from nightwater.survey.drawing_curves import (
    SAGITTA_M,
    BadShapeError,
    Points,
    arc_points,
    bulged_points,
    checked_points,
    checked_radius,
    ellipse_points,
    spline_points,
)
from nightwater.survey.drawing_file import FOREIGN_FAULTS
from nightwater.survey.drawing_outlines import closed_outlines
from nightwater.survey.drawing_shapes import in_world, line_through

_IGNORE_INNER: Final = 2
_OUTERMOST_ONLY: Final = 1  # any other style fills every second ring


def _arc_edge(edge: ArcEdge, unit_m: float) -> list[Vec2]:
    radius, start = checked_radius(float(edge.radius), unit_m), math.radians(edge.start_angle)
    sweep = (math.radians(edge.end_angle) - start) % math.tau or math.tau
    return arc_points(Vec2(edge.center), radius, start, sweep, SAGITTA_M / unit_m)


def _edge_points(edge: Any, unit_m: float) -> list[Vec2]:
    if isinstance(edge, LineEdge):
        return [Vec2(edge.start), Vec2(edge.end)]
    if isinstance(edge, ArcEdge):
        return _arc_edge(edge, unit_m)
    if isinstance(edge, EllipseEdge):
        return [Vec2(point) for point in ellipse_points(edge.construction_tool(), unit_m)]
    if isinstance(edge, SplineEdge):
        return [Vec2(point) for point in spline_points(edge.construction_tool(), unit_m)]
    raise BadShapeError(f"it has an edge of an unknown kind ({type(edge).__name__})")


def _path_lines(path: Any, unit_m: float) -> list[list[Vec2]]:
    if isinstance(path, PolylinePath):
        corners = [(float(x), float(y), float(bulge)) for x, y, bulge in path.vertices]
        return [bulged_points(corners, True, unit_m)] if corners else []
    edges = path.edges if isinstance(path, EdgePath) else []
    return [_edge_points(edge, unit_m) for edge in edges]


def _lines(hatch: DXFPolygon, path: Any, unit_m: float) -> list[BaseGeometry]:
    ocs, elevation = hatch.ocs(), float(hatch.dxf.elevation.z)
    lines: list[Points] = [
        checked_points(in_world(ocs, points, elevation), unit_m)
        for points in _path_lines(path, unit_m)
    ]
    return [line_through(points[:, :2]) for points in lines if np.ptp(points, axis=0).any()]


def _sound(ring: BaseGeometry) -> BaseGeometry:
    return ring if ring.is_valid else shapely.make_valid(ring)


def _filled(rings: Sequence[BaseGeometry], style: int) -> BaseGeometry:
    outer = [ring for ring in rings if not any(o is not ring and o.contains(ring) for o in rings)]
    inner = [ring for ring in rings if all(ring is not each for each in outer)]
    if style not in (_IGNORE_INNER, _OUTERMOST_ONLY):
        return reduce(shapely.symmetric_difference, rings)
    whole: BaseGeometry = shapely.union_all(outer)
    return whole if style == _IGNORE_INNER else shapely.difference(whole, shapely.union_all(inner))


def hatched_ground(hatch: DXFPolygon, unit_m: float) -> BaseGeometry:
    """The ground that a hatch fills, holes left out as its own style says [m].

    Args:
        hatch: HATCH or MPOLYGON.
        unit_m: length of a drawing unit [m].

    Raises:
        BadShapeError: with the reason.
    """
    try:
        paths = [_lines(hatch, path, unit_m) for path in hatch.paths]
        rings = [_sound(ring) for lines in paths for ring in closed_outlines(lines).polygons]
        if not rings:
            raise BadShapeError("its edges close no outline")
        return _filled(rings, int(hatch.dxf.get("hatch_style", 0)))
    except (shapely.errors.ShapelyError, *FOREIGN_FAULTS) as problem:
        raise BadShapeError(f"it is broken ({type(problem).__name__})") from None
