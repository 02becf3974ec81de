"""Rows of the course file: to plain values, to frames, and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from sqlalchemy import Connection
from sqlalchemy.dialects.sqlite import insert

from nightwater.ground.changes import GEOMETRY, Values
from nightwater.ground.columns import Kind, Table
from nightwater.ground.record import conform, empty
from nightwater.store.geometry import from_blobs, to_blob
from nightwater.store.schema import GEOMETRY_COLUMN, RECORD

_BATCH: Final = 500  # ids in one query, well below SQLite's limit of variables


def _names(table: Table) -> list[str]:
    shape = [GEOMETRY_COLUMN] if table.shape is not None else []
    return ["id", *(column.name for column in table.columns), *shape]


def _select(table: Table, where: str) -> str:
    listed = ", ".join(f'"{name}"' for name in _names(table))
    return f'SELECT {listed} FROM "{table.name}" {where} ORDER BY fid'


def frame(
    connection: Connection, table: Table, crs: str, equals: Mapping[str, Any]
) -> pd.DataFrame:
    """A table as a conformed frame, in the order in which its rows came.

    Args:
        connection: inside a transaction.
        table: the declaration.
        crs: the record's system.
        equals: values that columns must have, by column.
    """
    where = " AND ".join(f'"{name}" = ?' for name in equals)
    query = _select(table, f"WHERE {where}" if where else "")
    rows = connection.exec_driver_sql(query, tuple(equals.values())).fetchall()
    if not rows:
        return empty(table, crs)
    columns = dict(zip(_names(table), zip(*rows, strict=True), strict=True))
    index = pd.Index(list(columns.pop("id")), dtype=object, name="id")
    known = {name: pd.Series(list(v), index, dtype=object) for name, v in columns.items()}
    if table.shape is not None:
        known[GEOMETRY] = pd.Series(from_blobs(columns[GEOMETRY_COLUMN]), index, dtype=object)
    return conform(pd.DataFrame(known, index=index), table, crs)


def _plain(value: Any, kind: Kind) -> Any:
    return bool(value) if kind is Kind.YES_NO and value is not None else value


def values_by_id(
    connection: Connection, table: Table, ids: Sequence[str]
) -> dict[str, dict[str, Any]]:
    """The rows with these ids that exist, as plain values (see `ground.changes`)."""
    found: dict[str, dict[str, Any]] = {}
    for start in range(0, len(ids), _BATCH):
        batch = tuple(ids[start : start + _BATCH])
        marks = ", ".join("?" * len(batch))
        rows = connection.exec_driver_sql(
            _select(table, f"WHERE id IN ({marks})"), batch
        ).fetchall()
        found |= _valued(table, rows)
    return found


def _valued(table: Table, rows: Sequence[Sequence[Any]]) -> dict[str, dict[str, Any]]:
    shapes = from_blobs([row[-1] for row in rows]) if table.shape is not None and rows else []
    found = {}
    for position, row in enumerate(rows):
        cells = zip(table.columns, row[1:], strict=False)
        values = {column.name: _plain(value, column.kind) for column, value in cells}
        if table.shape is not None:
            values[GEOMETRY] = shapes[position]
        found[str(row[0])] = values
    return found


def _stored(table: Table, identity: str, values: Values, srs_id: int) -> dict[str, Any]:
    stored = {"id": identity, **{c.name: values.get(c.name) for c in table.columns}}
    if table.shape is not None:
        stored[GEOMETRY_COLUMN] = to_blob(values.get(GEOMETRY), srs_id)
    return stored


def put(connection: Connection, table: Table, rows: Mapping[str, Values], srs_id: int) -> None:
    """Write whole rows; a row whose id is there already takes the new values."""
    if not rows:
        return
    target = RECORD[table.name]
    stored = [_stored(table, identity, values, srs_id) for identity, values in rows.items()]
    statement = insert(target)
    taken = {name: statement.excluded[name] for name in _names(table) if name != "id"}
    connection.execute(statement.on_conflict_do_update(index_elements=["id"], set_=taken), stored)


def remove(connection: Connection, table: Table, ids: Iterable[str]) -> None:
    """Take rows out."""
    gone = [(identity,) for identity in ids]
    if gone:
        connection.exec_driver_sql(f'DELETE FROM "{table.name}" WHERE id = ?', gone)


def extent(connection: Connection, table: Table) -> tuple[float, float, float, float] | None:
    """Left, bottom, right, top of a layer [m]; None where it has no shape yet."""
    if table.shape is None:
        return None
    rows = connection.exec_driver_sql(
        f'SELECT "{GEOMETRY_COLUMN}" FROM "{table.name}" WHERE "{GEOMETRY_COLUMN}" IS NOT NULL'
    ).fetchall()
    if not rows:
        return None
    bounds = shapely.total_bounds(np.array(from_blobs([row[0] for row in rows]), dtype=object))
    if not np.isfinite(bounds).all():
        return None
    left, bottom, right, top = map(float, bounds)
    return left, bottom, right, top
