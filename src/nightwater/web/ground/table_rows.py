"""A table of the record as the page beside the map shows it, and as it finds rows by text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from nightwater.findings import NotFoundError
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.columns import Column, Kind
from nightwater.ground.edits.digests import digests
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.units import UNITS
from nightwater.web.ground.view import column_title

Document = dict[str, Any]
# Numbers that nobody surveys in another unit, by the end of their name.
_ENDINGS: Final = {"_mm_m": "mm/m", "_l_s_min": "L/s/min", "_s": "s"}
_PRINTED: Final = {"pct": "%", "deg": "°", "m2": "m²", "m3": "m³", "C": "°C"}
_INSIDE: Final[Mapping[str, str]] = {
    unit.quantity: symbol
    for symbol, unit in reversed(list(UNITS.items()))
    if unit.factor == 1 and unit.offset == 0
}


def unit_of(column: Column) -> str | None:
    """The unit in which a column is kept, None for what has none."""
    if column.quantity is not None:
        symbol = _INSIDE[column.quantity]
        return _PRINTED.get(symbol, symbol)
    if column.kind is not Kind.NUMBER:
        return None
    return next((unit for end, unit in _ENDINGS.items() if column.name.endswith(end)), None)


def column_document(column: Column) -> Document:
    """What a page needs to know of a column to show it and to take a value."""
    return {
        "name": column.name,
        "title": column_title(column),
        "unit": unit_of(column),
        "kind": column.kind.value,
        "choices": list(column.choices) or None,
        "meaning": column.meaning,
        "required": column.required,
        "lowest": column.lowest,
        "highest": column.highest,
        "refers_to": column.refers_to,
    }


def rows_document(kept: Ground, resolved: Ground, table: str) -> Document:
    """Columns and rows of one table, in plain values of the columns' own units.

    Args:
        kept: the record as the file holds it; each row's digest is of that.
        resolved: the same with station lists resolved, which is what is shown.
        table: its name.

    Raises:
        NotFoundError: no table of the record.
    """
    if table not in GROUND_TABLES:
        raise NotFoundError(f"The record has no table '{table}'.")
    declared = TABLES[table]
    own = plain_rows(kept.table(table), declared)
    same = kept.table(table) is resolved.table(table)
    shown = own if same else plain_rows(resolved.table(table), declared)
    marks = digests(own)
    rows = [
        {"id": identity, "digest": marks[identity]}
        | {name: value for name, value in values.items() if name != GEOMETRY}
        for identity, values in shown.items()
    ]
    return {"columns": [column_document(column) for column in declared.columns], "rows": rows}


def _holds(row: Mapping[str, Any], text: str) -> bool:
    shown = (value for name, value in row.items() if name != "digest" and value is not None)
    return any(text in str(value).casefold() for value in shown)


def found_rows(rows: Sequence[Document], text: str) -> list[Document]:
    """Rows of which some value holds every word of a text, whatever its case."""
    words = text.casefold().split()
    return [row for row in rows if all(_holds(row, word) for word in words)]
