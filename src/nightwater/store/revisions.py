"""Accepted changes: applied whole, kept with who, when and why, and taken back."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, Final

import pandas as pd
import shapely
from sqlalchemy import Connection

from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.changes import GEOMETRY, Changes, RowChange, Values, completed
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.ground.validity import row_faults
from nightwater.store.geopackage import note_change, srs_id_of
from nightwater.store.rows import extent, put, remove, values_by_id

SETTINGS_TABLE: Final = "settings"
_NAMED: Final = 5
_LONGEST_NUMBER: Final = 18  # digits that surely fit into SQLite's 64 bits
_COLUMNS: Final = ("revision", "time", "who", "why", "kind", "summary", "undoes")


def instant(now: datetime) -> str:
    """A zone-aware time as the record writes it: UTC, to the second.

    Raises:
        UserError: the time has no zone.
    """
    if now.tzinfo is None:
        raise UserError("A time needs its zone; give it in UTC, like 2026-07-14T21:00:00Z.")
    return now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _listed(names: Iterable[str]) -> str:
    every = list(names)
    more = len(every) - _NAMED
    return ", ".join(every[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _as_json(values: Values | None) -> dict[str, Any] | None:
    if values is None:
        return None
    plain = dict(values)
    shape = plain.get(GEOMETRY)
    if shape is not None:
        plain[GEOMETRY] = shapely.to_wkb(shape, hex=True, byte_order=1)
    return plain


def _from_json(values: dict[str, Any] | None) -> dict[str, Any] | None:
    if values is not None and values.get(GEOMETRY) is not None:
        return {**values, GEOMETRY: shapely.from_wkb(values[GEOMETRY])}
    return values


def change_set_text(changes: Changes) -> str:
    """Changes as JSON; shapes as WKB in hexadecimal."""
    rows = [[r.table, r.id, _as_json(r.before), _as_json(r.after)] for r in changes.rows]
    return json.dumps(rows, separators=(",", ":"), ensure_ascii=False)


def change_set_from(text: str) -> Changes:
    """The inverse of `change_set_text`."""
    return Changes(
        tuple(RowChange(t, i, _from_json(b), _from_json(a)) for t, i, b, a in json.loads(text))
    )


def _current(connection: Connection, table: str, ids: list[str]) -> Mapping[str, Values]:
    if table == SETTINGS_TABLE:
        document = connection.exec_driver_sql("SELECT document FROM settings").scalar()
        return {"settings": {"document": document}} if document is not None else {}
    return values_by_id(connection, TABLES[table], ids)


def _by_table(changes: Changes) -> dict[str, list[RowChange]]:
    grouped: dict[str, list[RowChange]] = {}
    for row in changes.rows:
        grouped.setdefault(row.table, []).append(row)
    return grouped


def _stale(connection: Connection, changes: Changes) -> list[RowChange]:
    """The changes whose row is no longer what it was when they were made."""
    stale: list[RowChange] = []
    for table, rows in _by_table(changes).items():
        now = _current(connection, table, [row.id for row in rows])
        stale += [row for row in rows if now.get(row.id) != row.before]
    return stale


def checked_changes(changes: Changes) -> Changes:
    """Complete changes; refused when none, touching a row twice, or leaving an unsound row.

    Raises:
        UserError: with every fault of the first faulty rows.
    """
    if not changes.rows:
        raise UserError("There is nothing to change.")
    keys = [(row.table, row.id) for row in changes.rows]
    if len(set(keys)) < len(keys):
        raise UserError("The changes touch one row twice; nothing was saved.")
    rows = tuple(map(_completed, changes.rows))
    faults = [text for row in rows for text in _faults(row)]
    if faults:
        more = len(faults) - _NAMED
        tail = f" And {more} more." if more > 0 else ""
        raise UserError(f"Nothing was saved. {' '.join(faults[:_NAMED])}{tail}")
    return Changes(rows, changes.in_words())


def _completed(row: RowChange) -> RowChange:
    if row.table == SETTINGS_TABLE:
        return row
    if row.table not in GROUND_TABLES:
        raise UserError(f"'{row.table}' is no table of the ground; nothing was saved.")
    try:
        return completed(row, TABLES[row.table])
    except (ValueError, TypeError) as wrong:
        raise UserError(f"{row.table}:{row.id}: {wrong}. Nothing was saved.") from wrong


def _faults(row: RowChange) -> list[str]:
    if not row.id.strip():
        return [f"A row of {row.table} has no id."]
    if row.after is None or row.table == SETTINGS_TABLE:
        return []
    return [f"{row.table}:{row.id}: {text}" for text in row_faults(TABLES[row.table], row.after)]


def _apply(connection: Connection, changes: Changes, now: datetime) -> None:
    srs_id = srs_id_of(connection)
    for name, rows in _by_table(changes).items():
        if name == SETTINGS_TABLE:
            _put_settings(connection, rows[0])
            continue
        remove(connection, TABLES[name], [row.id for row in rows if row.after is None])
        kept = {row.id: row.after for row in rows if row.after is not None}
        put(connection, TABLES[name], kept, srs_id)
        note_change(connection, name, extent(connection, TABLES[name]), now)


def _put_settings(connection: Connection, row: RowChange) -> None:
    if row.after is None:
        raise UserError("The settings of a course can be changed, not removed.")
    connection.exec_driver_sql("UPDATE settings SET document = ?", (row.after["document"],))


def apply_changes(
    connection: Connection,
    changes: Changes,
    *,
    who: str,
    why: str,
    now: datetime,
    kind: str = "change",
    undoes: int | None = None,
) -> str:
    """Apply changes inside a transaction and write their revision.

    Returns:
        The id of the revision.

    Raises:
        UserError: nothing to change, no author or reason, or a row that may not stand.
        ConflictError: a row is not what it was when the changes were made.
    """
    if not who.strip() or not why.strip():
        raise UserError("A change needs who made it and why.")
    changes = checked_changes(changes)
    stale = _stale(connection, changes)
    if stale:
        raise ConflictError(_conflict_sentence(connection, stale, since=0))
    _apply(connection, changes, now)
    made = connection.exec_driver_sql(
        "INSERT INTO revisions (time, who, why, kind, summary, undoes, change_set)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (instant(now), who, why, kind, changes.in_words(), undoes, change_set_text(changes)),
    )
    return str(made.lastrowid)


def _conflict_sentence(connection: Connection, stale: list[RowChange], since: int) -> str:
    names = _listed(f"{row.table}:{row.id}" for row in stale)
    keys = {(row.table, row.id) for row in stale}
    touching = _touching(connection, keys, since)
    by = f" (by {_listed(touching)})" if touching else ""
    return f"{names} changed meanwhile{by}; nothing was saved. Look at the rows and try again."


def _touching(connection: Connection, keys: set[tuple[str, str]], since: int) -> list[str]:
    """The revisions after `since` that touch any of the rows, newest first, in words."""
    rows = connection.exec_driver_sql(
        "SELECT fid, who, change_set FROM revisions WHERE fid > ? ORDER BY fid DESC", (since,)
    )
    words = []
    for fid, who, text in rows:
        if any((table, identity) in keys for table, identity, _b, _a in json.loads(text)):
            words.append(f"revision {fid} of {who}")
    return words


def check_revision(connection: Connection, revision: str) -> None:
    """Refuse a revision that does not exist.

    Raises:
        NotFoundError: none of that id.
    """
    written = revision.isascii() and revision.isdecimal() and len(revision) <= _LONGEST_NUMBER
    number = int(revision) if written else 0
    found = connection.exec_driver_sql("SELECT 1 FROM revisions WHERE fid = ?", (number,)).scalar()
    if found is None:
        raise NotFoundError(f"There is no revision '{revision}' in this course.")


def _kept_changes(connection: Connection, revision: str) -> Changes:
    check_revision(connection, revision)
    text = connection.exec_driver_sql(
        "SELECT change_set FROM revisions WHERE fid = ?", (int(revision),)
    ).scalar_one()
    return change_set_from(text)


def _leaning(connection: Connection, changes: Changes) -> list[str]:
    """Rows of the record that name a row which the changes would remove, and that stay."""
    gone = {
        name: {row.id for row in rows if row.after is None}
        for name, rows in _by_table(changes).items()
    }
    leaning = []
    for name in GROUND_TABLES:
        links = [column.name for column in TABLES[name].columns if gone.get(column.refers_to or "")]
        for link in links:
            target = gone[TABLES[name].by_name[link].refers_to or ""]
            found = connection.exec_driver_sql(
                f'SELECT id, "{link}" FROM "{name}" WHERE "{link}" IS NOT NULL'
            )
            leaning += [
                f"{name}:{identity}"
                for identity, named in found
                if named in target and identity not in gone.get(name, set())
            ]
    return leaning


def undo_revision(
    connection: Connection, revision: str, *, who: str, why: str, now: datetime
) -> str:
    """Take one revision back as a new one, inside a transaction.

    Returns:
        The id of the new revision.

    Raises:
        NotFoundError: no such revision.
        ConflictError: later work touches the same rows; nothing is saved.
    """
    changes = _kept_changes(connection, revision).reversed
    stale = _stale(connection, changes)
    if stale:
        keys = {(row.table, row.id) for row in stale}
        later = _touching(connection, keys, int(revision))
        names = _listed(f"{row.table}:{row.id}" for row in stale)
        by = _listed(later) if later else "another program"
        raise ConflictError(
            f"Revision {revision} cannot be undone: {by} changed {names} afterwards. "
            "Undo the later change first, or change the rows by hand."
        )
    leaning = _leaning(connection, changes)
    if leaning:
        raise ConflictError(
            f"Revision {revision} cannot be undone: {_listed(leaning)} in the record, made or "
            "changed since, name rows that would be gone. Undo those changes first."
        )
    summary = f"undo of revision {revision} ({changes.in_words()})"
    return apply_changes(
        connection,
        Changes(changes.rows, summary),
        who=who,
        why=why,
        now=now,
        kind="undo",
        undoes=int(revision),
    )


def revision_rows(connection: Connection) -> pd.DataFrame:
    """Every revision, oldest first: index revision; time, who, why, kind, summary, undoes."""
    rows = connection.exec_driver_sql(
        "SELECT cast(fid AS TEXT), time, who, why, kind, summary, cast(undoes AS TEXT)"
        " FROM revisions ORDER BY fid"
    ).fetchall()
    table = pd.DataFrame([tuple(row) for row in rows], columns=list(_COLUMNS), dtype=object)
    return table.set_index("revision")
