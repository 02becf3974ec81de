"""Draw a row anew."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.edits.geometry import record_geometry
from nightwater.ground.edits.rows import table_named, with_values
from nightwater.ground.record import Ground


def reshape(ground: Ground, table: str, identity: str, geometry: Mapping[str, Any]) -> Ground:
    """The ground with another geometry of one row.

    Args:
        ground: the record.
        table: one of its tables with a shape.
        identity: which row.
        geometry: GeoJSON in metres of the record's system.

    Raises:
        UserError: unknown row, or a geometry that cannot stand (see `record_geometry`).
    """
    shape = table_named(table).shape
    if shape is None:
        raise UserError(f"{table} have no place on the map, so they cannot be drawn.")
    return with_values(ground, table, {identity: {GEOMETRY: record_geometry(geometry, shape)}})
