"""Revisions: accepted changes, all or nothing, with a way back."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from typing import Any

import pandas as pd
from sqlalchemy import Connection, insert, select, update

from nightwater.findings import ConflictError, NotFoundError
from nightwater.ground.changes import Changes, RowChange, summary
from nightwater.store.rows import (
    delete_rows,
    insert_rows,
    renew_contents,
    srs_number,
    stored_rows,
    update_rows,
)
from nightwater.store.schema import REVISIONS, SETTINGS

SETTINGS_TABLE = "settings"


def instant(moment: datetime) -> str:
    """An instant as the file keeps it: ISO 8601 in UTC."""
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def _grouped(changes: Iterable[RowChange]) -> dict[str, list[RowChange]]:
    groups: dict[str, list[RowChange]] = defaultdict(list)
    for change in changes:
        groups[change.table].append(change)
    return groups


def _settings_row(connection: Connection) -> dict[str, dict[str, Any]]:
    document = connection.execute(select(SETTINGS.c.document)).scalar_one()
    return {SETTINGS_TABLE: {"document": document}}


def _present(connection: Connection, table: str, ids: list[str]) -> dict[str, dict[str, Any]]:
    if table == SETTINGS_TABLE:
        return _settings_row(connection)
    return stored_rows(connection, table, ids)


def _refuse_stale(table: str, changes: list[RowChange], present: dict[str, dict[str, Any]]) -> None:
    stale = [c.id for c in changes if present.get(c.id) != c.before]
    if stale:
        more = f" and {len(stale) - 1} more" if len(stale) > 1 else ""
        raise ConflictError(
            f"{table}:{stale[0]}{more} changed since this was made. Nothing was saved; look at "
            "the record as it is now and try again."
        )


def _apply_group(connection: Connection, table: str, changes: list[RowChange], srs_id: int) -> None:
    _refuse_stale(table, changes, _present(connection, table, [c.id for c in changes]))
    if table == SETTINGS_TABLE:
        document = (changes[0].after or {})["document"]
        connection.execute(update(SETTINGS).values(document=document))
        return
    added = {c.id: c.after for c in changes if c.before is None and c.after is not None}
    changed = {c.id: c.after for c in changes if c.before is not None and c.after is not None}
    delete_rows(connection, table, [c.id for c in changes if c.after is None])
    insert_rows(connection, table, added, srs_id)
    update_rows(connection, table, changed, srs_id)


def _next_id(connection: Connection) -> str:
    last = connection.execute(select(REVISIONS.c.fid).order_by(REVISIONS.c.fid.desc())).first()
    return f"R{(last[0] if last else 0) + 1:04d}"


def apply(
    connection: Connection,
    crs: str,
    changes: Changes,
    *,
    who: str,
    why: str,
    now: datetime,
    undoes: str | None = None,
) -> str:
    """Make changes part of the record within the caller's transaction.

    Returns:
        The id of the revision.

    Raises:
        ConflictError: a row is not any more what the change was made from.
    """
    groups = _grouped(changes)
    for table, group in groups.items():
        _apply_group(connection, table, group, srs_number(crs))
    renew_contents(connection, [t for t in groups if t != SETTINGS_TABLE], crs, instant(now))
    revision = _next_id(connection)
    row = {
        "id": revision,
        "time": instant(now),
        "who": who,
        "why": why,
        "summary": summary(changes),
        "undoes": undoes,
        "changes": json.dumps([asdict(change) for change in changes]),
    }
    connection.execute(insert(REVISIONS).values(row))
    return revision


def revision_changes(connection: Connection, revision: str) -> Changes:
    """What a revision changed.

    Raises:
        NotFoundError: no such revision.
    """
    query = select(REVISIONS.c.changes).where(REVISIONS.c.id == revision)
    text = connection.execute(query).scalar_one_or_none()
    if text is None:
        raise NotFoundError(f"There is no revision '{revision}'. 'history' lists them.")
    return tuple(RowChange(**change) for change in json.loads(text))


def _refuse_undone(connection: Connection, revision: str) -> None:
    query = select(REVISIONS.c.id).where(REVISIONS.c.undoes == revision)
    by = connection.execute(query).scalars().first()
    if by is not None:
        raise ConflictError(f"Revision {revision} is undone already, by {by}.")


def _later_touching(connection: Connection, revision: str, changes: Changes) -> list[str]:
    mine = {(change.table, change.id) for change in changes}
    number = select(REVISIONS.c.fid).where(REVISIONS.c.id == revision).scalar_subquery()
    later = select(REVISIONS.c.id, REVISIONS.c.changes).where(REVISIONS.c.fid > number)
    return [
        str(identity)
        for identity, text in connection.execute(later)
        if any((change["table"], change["id"]) in mine for change in json.loads(text))
    ]


def undo(
    connection: Connection, crs: str, revision: str, *, who: str, why: str, now: datetime
) -> str:
    """Take a revision back with a new one.

    Raises:
        NotFoundError: no such revision.
        ConflictError: it is undone already, or later revisions changed the same rows.
    """
    changes = revision_changes(connection, revision)
    _refuse_undone(connection, revision)
    try:
        back = tuple(change.reverted() for change in changes)
        return apply(connection, crs, back, who=who, why=why, now=now, undoes=revision)
    except ConflictError:
        later = ", ".join(_later_touching(connection, revision, changes))
        raise ConflictError(
            f"Revision {revision} cannot be undone: {later} changed the same rows later. "
            "Undo the later ones first."
        ) from None


def revisions_frame(connection: Connection) -> pd.DataFrame:
    """Every revision, oldest first: time, who, why, summary, undoes; index = id."""
    names = ("id", "time", "who", "why", "summary", "undoes")
    query = select(*(REVISIONS.c[name] for name in names)).order_by(REVISIONS.c.fid)
    rows = connection.execute(query).fetchall()
    return pd.DataFrame(rows, columns=list(names)).set_index("id")
