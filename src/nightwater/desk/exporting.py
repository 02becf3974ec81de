"""The record written out: one document with units in every key, or files for other programs."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Final

from nightwater.desk.course import Course
from nightwater.desk.documents import write_folder_whole, write_whole
from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.store.settings_document import settings_to_document
from nightwater.survey.csv_out import csv_files, zipped
from nightwater.survey.drawing_out import write_drawing
from nightwater.survey.geojson_out import geojson_bytes
from nightwater.survey.geopackage_out import geopackage_bytes
from nightwater.survey.kml_out import kml_bytes
from nightwater.survey.network_out import network_text
from nightwater.survey.workbook_out import workbook_bytes
from nightwater.units import UnitSystem

FORMAT = "nightwater-record"
VERSION = 1


def drawing_bytes(ground: Ground) -> bytes:
    """The record as a drawing; rows without a place are not drawn."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.dxf"
        write_drawing(ground, path)
        return path.read_bytes()


def network_bytes(ground: Ground, units: UnitSystem) -> bytes:
    """The solved network as an EPANET file, heads closed, in the course's units.

    Raises:
        UserError: a record whose pipes cannot be solved.
    """
    network, _ = build_hydraulic_network(ground)
    return network_text(network, ground, units).encode()


_MAKERS: Final[dict[str, Callable[[Ground], bytes]]] = {
    ".gpkg": geopackage_bytes,
    ".geojson": geojson_bytes,
    ".kml": kml_bytes,
    ".xlsx": workbook_bytes,
    ".zip": lambda ground: zipped(csv_files(ground)),
    ".dxf": drawing_bytes,
}


def table_rows(ground: Ground, name: str) -> list[dict[str, Any]]:
    """The rows of one table as plain values; geometry as GeoJSON in metres of the record."""
    rows = []
    for identity, values in plain_rows(ground.table(name), TABLES[name]).items():
        row = {"id": identity, **values}
        if GEOMETRY in row:
            shape = row.pop(GEOMETRY)
            row["geometry_m"] = None if shape is None else shape.__geo_interface__
        rows.append(row)
    return rows


def record_document(course: Course) -> dict[str, Any]:
    """Settings and every table of the record as one JSON-able document."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "invented": course.settings.site.invented,
        "settings": settings_to_document(course.settings),
        "tables": {name: table_rows(course.ground, name) for name in GROUND_TABLES},
    }


def write_record(course: Course, out: Path) -> None:
    """Write the record in the format that the ending asks for, whole or not at all.

    `.json` is the record as plans are made of it, heads and station list reconciled; every other
    format is the record exactly as the file keeps it, so that surveying it changes nothing. A
    name without ending is a folder of text tables.

    Raises:
        UserError: an ending nobody writes, the course file itself, a text that the format cannot
            hold, or a place that cannot be written.
    """
    if out.exists() and out.samefile(course.path):
        raise UserError(f"{out} is the course itself. Name another file.")
    ground = course.file.ground()
    if not out.suffix:
        write_folder_whole(out, csv_files(ground))
        return
    makers: dict[str, Callable[[], Any]] = {".json": lambda: record_document(course)}
    makers |= {ending: partial(make, ground) for ending, make in _MAKERS.items()}
    makers[".inp"] = lambda: network_bytes(ground, course.settings.site.units)
    write_whole(out, makers)
