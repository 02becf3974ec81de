"""Add one row to the record."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.edits.geometry import record_geometry
from nightwater.ground.edits.rows import free_ids, given_values, one_of, table_named, with_rows
from nightwater.ground.record import Ground

DRAWN: Final = "drawing"  # evidence of what is pointed at on the map


def _identity(ground: Ground, table: str, wanted: str | None, retired: Collection[str]) -> str:
    if wanted is None:
        return next(free_ids(ground, table, retired))
    name = wanted.strip()
    if not name:
        raise UserError("The id is empty. Give one, or none to have it made.")
    if name in ground.table(table).index:
        raise UserError(f"There is a {one_of(table)} {name} already. Choose another id.")
    return name


def add_row(
    ground: Ground,
    table: str,
    values: Mapping[str, Any],
    geometry: Mapping[str, Any] | None = None,
    *,
    identity: str | None = None,
    retired: Collection[str] = (),
) -> Ground:
    """The ground with one more row; its evidence is "drawing" unless given.

    Args:
        ground: the record.
        table: where the row goes.
        values: column → plain value in the column's unit.
        geometry: GeoJSON in metres of the record's system, where the table has a shape.
        identity: its id; made where None.
        retired: ids of this table that the record had once and that are not made again.

    Raises:
        UserError: the row may not stand, its id is taken, or its place is missing.
    """
    declared = table_named(table)
    row = dict.fromkeys(declared.by_name) | given_values(ground, table, values)
    if "evidence" in declared.by_name and row["evidence"] is None:
        row["evidence"] = DRAWN
    if declared.shape is None and geometry is not None:
        raise UserError(f"{table} have no place on the map; leave the geometry away.")
    if declared.shape is not None:
        if geometry is None:
            raise UserError(f"A new {one_of(table)} needs its place on the map.")
        row[GEOMETRY] = record_geometry(geometry, declared.shape)
    return with_rows(ground, table, {_identity(ground, table, identity, retired): row})
