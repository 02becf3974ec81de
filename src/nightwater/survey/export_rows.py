"""The record as plain rows to be written out, table by table, as `ground/tables.py` declares."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.columns import Column, Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.units import UNITS

# XML 1.0 has no such characters, not even escaped, and turns a lone return into a line end.
_NOT_IN_MARKUP: Final = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff\ud800-\udfff]")


@dataclass(frozen=True)
class ExportTable:
    """One table, ready to be written.

    Attributes:
        table: its declaration; the columns are written in its order, after `id`.
        rows: plain values (text, number, bool or None) by column name, with "id" first.
        shapes: geometry per row in metres of the record, None where a row has no place; None
            for a table without shapes.
    """

    table: Table
    rows: tuple[dict[str, Any], ...]
    shapes: tuple[Any, ...] | None

    @property
    def header(self) -> tuple[str, ...]:
        """The column names, `id` first."""
        return ("id", *self.table.by_name)

    @property
    def located(self) -> Iterator[tuple[dict[str, Any], Any]]:
        """Each row with its shape (None without one)."""
        return zip(self.rows, self.shapes or [None] * len(self.rows), strict=True)


def _export_table(ground: Ground, table: Table) -> ExportTable:
    rows, shapes = [], []
    for identity, values in plain_rows(ground.table(table.name), table).items():
        shapes.append(values.pop(GEOMETRY, None))
        rows.append({"id": identity, **values})
    return ExportTable(table, tuple(rows), tuple(shapes) if table.shape is not None else None)


def export_tables(ground: Ground) -> tuple[ExportTable, ...]:
    """Every table of the record, also the empty ones."""
    return tuple(_export_table(ground, TABLES[name]) for name in GROUND_TABLES)


def inside_unit(column: Column) -> str:
    """The symbol of the unit that a column's numbers are written in; empty where it has none."""
    units = [unit for unit in UNITS.values() if unit.quantity == column.quantity]
    return next((unit.symbol for unit in units if unit.factor == 1 and unit.offset == 0), "")


def check_for_markup(tables: tuple[ExportTable, ...], ending: str) -> None:
    """Refuse texts that no XML file can hold.

    Args:
        tables: what is to be written.
        ending: the file's ending, for the message.

    Raises:
        UserError: with table, id and column.
    """
    for each in tables:
        for row in each.rows:
            for name, value in row.items():
                if isinstance(value, str) and _NOT_IN_MARKUP.search(value):
                    raise UserError(
                        f"{name} of {each.table.name}:{row['id']} holds a control character, which "
                        f"a {ending} file cannot hold. Take it out, or write .gpkg or .geojson."
                    )
