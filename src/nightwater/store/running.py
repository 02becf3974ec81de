"""Running tables: rows that come by the day, by id."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

import pandas as pd
from sqlalchemy import Connection, text
from sqlalchemy.dialects.sqlite import insert

from nightwater.findings import NotFoundError, UserError
from nightwater.ground.changes import GEOMETRY, plain_value
from nightwater.ground.columns import Column, Kind, Table
from nightwater.ground.tables import RUNNING_TABLES, TABLES
from nightwater.store.geometry import to_blob
from nightwater.store.geopackage import note_change, srs_id_of
from nightwater.store.rows import extent, frame
from nightwater.store.schema import GEOMETRY_COLUMN, RECORD


def _running_table(name: str) -> Table:
    if name not in RUNNING_TABLES:
        near = get_close_matches(name, RUNNING_TABLES, 1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        raise UserError(f"There is no running table '{name}'.{hint}")
    return TABLES[name]


def _check_columns(table: Table, names: list[str]) -> None:
    known = [*table.by_name, *([GEOMETRY] if table.shape is not None else [])]
    for name in names:
        if name not in known:
            near = get_close_matches(name, known, 1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise UserError(f"{table.name} has no column '{name}'.{hint}")


def rows(connection: Connection, name: str, crs: str, equals: Mapping[str, Any]) -> pd.DataFrame:
    """Rows of a running table whose columns have the given values.

    Raises:
        UserError: no such running table or column.
    """
    table = _running_table(name)
    _check_columns(table, list(equals))
    return frame(connection, table, crs, equals)


def _ids(table: Table, rows: pd.DataFrame) -> list[str]:
    ids = [plain_value(value, Kind.TEXT) for value in rows.index]
    texts = ["" if value is None else str(value) for value in ids]
    if not all(word.strip() for word in texts):
        raise UserError(f"A row for {table.name} has no id; nothing was saved.")
    if len(set(texts)) < len(texts):
        twice = next(word for word in texts if texts.count(word) > 1)
        raise UserError(f"Two rows for {table.name} have the id '{twice}'; nothing was saved.")
    return texts


def _cells(column: Column, values: pd.Series[Any], table: Table) -> list[Any]:
    try:
        return [plain_value(value, column.kind) for value in values.tolist()]
    except (ValueError, TypeError) as wrong:
        raise UserError(
            f"{table.name}.{column.name} does not take these values: {wrong}. Nothing was saved."
        ) from wrong


def _stored(table: Table, given: pd.DataFrame, srs_id: int) -> list[dict[str, Any]]:
    columns: dict[str, list[Any]] = {"id": _ids(table, given)}
    for column in table.columns:
        if column.name in given:
            columns[column.name] = _cells(column, given[column.name], table)
    if GEOMETRY in given:
        columns[GEOMETRY_COLUMN] = [to_blob(s, srs_id) for s in given[GEOMETRY].tolist()]
    return [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]


def append(connection: Connection, name: str, given: pd.DataFrame, crs: str) -> None:
    """Add rows, or exchange the given columns of rows that are there.

    Raises:
        UserError: see `CourseFile.append`.
    """
    table = _running_table(name)
    if name == "nights":
        raise UserError("A night is saved as an edition, not appended.")
    _check_columns(table, [str(column) for column in given.columns])
    if given.empty:
        return
    if getattr(given, "crs", None) not in (None, crs):
        raise UserError(f"The rows for {name} lie in another coordinate system than the record.")
    _upsert(connection, table, _stored(table, given, srs_id_of(connection)))
    if table.shape is not None:
        note_change(connection, name, extent(connection, table), None)


def _upsert(connection: Connection, table: Table, stored: list[dict[str, Any]]) -> None:
    target = RECORD[table.name]
    given = [name for name in stored[0] if name != "id"]
    missing = [c.name for c in table.columns if c.required and c.name not in given]
    if missing:
        _update(connection, table, stored, missing)
        return
    statement = insert(target)
    taken = {name: statement.excluded[name] for name in given}
    connection.execute(
        statement.on_conflict_do_update(index_elements=["id"], set_=taken)
        if taken
        else statement.on_conflict_do_nothing(),
        stored,
    )


def _update(
    connection: Connection, table: Table, stored: list[dict[str, Any]], missing: list[str]
) -> None:
    given = ", ".join(f'"{name}" = :{name}' for name in stored[0] if name != "id")
    statement = text(f'UPDATE "{table.name}" SET {given} WHERE id = :id')
    for row in stored:
        if not given or connection.execute(statement, row).rowcount == 0:
            raise UserError(
                f"{table.name}:{row['id']} is new, and a new row needs {', '.join(missing)}; "
                "nothing was saved."
            )


def replace_log(
    connection: Connection, night_id: str, logs: Mapping[str, pd.DataFrame], origin: str
) -> None:
    """Exchange the log of one night and origin; the other origin's rows stay, the proof goes.

    Rows get ids of their night, origin and place in the log.

    Raises:
        NotFoundError: no such night.
        UserError: rows that the tables refuse.
    """
    known = connection.exec_driver_sql("SELECT 1 FROM nights WHERE id = ?", (night_id,)).scalar()
    if known is None:
        raise NotFoundError(f"There is no night '{night_id}' in this course.")
    for name, given in logs.items():
        connection.exec_driver_sql(
            f'DELETE FROM "{name}" WHERE night = ? AND origin = ?', (night_id, origin)
        )
        ids = [f"{night_id}:{origin}:{number:06d}" for number in range(1, len(given) + 1)]
        numbered = given.assign(night=night_id, origin=origin)
        append(connection, name, numbered.set_axis(pd.Index(ids, name="id")), "")
    # What was proved of the log before says nothing of this one.
    connection.exec_driver_sql("UPDATE nights SET proof = NULL WHERE id = ?", (night_id,))
