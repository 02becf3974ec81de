"""The record as one document, with units in every key."""

from __future__ import annotations

from typing import Any

from nightwater.desk.course import Course
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store.settings_document import settings_to_document

FORMAT = "nightwater-record"
VERSION = 1


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
