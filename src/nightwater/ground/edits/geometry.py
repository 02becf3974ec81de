"""Drawn geometry as the record keeps it; mended where that is certain, else refused."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import shapely
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from nightwater.findings import UserError
from nightwater.ground.columns import Shape
from nightwater.ground.repairs import certain_repair, fault_in_words

FARTHEST_M: Final = 1e8  # no projected system of the Earth reaches so far
_GROUND: Final = 2  # dimensions of what has an outline
_FAMILY: Final[Mapping[Shape, str]] = {
    Shape.POINT: "Point",
    Shape.LINE: "LineString",
    Shape.POLYGON: "Polygon",
}


def checked_coordinates(geometry: BaseGeometry) -> BaseGeometry:
    """The geometry without heights; refused where a coordinate lies on no map.

    Raises:
        UserError: not a finite number, or farther than any projected system reaches.
    """
    flat: BaseGeometry = shapely.force_2d(geometry)
    places = shapely.get_coordinates(flat)
    if not np.isfinite(places).all() or (np.abs(places) > FARTHEST_M).any():
        raise UserError("The geometry lies outside every map; give metres of the course's system.")
    return flat


def drawn_line(points: Sequence[tuple[float, float]]) -> shapely.LineString:
    """A line drawn by a person.

    Args:
        points: x and y [m], two or more.

    Raises:
        UserError: fewer than two different points, or one that lies on no map.
    """
    if len(set(points)) < 2:
        raise UserError("A line needs two different points.")
    line = shapely.LineString(points)
    checked_coordinates(line)
    return line


def mended(geometry: BaseGeometry) -> BaseGeometry:
    """A geometry with valid outlines: itself, or its `certain_repair`.

    Raises:
        UserError: the outline is not valid and could be mended in more than one way.
    """
    if shapely.is_valid(geometry) or shapely.get_dimensions(geometry) < _GROUND:
        return geometry
    repaired = certain_repair(geometry)
    if repaired is None:
        reason = fault_in_words(geometry)
        raise UserError(f"The outline is not valid ({reason}). Draw it without crossing itself.")
    return repaired


def shaped(geometry: BaseGeometry, shape: Shape) -> BaseGeometry:
    """A geometry in the shape of a table: one point, or many lines or polygons.

    Raises:
        UserError: of another kind, empty, or without length or area.
    """
    family = _FAMILY[shape]
    parts = [part for part in shapely.get_parts(geometry) if part.geom_type == family]
    if not parts or (shape is Shape.POINT and len(parts) > 1):
        wanted = "one point" if shape is Shape.POINT else f"a {family}"
        raise UserError(f"The geometry is a {geometry.geom_type}; {wanted} is wanted.")
    if shape is Shape.POINT:
        return parts[0]  # type: ignore[no-any-return]
    joined: BaseGeometry
    if shape is Shape.LINE:
        joined, size = shapely.multilinestrings(parts), shapely.length(geometry)
    else:
        joined, size = shapely.multipolygons(parts), shapely.area(geometry)
    if not size > 0:
        raise UserError(f"The {family} has no {'length' if shape is Shape.LINE else 'area'}.")
    return joined


def record_geometry(drawn: Mapping[str, Any], shape: Shape) -> BaseGeometry:
    """A GeoJSON geometry, in metres of the record's system, as the record keeps it.

    Args:
        drawn: the GeoJSON object (RFC 7946, section 3.1), without a feature around it.
        shape: what its table holds.

    Raises:
        UserError: it does not read, is of another kind, lies on no map, or has an outline
            that is broken beyond certain repair.
    """
    try:
        geometry = shapely.from_geojson(json.dumps(drawn))
    except (ShapelyError, TypeError, ValueError) as fault:
        raise UserError(f"The geometry does not read as GeoJSON: {fault}.") from fault
    if geometry is None or shapely.is_empty(geometry):
        raise UserError("The geometry is empty.")
    return shaped(mended(checked_coordinates(geometry)), shape)
