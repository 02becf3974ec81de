"""Somebody's geometry in the record's system and shape, repaired where that is certain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from shapely.geometry.base import BaseGeometry

from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.columns import Shape
from nightwater.ground.repairs import certain_repair, fault_in_words
from nightwater.survey.cells import BadCellError
from nightwater.survey.far_rows import in_degrees, outside_degrees
from nightwater.survey.source_files import SourceRows

_FAMILY: Final = {Shape.POINT: "Point", Shape.LINE: "LineString", Shape.POLYGON: "Polygon"}
PLACED: Final = ("areas", "holes", "heads", "pipes")  # nothing can be worked out without place
_POLE_DEG: Final = 90.0


def source_crs(rows: SourceRows, given: str | None, name: str) -> CRS:
    """The coordinate system of a file: what it declares, else what a person says.

    Raises:
        UserError: neither, an unknown one, or a contradiction.
    """
    if given is None:
        if rows.crs is None:
            raise UserError(
                f"{name} does not say its coordinate system. Say it with --crs, for instance "
                "--crs EPSG:4326 for longitude and latitude."
            )
        return _with_units(CRS.from_user_input(rows.crs), name)
    try:
        wanted = CRS.from_user_input(given)
    except CRSError:
        raise UserError(f"'{given}' is not a known coordinate system.") from None
    if rows.crs_assumed:
        return _with_degrees(_with_units(wanted, name), given, name)
    if rows.crs is not None and not CRS.from_user_input(rows.crs).equals(wanted, True):
        raise UserError(
            f"{name} declares {CRS.from_user_input(rows.crs).name}, not {given}. "
            "Leave --crs away, or mend the file."
        )
    return _with_units(wanted, name)


def _with_units(crs: CRS, name: str) -> CRS:
    if not (crs.is_projected or crs.is_geographic):
        raise UserError(
            f"{name} lies in '{crs.name}', which says nothing of where on the globe that is. "
            "Bring it into a mapped system first."
        )
    try:
        Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except ProjError:
        raise UserError(
            f"{name} lies in '{crs.name}', from which nothing leads to longitude and latitude. "
            "Bring it into a mapped system of this globe first."
        ) from None
    return crs


def _with_degrees(crs: CRS, given: str, name: str) -> CRS:
    if not crs.is_geographic:
        raise UserError(
            f"{name} gives longitude and latitude, which {given} does not measure in. "
            "Leave --crs away, or name the columns x and y."
        )
    return crs


@dataclass(frozen=True)
class Reshaping:
    """How a file's geometry comes into the record."""

    transformer: Transformer
    shape: Shape
    degrees: bool = False


def reshaping(source: CRS, record_crs: str, shape: Shape) -> Reshaping:
    """The way from a file's system to the record's; x is east in both."""
    return Reshaping(
        Transformer.from_crs(source, record_crs, always_xy=True), shape, in_degrees(source)
    )


def _projected(geometry: BaseGeometry, transformer: Transformer) -> BaseGeometry:
    def moved(points: Any) -> Any:
        across, up = transformer.transform(points[:, 0], points[:, 1])
        return np.column_stack((across, up))

    flat = shapely.force_2d(geometry)
    projected: BaseGeometry = shapely.transform(flat, moved)
    if not np.isfinite(shapely.get_coordinates(projected)).all():
        raise BadCellError(_outside(flat, transformer))
    return projected


def _outside(geometry: BaseGeometry, transformer: Transformer) -> str:
    """Why coordinates are of no place: exchanged axes leave latitudes beyond a pole."""
    away = "its coordinates lie outside the coordinate system"
    source = transformer.source_crs
    if source is None or not source.is_geographic:
        return away
    across, up = np.abs(shapely.get_coordinates(geometry)).T
    if up.max() > _POLE_DEG and up.max() <= 2 * _POLE_DEG and across.max() <= _POLE_DEG:
        return f"{away}: a latitude of {up.max():g}; latitude and longitude may be exchanged"
    return away


def _single(geometry: BaseGeometry, family: str) -> BaseGeometry:
    parts = [part for part in shapely.get_parts(geometry) if part.geom_type == family]
    if not parts:
        raise BadCellError(f"its geometry is a {geometry.geom_type}, not a {family}")
    if family == "Point":
        if len(parts) > 1:
            raise BadCellError(f"it has {len(parts)} points where one is wanted")
        point: BaseGeometry = parts[0]
        return point
    multi = shapely.multilinestrings if family == "LineString" else shapely.multipolygons
    joined: BaseGeometry = multi(parts)
    return joined


def _repaired(geometry: BaseGeometry, reason: str) -> BaseGeometry:
    mended = certain_repair(geometry)
    if mended is None:
        raise BadCellError(f"its outline is not valid ({reason}) and can be repaired in two ways")
    return mended


def record_shape(geometry: Any, way: Reshaping) -> tuple[BaseGeometry, str | None]:
    """A geometry as the record keeps it, and what was repaired.

    Raises:
        BadCellError: missing, of the wrong kind, or broken beyond certain repair.
    """
    if geometry is None or shapely.is_empty(geometry):
        raise BadCellError("it has no geometry")
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        raise BadCellError("its coordinates are not all numbers")
    if way.degrees and outside_degrees(geometry):
        raise BadCellError("its degrees lie beyond ±180 of longitude or ±90 of latitude")
    projected = _projected(geometry, way.transformer)
    repaired = None
    if not shapely.is_valid(projected):
        repaired = fault_in_words(projected)
        projected = _repaired(projected, repaired)
    shaped = _single(projected, _FAMILY[way.shape])
    if repaired is None and projected.geom_type == "GeometryCollection":
        whole = shapely.get_num_geometries(projected) == shapely.get_num_geometries(shaped)
        repaired = None if whole else "parts of another kind"
    if way.shape is Shape.POLYGON and shapely.area(shaped) <= 0:
        raise BadCellError("its polygon has no area")
    return shaped, repaired


def repair_note(name: str, place: str, reason: str) -> Finding:
    """A geometry that was mended, and why."""
    return warning(
        "geometry-repaired",
        f"file:{name}",
        f"{name}, {place}: the outline was not valid ({reason}) and was repaired.",
        "Look at it on the map.",
    )


def flattened_note(rows: SourceRows, name: str) -> tuple[Finding, ...]:
    """A note where heights or measures were left aside."""
    count = sum(bool(shape is not None and shapely.has_z(shape)) for shape in rows.shapes or ())
    if not count:
        return ()
    found = note(
        "heights-left-aside",
        f"file:{name}",
        f"{name}: {count} features carry heights, which the record does not take from geometry.",
        "Give heights as a column, elevation_m or elevation_ft.",
    )
    return (found,)
