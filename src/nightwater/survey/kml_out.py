"""The record as KML 2.2 (OGC 07-147r2): a folder for each table, longitude and latitude."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Final
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

import numpy as np
import shapely
from pyproj import Transformer

from nightwater.ground.columns import Kind, Table
from nightwater.ground.record import Ground
from nightwater.survey.export_rows import (
    ExportTable,
    check_for_markup,
    export_tables,
    inside_unit,
)

_NAMESPACE: Final = "http://www.opengis.net/kml/2.2"
# Readers take "id" for the placemark's own, which may not begin with a digit.
ID_FIELD: Final = "identifier"
_SCHEMA: Final = "nightwater-"  # before the table's name
_HEAD_BYTES: Final = 4096  # the schemas stand first
_FAMILIES: Final = {
    "MultiPolygon": "Polygon",
    "MultiLineString": "LineString",
    "Polygon": "Polygon",
    "LineString": "LineString",
    "Point": "Point",
}
# Yes and no are words here: readers disagree on what a KML bool with gaps is.
_TYPES: Final = {Kind.NUMBER: "double", Kind.INTEGER: "int"}


def is_record_kml(content: bytes) -> bool:
    """Whether a KML document is one of ours: its extended data say all that its names say."""
    return f'id="{_SCHEMA}'.encode() in content[:_HEAD_BYTES]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)


def _schema(parent: Element, table: Table) -> None:
    schema = SubElement(parent, "Schema", name=table.name, id=f"{_SCHEMA}{table.name}")
    SubElement(schema, "SimpleField", type="string", name=ID_FIELD)
    for column in table.columns:
        kind = _TYPES.get(column.kind, "string")
        field = SubElement(schema, "SimpleField", type=kind, name=column.name)
        unit = inside_unit(column)
        shown = column.name.replace("_", " ") if not unit else f"{column.name} [{unit}]"
        SubElement(field, "displayName").text = shown


def _extended(placemark: Element, each: ExportTable, row: dict[str, Any]) -> None:
    extended = SubElement(placemark, "ExtendedData")
    known = SubElement(extended, "SchemaData", schemaUrl=f"#{_SCHEMA}{each.table.name}")
    for name in each.header:
        if row[name] is not None:
            theirs = ID_FIELD if name == "id" else name
            SubElement(known, "SimpleData", name=theirs).text = _value(row[name])


def _coordinates(parent: Element, points: Any) -> None:
    # Shortest text that gives the same number back: about a nanometre.
    text = " ".join(f"{x!r},{y!r}" for x, y in points.tolist())
    SubElement(parent, "coordinates").text = text


def _ring(parent: Element, which: str, ring: Any) -> None:
    boundary = SubElement(SubElement(parent, which), "LinearRing")
    _coordinates(boundary, shapely.get_coordinates(ring))


def _draw(parent: Element, shape: Any) -> None:
    family = _FAMILIES[shape.geom_type]
    if shape.geom_type.startswith("Multi"):
        many = SubElement(parent, "MultiGeometry")
        for part in shapely.get_parts(shape):
            _draw(many, part)
        return
    drawn = SubElement(parent, family)
    if family == "Polygon":
        _ring(drawn, "outerBoundaryIs", shape.exterior)
        for hole in shape.interiors:
            _ring(drawn, "innerBoundaryIs", hole)
    else:
        _coordinates(drawn, shapely.get_coordinates(shape))


def _degrees(points: Any, crs: str) -> Any:
    """Longitude and latitude from which the way back leads to the same metres.

    Shifts between datums are not exact inverses of each other (up to 1.2 mm in the systems
    tested); one step of correction leaves less than 0.01 µm.
    """
    there = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    back = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    first = np.column_stack(there.transform(points[:, 0], points[:, 1]))
    met = np.column_stack(back.transform(first[:, 0], first[:, 1]))
    return first + (first - np.column_stack(there.transform(met[:, 0], met[:, 1])))


def _in_degrees(shapes: Sequence[Any], crs: str) -> list[Any]:
    known = np.array([shape for shape in shapes if shape is not None], dtype=object)
    moved = iter(shapely.transform(known, lambda points: _degrees(points, crs)))
    return [None if shape is None else next(moved) for shape in shapes]


def _folder(parent: Element, each: ExportTable, crs: str) -> None:
    folder = SubElement(parent, "Folder")
    SubElement(folder, "name").text = each.table.name
    SubElement(folder, "description").text = each.table.meaning
    shapes = _in_degrees(each.shapes or [None] * len(each.rows), crs)
    for row, shape in zip(each.rows, shapes, strict=True):
        placemark = SubElement(folder, "Placemark")
        SubElement(placemark, "name").text = row.get("label") or row["id"]
        SubElement(placemark, "styleUrl").text = "#nightwater"
        _extended(placemark, each, row)
        if shape is not None:
            _draw(placemark, shape)


def _style(parent: Element) -> None:
    """Outlines without a fill, so that the picture below stays to be seen."""
    style = SubElement(parent, "Style", id="nightwater")
    SubElement(SubElement(style, "LineStyle"), "width").text = "2"
    SubElement(SubElement(style, "PolyStyle"), "fill").text = "0"


def kml_bytes(ground: Ground) -> bytes:
    """Every row of every table as a placemark, every known value in its extended data.

    Raises:
        UserError: a text holds a character that no XML file can hold.
    """
    tables = export_tables(ground)
    check_for_markup(tables, ".kml")
    kml = Element("kml", xmlns=_NAMESPACE)
    document = SubElement(kml, "Document")
    SubElement(document, "name").text = "nightwater record"
    _style(document)
    for each in tables:
        _schema(document, each.table)
    for each in tables:
        _folder(document, each, ground.crs)
    out = io.BytesIO()
    ElementTree.ElementTree(kml).write(out, encoding="utf-8", xml_declaration=True)
    return out.getvalue()
