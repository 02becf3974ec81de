"""The record as one document, with units in every key."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import geopandas as gpd
import pandas as pd

from nightwater.desk.course import Course
from nightwater.ground.columns import Kind
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES

FORMAT = "nightwater-record"
VERSION = 1


def _plain(value: Any, kind: Kind) -> Any:
    if value is None or pd.isna(value):
        return None
    if kind is Kind.INTEGER:
        return int(value)
    if kind is Kind.NUMBER:
        return float(value)
    return bool(value) if kind is Kind.YES_NO else str(value)


def _geometries(rows: pd.DataFrame) -> list[Any]:
    if not isinstance(rows, gpd.GeoDataFrame):
        return [None] * len(rows)
    return [shape.__geo_interface__ if shape is not None else None for shape in rows.geometry]


def table_rows(ground: Ground, name: str) -> list[dict[str, Any]]:
    """The rows of one table as plain values; geometry as GeoJSON in metres of the record."""
    table, rows = TABLES[name], ground.table(name)
    geometry = _geometries(rows)
    columns = {
        column.name: [_plain(value, column.kind) for value in rows[column.name]]
        for column in table.columns
    }
    out: list[dict[str, Any]] = []
    for position, identity in enumerate(rows.index):
        row: dict[str, Any] = {"id": str(identity)}
        row |= {column: values[position] for column, values in columns.items()}
        if table.shape is not None:
            row["geometry_m"] = geometry[position]
        out.append(row)
    return out


def record_document(course: Course) -> dict[str, Any]:
    """Settings and every table of the record as one JSON-able document."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "invented": course.settings.site.invented,
        "settings": json.loads(json.dumps(asdict(course.settings))),
        "tables": {name: table_rows(course.ground, name) for name in GROUND_TABLES},
    }
