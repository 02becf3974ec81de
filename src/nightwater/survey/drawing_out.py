"""Write the record as a CAD drawing (DXF) that comes back as it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import ezdxf
import shapely
from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.layouts.layout import Modelspace
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from nightwater.findings import Finding, note
from nightwater.ground.changes import GEOMETRY, Values, plain_rows
from nightwater.ground.columns import Shape, Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.drawing_marks import APPLICATION, Mark, as_attribute, write_mark

VERSION: Final = "R2010"  # the first that can be placed on the map
_METRES: Final = 6  # $INSUNITS of the DXF reference
_SYMBOL_M: Final = 0.3
_TEXT_M: Final = 0.6
_INVISIBLE: Final = 1  # attribute flag
# As little of the format as says which system it is; names are for people.
_SYSTEM: Final = """<?xml version="1.0" encoding="UTF-16" standalone="no" ?>
<Dictionary version="1.0">
<ProjectedCoordinateSystem id="{name}">
<Name>{name}</Name>
<Axis uom="METER">
<CoordinateSystemAxis><AxisOrder>1</AxisOrder><AxisName>Easting</AxisName>
<AxisAbbreviation>E</AxisAbbreviation><AxisDirection>east</AxisDirection></CoordinateSystemAxis>
<CoordinateSystemAxis><AxisOrder>2</AxisOrder><AxisName>Northing</AxisName>
<AxisAbbreviation>N</AxisAbbreviation><AxisDirection>north</AxisDirection></CoordinateSystemAxis>
</Axis>
</ProjectedCoordinateSystem>
<Alias id="{epsg}" type="CoordinateSystem">
<ObjectId>{name}</ObjectId>
<Namespace>EPSG Code</Namespace>
</Alias>
</Dictionary>
"""


def block_name(table: Table) -> str:
    """The block that draws one thing of a table of points: heads → HEAD."""
    return table.name.removesuffix("s").upper()


def layer_name(table: Table, values: Values) -> str:
    """The layer of a row: its table, and its kind where it has one (AREAS-GREEN)."""
    kind = values.get("kind")
    return table.name.upper() + (f"-{str(kind).upper()}" if kind else "")


def _place_on_map(document: Drawing, crs: str) -> None:
    """Say the coordinate system, where it has a public number."""
    system = CRS.from_user_input(crs)
    epsg = system.to_epsg()
    if epsg is None or not system.is_projected:
        return
    name = escape(system.name, {'"': "&quot;"})
    # Both points at zero: coordinates of the drawing are those of the system.
    document.modelspace().new_geodata().setup_local_grid(
        design_point=(0, 0), reference_point=(0, 0), crs=_SYSTEM.format(name=name, epsg=epsg)
    )


def _new_block(document: Drawing, table: Table) -> None:
    block = document.blocks.new(block_name(table))
    block.add_circle((0, 0), _SYMBOL_M)
    for number, name in enumerate(("id", *table.by_name)):
        flags = 0 if name == "label" else _INVISIBLE
        spot = (_SYMBOL_M, -number * _TEXT_M)
        more = {"height": _TEXT_M, "flags": flags}
        block.add_attdef(name.upper(), spot, "", dxfattribs=more)


def _point(space: Modelspace, table: Table, key: str, values: Values) -> Iterator[DXFEntity]:
    spot = values[GEOMETRY]
    layer = {"layer": layer_name(table, values)}
    insert = space.add_blockref(block_name(table), (spot.x, spot.y), dxfattribs=layer)
    texts = {"id": key, **{name: values.get(name) for name in table.by_name}}
    insert.add_auto_attribs({name.upper(): as_attribute(text) for name, text in texts.items()})
    write_mark(insert, Mark(table.name, key, values=_plain(values)))
    yield insert


def _plain(values: Values) -> Mapping[str, Any]:
    return {name: value for name, value in values.items() if name != GEOMETRY}


def _traces(shape: BaseGeometry) -> Iterator[tuple[int, int, BaseGeometry]]:
    """Every line of a shape with the number of its part and, from 1, of the hole."""
    for part, single in enumerate(shapely.get_parts(shape)):
        rings = [single]
        if single.geom_type == "Polygon":
            rings = [single.exterior, *single.interiors]
        for ring, line in enumerate(rings):
            yield part, ring, line


def _lines(space: Modelspace, table: Table, key: str, values: Values) -> Iterator[DXFEntity]:
    closed = table.shape is Shape.POLYGON
    layer = {"layer": layer_name(table, values)}
    for part, ring, line in _traces(values[GEOMETRY]):
        points = shapely.get_coordinates(line)
        drawn = space.add_lwpolyline(
            points[:-1] if closed else points, close=closed, dxfattribs=layer
        )
        first = part == 0 and ring == 0
        write_mark(drawn, Mark(table.name, key, part, ring, _plain(values) if first else None))
        yield drawn


def _not_drawn(table: Table, number: int) -> tuple[Finding, ...]:
    if not number:
        return ()
    found = note(
        "row-not-drawn",
        f"table:{table.name}",
        f"{number} rows of {table.name} have no place, so they are not in the drawing.",
        "Give them a place on the map, or export the table as text.",
    )
    return (found,)


def _draw_table(document: Drawing, table: Table, rows: Mapping[str, Values]) -> int:
    space, missing = document.modelspace(), 0
    draw = _point if table.shape is Shape.POINT else _lines
    if table.shape is Shape.POINT:
        _new_block(document, table)
    for key, values in rows.items():
        shape = values.get(GEOMETRY)
        if shape is None or shape.is_empty:
            missing += 1
            continue
        layer = layer_name(table, values)
        if layer not in document.layers:
            document.layers.add(layer)
        for _ in draw(space, table, key, values):
            pass
    return missing


def write_drawing(ground: Ground, path: Path) -> tuple[Finding, ...]:
    """Write every table of the record that has a place as a DXF drawing in metres.

    Areas are closed polylines on a layer for each kind, holes a polyline for each part; lines of
    play and pipes are polylines; heads, valves and the other points are blocks whose attributes
    are the columns. Every row also stands, exactly, in extended data under our application id,
    so that `read_table` gives the same rows back; an attribute that somebody edits wins over it.

    Args:
        ground: the record.
        path: the file to write; one that is there is replaced.

    Returns:
        Notes on rows that have no place and are not drawn.
    """
    document = ezdxf.new(VERSION, units=_METRES)  # type: ignore[attr-defined]
    document.appids.add(APPLICATION)
    findings: list[Finding] = []
    for name in GROUND_TABLES:
        table = TABLES[name]
        if table.shape is not None:
            rows = plain_rows(ground.table(name), table)
            findings += _not_drawn(table, _draw_table(document, table, rows))
    _place_on_map(document, ground.crs)
    document.saveas(path)
    return tuple(findings)
