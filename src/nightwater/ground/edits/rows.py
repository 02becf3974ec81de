"""Rows of the record read, written and taken out; every edit goes through here."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from itertools import count
from typing import Any, Final

import pandas as pd

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY, Values, plain_rows
from nightwater.ground.columns import Column, Kind, Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.ground.validity import row_faults

_NAMED: Final = 5
_LARGEST_NUMBER: Final = 1e15
_KIND_WORDS: Final[Mapping[Kind, str]] = {
    Kind.NUMBER: "a number",
    Kind.INTEGER: "a whole number",
    Kind.YES_NO: "true or false",
}


def listed(names: Iterable[object]) -> str:
    """A few names in words, and how many more there are."""
    every = [str(name) for name in names]
    more = len(every) - _NAMED
    return ", ".join(every[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def nearest(name: str, known: Iterable[str]) -> str:
    """A sentence with the nearest known name; empty where none is near."""
    near = get_close_matches(name, list(known), 1)
    return f" Did you mean '{near[0]}'?" if near else ""


def table_named(name: str) -> Table:
    """A table of the record.

    Raises:
        UserError: none of that name, with the nearest that there is.
    """
    if name not in GROUND_TABLES:
        raise UserError(f"The record has no table '{name}'.{nearest(name, GROUND_TABLES)}")
    return TABLES[name]


def one_of(table: str) -> str:
    """What a row of a table is called: "heads" → "head"."""
    return table.removesuffix("s")


def check_there(ground: Ground, table: str, ids: Sequence[str]) -> None:
    """Refuse ids that a table does not have, and an empty list.

    Raises:
        UserError: with the names, and the nearest known one where only one is wrong.
    """
    if not ids:
        raise UserError(f"No {table} are named. Choose some first.")
    index = ground.table(table).index
    lost = [identity for identity in ids if identity not in index]
    if lost:
        verb = "is no" if len(lost) == 1 else "are no"
        what = one_of(table) if len(lost) == 1 else table
        hint = nearest(lost[0], map(str, index)) if len(lost) == 1 else ""
        raise UserError(f"{listed(lost)} {verb} {what} of the record.{hint}")


def rows_of(ground: Ground, table: str, ids: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Rows as plain values by id; a shape stands under "geometry".

    Raises:
        UserError: an id that the table does not have.
    """
    check_there(ground, table, ids)
    return plain_rows(ground.table(table).loc[list(dict.fromkeys(ids))], TABLES[table])


def _faults(table: str, rows: Mapping[str, Values]) -> Iterator[str]:
    for identity, values in rows.items():
        for fault in row_faults(TABLES[table], values):
            yield f"{table}:{identity}: {fault}"


def _put(ground: Ground, table: str, rows: Mapping[str, Values]) -> Ground:
    frame = ground.table(table)
    known = set(frame.index)
    new = [identity for identity in rows if identity not in known]
    index = pd.Index([*frame.index, *new], dtype=object, name="id")
    place = {identity: number for number, identity in enumerate(index)}
    cells: dict[str, pd.Series[Any]] = {}
    for column in frame.columns:
        values = [*frame[column].tolist(), *[None] * len(new)]
        for identity, row in rows.items():
            values[place[identity]] = row.get(column)
        cells[str(column)] = pd.Series(values, index, dtype=object)
    return ground.with_table(table, pd.DataFrame(cells, index=index))


def with_rows(ground: Ground, table: str, rows: Mapping[str, Values]) -> Ground:
    """The ground with whole rows put in; a row whose id is there already takes the new values.

    Args:
        ground: the record.
        table: one of its tables.
        rows: plain values of every column, by id; new rows come last, in this order.

    Raises:
        UserError: rows that may not stand in their table, with the first few faults.
    """
    faults = list(_faults(table, rows))
    if faults:
        more = len(faults) - _NAMED
        raise UserError(" ".join(faults[:_NAMED]) + (f" And {more} more." if more > 0 else ""))
    return _put(ground, table, rows) if rows else ground


def with_values(ground: Ground, table: str, changed: Mapping[str, Values]) -> Ground:
    """The ground with some values of some rows exchanged; what is not named stays.

    Raises:
        UserError: an id that the table does not have, or a row that could not stand.
    """
    before = rows_of(ground, table, list(changed))
    rows = {identity: {**before[identity], **values} for identity, values in changed.items()}
    return with_rows(ground, table, rows)


def without_rows(ground: Ground, table: str, ids: Collection[str]) -> Ground:
    """The ground without some rows of a table."""
    frame = ground.table(table)
    return ground.with_table(table, frame[~frame.index.isin(list(ids))])


def free_ids(ground: Ground, table: str, retired: Collection[str] = ()) -> Iterator[str]:
    """Ids for new rows: "head-0001" and on, none that the record has or ever had.

    Args:
        ground: the record.
        table: where the rows go.
        retired: ids of this table that the record had once.
    """
    taken = {*map(str, ground.table(table).index), *retired}
    names = (f"{one_of(table)}-{number:04d}" for number in count(1))
    return (name for name in names if name not in taken)


def given_value(table: Table, name: str, value: Any) -> Any:
    """A value that a person gives for a column, as the plain value of its kind.

    Raises:
        UserError: no such column, or a value of another kind; units are never guessed, so a
            number must come as a number.
    """
    column = table.by_name.get(name)
    if column is None:
        raise UserError(f"{table.name} have no column '{name}'.{nearest(name, table.by_name)}")
    if value is None:
        return None
    if not _is_of_kind(column, value):
        wanted = _KIND_WORDS.get(column.kind, "a text")
        raise UserError(f"{name} is {value!r:.40}; {wanted} is wanted.")
    return float(value) if column.kind is Kind.NUMBER else value


def _is_of_kind(column: Column, value: Any) -> bool:
    if column.kind is Kind.YES_NO:
        return isinstance(value, bool)
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        kinds = (int, float) if column.kind is Kind.NUMBER else (int,)
        plain = isinstance(value, kinds) and not isinstance(value, bool)
        return plain and abs(value) < _LARGEST_NUMBER
    return isinstance(value, str)


def given_values(ground: Ground, table: str, values: Values) -> dict[str, Any]:
    """Values that a person gives for columns of a table, as plain values.

    Raises:
        UserError: no such column, a value of another kind, or the id of a row that is not there.
    """
    declared = table_named(table)
    if GEOMETRY in values:
        raise UserError("A geometry is no plain value; reshape or move the row instead.")
    plain = {name: given_value(declared, name, value) for name, value in values.items()}
    for name, value in plain.items():
        target = declared.by_name[name].refers_to
        if target is not None and value is not None:
            check_there(ground, target, [value])
    return plain
