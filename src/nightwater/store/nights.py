"""Nights of the course file: drafts, editions, logs and proofs."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

import pandas as pd
from sqlalchemy import Connection, delete, func, insert, select, update

from nightwater.findings import ConflictError, NotFoundError
from nightwater.store.history import instant
from nightwater.store.rows import upsert_rows
from nightwater.store.schema import RECORD

_NIGHTS = RECORD["nights"]


def save_draft(
    connection: Connection, night: date, document: Mapping[str, Any], now: datetime
) -> str:
    """Keep a night as the next edition of its date, a draft; an older draft gives way."""
    same = _NIGHTS.c.night == night.isoformat()
    connection.execute(delete(_NIGHTS).where(same, _NIGHTS.c.state == "draft"))
    last = connection.execute(select(func.max(_NIGHTS.c.edition)).where(same)).scalar()
    edition = (last or 0) + 1
    night_id = f"{night.isoformat()}-{edition}"
    row = {
        "id": night_id,
        "night": night.isoformat(),
        "edition": edition,
        "state": "draft",
        "made": instant(now),
        "plan": json.dumps(document),
    }
    connection.execute(insert(_NIGHTS).values(row))
    return night_id


def _state(connection: Connection, night_id: str) -> tuple[str, str]:
    query = select(_NIGHTS.c.state, _NIGHTS.c.night).where(_NIGHTS.c.id == night_id)
    row = connection.execute(query).first()
    if row is None:
        raise NotFoundError(f"There is no night '{night_id}' in this course.")
    return str(row[0]), str(row[1])


def approve(connection: Connection, night_id: str, who: str, now: datetime) -> None:
    """Freeze a draft; what was approved for the same date becomes replaced.

    Raises:
        NotFoundError: no such night.
        ConflictError: it is not a draft any more.
    """
    state, night = _state(connection, night_id)
    if state != "draft":
        raise ConflictError(f"Night {night_id} is {state} already. Nothing was changed.")
    approved = (_NIGHTS.c.night == night, _NIGHTS.c.state == "approved")
    connection.execute(update(_NIGHTS).where(*approved).values(state="replaced"))
    values = {"state": "approved", "approved_by": who, "approved": instant(now)}
    connection.execute(update(_NIGHTS).where(_NIGHTS.c.id == night_id).values(values))


def save_proof(connection: Connection, night_id: str, document: Mapping[str, Any] | None) -> None:
    """Keep what log and meters say of a night, or drop it with None.

    Raises:
        NotFoundError: no such night.
    """
    _state(connection, night_id)
    text = None if document is None else json.dumps(document)
    connection.execute(update(_NIGHTS).where(_NIGHTS.c.id == night_id).values(proof=text))


def replace_rehearsal(
    connection: Connection, night_id: str, commands: pd.DataFrame, samples: pd.DataFrame, crs: str
) -> None:
    """Put a rehearsal's log and series in place of an earlier rehearsal's; the proof goes."""
    for name, rows in (("commands", commands), ("samples", samples)):
        table = RECORD[name]
        old = delete(table).where(table.c.night == night_id, table.c.origin == "rehearsal")
        connection.execute(old)
        upsert_rows(connection, name, rows, crs)
    save_proof(connection, night_id, None)
