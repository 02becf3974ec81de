"""What the revisions say of single rows: their past, and ids that are used up."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection

from nightwater.ground.changes import RowChange
from nightwater.store.revisions import change_set_from

_KEY: Final = 2  # places of table and id in a row of a change set


@dataclass(frozen=True)
class PastChange:
    """What one revision did to one row.

    Attributes:
        revision: its id.
        time: instant, as the record writes it.
        who, why: of the revision.
        change: the row before and after.
    """

    revision: str
    time: str
    who: str
    why: str
    change: RowChange


def _needle(table: str, identity: str) -> str:
    """How a row begins in a change set (see `revisions.change_set_text`)."""
    key = json.dumps([table, identity], separators=(",", ":"), ensure_ascii=False)
    return f"{key[:-1]},"


def _of_row(text: str, table: str, identity: str) -> Iterable[RowChange]:
    own = [row for row in json.loads(text) if row[:_KEY] == [table, identity]]
    return change_set_from(json.dumps(own)).rows


def row_history(connection: Connection, table: str, identity: str) -> list[PastChange]:
    """Every revision that touched a row, the newest first.

    Args:
        connection: inside a transaction.
        table: a table of the record.
        identity: id of the row; it need not be in the record any more.
    """
    found = connection.exec_driver_sql(
        "SELECT fid, time, who, why, change_set FROM revisions"
        " WHERE instr(change_set, ?) ORDER BY fid DESC",
        (_needle(table, identity),),
    )
    return [
        PastChange(str(fid), time, who, why, change)
        for fid, time, who, why, text in found
        for change in _of_row(text, table, identity)
    ]


def retired_ids(connection: Connection) -> dict[str, frozenset[str]]:
    """Ids that revisions took out of the record, by table."""
    rows: Any = connection.exec_driver_sql(
        "SELECT DISTINCT json_extract(value, '$[0]'), json_extract(value, '$[1]')"
        " FROM revisions, json_each(change_set) WHERE json_type(value, '$[3]') = 'null'"
    )
    found: dict[str, set[str]] = {}
    for table, identity in rows:
        found.setdefault(table, set()).add(identity)
    return {table: frozenset(ids) for table, ids in found.items()}
