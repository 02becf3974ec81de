"""JSON Schemas of what scripts may rely on, derived from the declarations."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nightwater.ground.columns import Column, Kind, Table
from nightwater.ground.tables import GROUND_TABLES, TABLES

_DRAFT = "https://json-schema.org/draft/2020-12/schema"
_TYPES = {
    Kind.TEXT: "string",
    Kind.INTEGER: "integer",
    Kind.NUMBER: "number",
    Kind.YES_NO: "boolean",
    Kind.DATE: "string",
    Kind.INSTANT: "string",
    Kind.DOCUMENT: "object",
}


def column_schema(column: Column) -> dict[str, Any]:
    """The schema of one column's value; a value that is not required may be null."""
    kind: Any = _TYPES[column.kind]
    schema: dict[str, Any] = {"description": column.meaning}
    schema["type"] = kind if column.required else [kind, "null"]
    if column.lowest is not None:
        schema["minimum"] = column.lowest
    if column.highest is not None:
        schema["maximum"] = column.highest
    if column.choices:
        schema["enum"] = [*column.choices] if column.required else [*column.choices, None]
    return schema


def table_schema(table: Table) -> dict[str, Any]:
    """The schema of one row of a table."""
    properties: dict[str, Any] = {"id": {"type": "string", "description": "Stable id."}}
    properties |= {column.name: column_schema(column) for column in table.columns}
    if table.shape is not None:
        properties["geometry_m"] = {
            "type": ["object", "null"],
            "description": f"GeoJSON {table.shape.value}, in metres of settings.site.crs.",
        }
    return {
        "type": "object",
        "description": table.meaning,
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def record_schema() -> dict[str, Any]:
    """The schema of `nightwater export`."""
    rows = {name: {"type": "array", "items": table_schema(TABLES[name])} for name in GROUND_TABLES}
    return {
        "$schema": _DRAFT,
        "title": "nightwater record",
        "type": "object",
        "properties": {
            "format": {"const": "nightwater-record"},
            "version": {"const": 1},
            "invented": {"type": "boolean"},
            "settings": {"type": "object"},
            "tables": {
                "type": "object",
                "properties": rows,
                "required": list(rows),
                "additionalProperties": False,
            },
        },
        "required": ["format", "version", "invented", "settings", "tables"],
    }


_TEXT = {"type": "string"}
_WHOLE = {"type": "integer"}
_NUMBER = {"type": "number"}


def _row(properties: dict[str, Any], *, closed: bool = True) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": not closed,
    }


def finding_schema() -> dict[str, Any]:
    """The schema of one finding, as `check` and `referee` print it."""
    severity = {"enum": ["error", "warning", "note"]}
    return _row(
        {"severity": severity, **dict.fromkeys(("code", "subject", "message", "fix"), _TEXT)}
    )


def night_schema() -> dict[str, Any]:
    """The schema of `nightwater plan --format json`."""
    run = {
        "station": _TEXT,
        "start": _TEXT,
        "run_min": _WHOLE,
        "cycle": _WHOLE,
        "of_cycles": _WHOLE,
    }
    pin = {"station": _TEXT, "start": _TEXT, "author": _TEXT}
    held = _row({"cause": _TEXT, "until": _TEXT, "reason": _TEXT, "author": _TEXT})
    hold = {"anyOf": [held, {"type": "null"}]}
    left = {"station": _TEXT, "owed_min": _WHOLE, "reason": _TEXT, "hold": hold}
    return {"$schema": _DRAFT, "title": "nightwater night"} | _row(
        {
            "night": _TEXT,
            "window": _row({"start": _TEXT, "end": _TEXT}),
            "bound_min": _NUMBER,
            "finish_min": _NUMBER,
            "gap": _NUMBER,
            "runs": {"type": "array", "items": _row(run)},
            "left_out": {"type": "array", "items": _row(left)},
            "flow_l_s": {"type": "array", "items": _NUMBER},
            "findings": {"type": "array", "items": finding_schema()},
            "pins": {"type": "array", "items": _row(pin)},
        },
        closed=False,
    )


def et_schema() -> dict[str, Any]:
    """The schema of `nightwater et --format json`."""
    value = {"type": ["number", "null"]}
    row = {
        "type": "object",
        "properties": {
            "date": _TEXT,
            "time": _TEXT,
            "eto_mm": value,
            "etr_mm": value,
            "flags": {"type": "array", "items": _TEXT},
        },
        "required": ["eto_mm", "etr_mm", "flags"],
        "additionalProperties": False,
    }
    return {"$schema": _DRAFT, "title": "nightwater reference ET", "type": "array", "items": row}


def findings_schema() -> dict[str, Any]:
    """The schema of `nightwater check` and `nightwater referee` as JSON."""
    items = finding_schema()
    return {"$schema": _DRAFT, "title": "nightwater findings", "type": "array", "items": items}


SCHEMAS: Mapping[str, Callable[[], dict[str, Any]]] = {
    "record": record_schema,
    "night": night_schema,
    "et": et_schema,
    "findings": findings_schema,
}
