"""Rows of the course file as tables in memory, and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd
from pyproj import CRS
from sqlalchemy import Connection, delete, insert, select, text, update
from sqlalchemy.dialects.sqlite import insert as upsert

from nightwater.findings import UserError
from nightwater.ground.changes import Plain, plain_rows
from nightwater.ground.record import conform
from nightwater.ground.tables import TABLES
from nightwater.store.geometry import blob_from_hex, shapes_of, wkb_of
from nightwater.store.schema import CONTENTS, RECORD


def srs_number(crs: str) -> int:
    """The number under which a course's system stands in the file."""
    code = CRS.from_user_input(crs).to_epsg()
    return code if code is not None else 100_000


def table_frame(
    connection: Connection, name: str, crs: str, equals: Mapping[str, Any] | None = None
) -> pd.DataFrame:
    """A table of the record, conformed; index = id, in the order of entry.

    Args:
        connection: an open view of the file.
        name: key of TABLES.
        crs: the record's system.
        equals: column → value; only rows that match all.
    """
    stored, declared = RECORD[name], TABLES[name]
    query = select(stored).order_by(stored.c.fid)
    for column, value in (equals or {}).items():
        query = query.where(stored.c[column] == value)
    result = connection.execute(query)
    frame = pd.DataFrame(result.fetchall(), columns=list(result.keys()), dtype=object)
    if declared.shape is not None:
        frame["geometry"] = shapes_of(frame["geometry"].tolist())
    return conform(frame.set_index("id"), declared, crs)


def _cells(row: Plain, name: str, srs_id: int) -> dict[str, Any]:
    columns = [column.name for column in TABLES[name].columns]
    cells = {column: row.get(column) for column in columns}
    if TABLES[name].shape is not None:
        cells["geometry"] = blob_from_hex(row.get("geometry"), srs_id)
    return cells


def stored_rows(connection: Connection, name: str, ids: Sequence[str]) -> dict[str, dict[str, Any]]:
    """The rows of a record table with these ids, as plain values."""
    stored, wanted = RECORD[name], set(ids)
    few = len(ids) < 500
    query = select(stored).where(stored.c.id.in_(ids)) if few else select(stored)
    found: dict[str, dict[str, Any]] = {}
    for row in connection.execute(query).mappings():
        if row["id"] not in wanted:
            continue
        plain = {key: value for key, value in row.items() if key not in ("fid", "id")}
        if "geometry" in plain:
            wkb = wkb_of(plain["geometry"])
            plain["geometry"] = wkb.hex().upper() if wkb is not None else None
        found[row["id"]] = plain
    return found


def insert_rows(connection: Connection, name: str, rows: Mapping[str, Plain], srs_id: int) -> None:
    """Add rows."""
    values = [{"id": identity, **_cells(row, name, srs_id)} for identity, row in rows.items()]
    if values:
        connection.execute(insert(RECORD[name]), values)


def update_rows(connection: Connection, name: str, rows: Mapping[str, Plain], srs_id: int) -> None:
    """Give known rows new values."""
    stored = RECORD[name]
    for identity, row in rows.items():
        statement = update(stored).where(stored.c.id == identity)
        connection.execute(statement.values(_cells(row, name, srs_id)))


def delete_rows(connection: Connection, name: str, ids: Iterable[str]) -> None:
    """Remove rows."""
    stored = RECORD[name]
    for identity in ids:
        connection.execute(delete(stored).where(stored.c.id == identity))


def upsert_rows(connection: Connection, name: str, rows: pd.DataFrame, crs: str) -> None:
    """Add rows of a running table; a row whose id is known is replaced."""
    unknown = [c for c in rows.columns if c not in (*TABLES[name].by_name, "geometry")]
    if unknown:
        raise UserError(f"Table {name} has no column '{unknown[0]}'.")
    plain = plain_rows(conform(rows, TABLES[name], crs), TABLES[name])
    number = srs_number(crs)
    values = [{"id": identity, **_cells(row, name, number)} for identity, row in plain.items()]
    if not values:
        return
    statement = upsert(RECORD[name])
    replaced = {c: statement.excluded[c] for c in values[0] if c != "id"}
    connection.execute(
        statement.on_conflict_do_update(index_elements=["id"], set_=replaced), values
    )


def renew_contents(connection: Connection, names: Iterable[str], crs: str, time: str) -> None:
    """Bring extent and last change of layers up to date in the GeoPackage's contents."""
    for name in names:
        extent: dict[str, Any] = {"last_change": time}
        if TABLES[name].shape is not None:
            frame = table_frame(connection, name, crs)
            bounds = [None] * 4 if frame.geometry.isna().all() else frame.total_bounds.tolist()
            extent |= dict(zip(("min_x", "min_y", "max_x", "max_y"), bounds, strict=True))
        statement = update(CONTENTS).where(CONTENTS.c.table_name == name)
        connection.execute(statement.values(extent))


def pragma(connection: Connection, name: str) -> int:
    """The value of a whole-number pragma."""
    return int(connection.execute(text(f"PRAGMA {name}")).scalar_one())
