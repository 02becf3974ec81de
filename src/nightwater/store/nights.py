"""Editions of nights: drafts, the approved one, and what became of it."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection

from nightwater.findings import NotFoundError, UserError
from nightwater.store.revisions import instant


def _text(document: dict[str, Any]) -> str:
    try:
        return json.dumps(document, ensure_ascii=False, allow_nan=False)
    except ValueError as wrong:
        raise UserError(f"The document cannot be kept as JSON: {wrong}.") from wrong


def save_night(connection: Connection, night: date, document: dict[str, Any], now: datetime) -> str:
    """Keep a night as the next draft edition of its date.

    Returns:
        Its id, "YYYY-MM-DD-edition".
    """
    day = night.isoformat()
    latest = connection.exec_driver_sql(
        "SELECT coalesce(max(edition), 0) FROM nights WHERE night = ?", (day,)
    ).scalar_one()
    identity = f"{day}-{latest + 1}"
    connection.exec_driver_sql(
        "INSERT INTO nights (id, night, edition, state, made, plan)"
        " VALUES (?, ?, ?, 'draft', ?, ?)",
        (identity, day, latest + 1, instant(now), _text(document)),
    )
    return identity


def _night_and_state(connection: Connection, identity: str) -> tuple[str, str]:
    row = connection.exec_driver_sql(
        "SELECT night, state FROM nights WHERE id = ?", (identity,)
    ).one_or_none()
    if row is None:
        raise NotFoundError(f"There is no night '{identity}' in this course.")
    return str(row[0]), str(row[1])


def approve_night(connection: Connection, identity: str, who: str, now: datetime) -> None:
    """Freeze a draft; the edition approved before for its date becomes replaced.

    Raises:
        NotFoundError: no such night.
        UserError: it is not a draft, or nobody approves it.
    """
    if not who.strip():
        raise UserError("Approving a night needs who approves it.")
    night, state = _night_and_state(connection, identity)
    if state != "draft":
        raise UserError(f"Night {identity} is {state} already. Plan the night again to change it.")
    connection.exec_driver_sql(
        "UPDATE nights SET state = 'replaced' WHERE night = ? AND state = 'approved'", (night,)
    )
    connection.exec_driver_sql(
        "UPDATE nights SET state = 'approved', approved_by = ?, approved = ? WHERE id = ?",
        (who, instant(now), identity),
    )


def save_proof(connection: Connection, identity: str, document: dict[str, Any]) -> None:
    """Keep what log and meters say of an approved night; an earlier proof is replaced.

    Raises:
        NotFoundError: no such night.
        UserError: it never was approved.
    """
    _night, state = _night_and_state(connection, identity)
    if state == "draft":
        raise UserError(f"Night {identity} is a draft, so nothing can be proved of it.")
    connection.exec_driver_sql(
        "UPDATE nights SET proof = ? WHERE id = ?", (_text(document), identity)
    )
