"""Changes to the record as values: which rows, from what, to what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Final

import pandas as pd
from shapely.geometry.base import BaseGeometry

from nightwater.ground.columns import Kind, Table

GEOMETRY: Final = "geometry"
Values = Mapping[str, Any]


@dataclass(frozen=True)
class RowChange:
    """One row, before and after.

    Attributes:
        table: name of its table, or "settings".
        id: its key.
        before: every value as the record held it when the change was made, or None for a
            new row.
        after: the values it shall have, or None for a row that goes; a column that is not
            named keeps what it was before.
    """

    table: str
    id: str
    before: Values | None
    after: Values | None

    @property
    def columns(self) -> dict[str, tuple[Any, Any]]:
        """What differs, column by column: name → (old, new)."""
        before, after = self.before or {}, self.after or {}
        names = dict.fromkeys((*before, *after))
        pairs = {name: (before.get(name), after.get(name)) for name in names}
        return {name: (old, new) for name, (old, new) in pairs.items() if old != new}

    @property
    def reversed(self) -> RowChange:
        """The change that takes this one back."""
        return RowChange(self.table, self.id, self.after, self.before)


@dataclass(frozen=True)
class Changes:
    """What one revision does, whole or not at all.

    Attributes:
        rows: at most one change of each row.
        summary: one line for the history; made from the rows where it is empty.
    """

    rows: tuple[RowChange, ...]
    summary: str = ""

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def reversed(self) -> Changes:
        """The changes that take these back, last first."""
        return Changes(tuple(row.reversed for row in reversed(self.rows)))

    def in_words(self) -> str:
        """The summary: given, or counted from the rows ("heads: 12 added, 3 changed")."""
        return self.summary or _counted(self.rows)


def _deed(row: RowChange) -> str:
    if row.before is None:
        return "added"
    return "removed" if row.after is None else "changed"


def _counted(rows: tuple[RowChange, ...]) -> str:
    tables = dict.fromkeys(row.table for row in rows)
    parts = []
    for table in tables:
        counts = Counter(_deed(row) for row in rows if row.table == table)
        words = [
            f"{counts[deed]} {deed}" for deed in ("added", "changed", "removed") if counts[deed]
        ]
        parts.append(f"{table}: {', '.join(words)}")
    return "; ".join(parts) or "nothing"


def plain_value(value: Any, kind: Kind) -> Any:
    """A cell as str, int, float, bool or None, by the kind of its column; NaN is None.

    A date or a zone-aware time is written as the record writes it.

    Raises:
        ValueError, TypeError: the value is not of that kind.
    """
    if value is None or value is pd.NA or value != value:  # noqa: PLR0124 - NaN differs from itself
        return None
    if kind is Kind.NUMBER:
        return float(value)
    if kind is Kind.INTEGER:
        if int(value) != float(value):
            raise ValueError(f"{value} is not a whole number")
        return int(value)
    if kind is Kind.YES_NO:
        return bool(value)
    return _written_time(value, kind) if isinstance(value, date) else str(value)


def _written_time(value: date, kind: Kind) -> str:
    if kind is Kind.DATE:
        return value.isoformat()[: len("2026-07-14")]
    if not isinstance(value, datetime):
        return value.isoformat()
    if value.tzinfo is None:
        raise ValueError(f"{value} has no zone")
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _plain_geometry(value: Any) -> BaseGeometry | None:
    return value if isinstance(value, BaseGeometry) else None


def plain_rows(rows: pd.DataFrame, table: Table) -> dict[str, dict[str, Any]]:
    """Rows of a conformed table as plain values, by id; a shape stands under "geometry"."""
    columns = [
        [plain_value(value, column.kind) for value in rows[column.name].tolist()]
        for column in table.columns
    ]
    names = [column.name for column in table.columns]
    if table.shape is not None:
        columns.append([_plain_geometry(value) for value in rows[GEOMETRY].tolist()])
        names.append(GEOMETRY)
    ids = [str(identity) for identity in rows.index]
    return {
        identity: dict(zip(names, values, strict=True))
        for identity, values in zip(ids, zip(*columns, strict=True), strict=True)
    }


def _completed_values(table: Table, values: Values) -> dict[str, Any]:
    complete = {c.name: plain_value(values.get(c.name), c.kind) for c in table.columns}
    if table.shape is not None:
        complete[GEOMETRY] = _plain_geometry(values.get(GEOMETRY))
    return complete | {name: v for name, v in values.items() if name not in complete}


def completed(change: RowChange, table: Table) -> RowChange:
    """The change with every column of its table in `before` and `after`, as plain values.

    Names that are no column stay, for `row_faults` to refuse.

    Raises:
        ValueError, TypeError: a value is not of its column's kind.
    """
    before = None if change.before is None else _completed_values(table, change.before)
    after = None
    if change.after is not None:
        after = _completed_values(table, {**(before or {}), **change.after})
    return RowChange(change.table, change.id, before, after)
