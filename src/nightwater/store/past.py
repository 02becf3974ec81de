"""The record as it was after any revision."""

from __future__ import annotations

from typing import Any

import pandas as pd
from sqlalchemy import Connection

from nightwater.ground.changes import plain_rows
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store.revisions import change_set_from


def ground_after(connection: Connection, ground: Ground, revision: int) -> Ground:
    """The record as it stood right after a revision; 0 is before the first.

    Every later revision is taken back, last first. What other programs wrote into the file
    without a revision cannot be told apart and stays.

    Args:
        connection: inside a transaction.
        ground: the record of the same moment.
        revision: number of the revision.
    """
    later = connection.exec_driver_sql(
        "SELECT change_set FROM revisions WHERE fid > ? ORDER BY fid DESC", (revision,)
    )
    rows: dict[str, dict[str, dict[str, Any]]] = {}
    for (text,) in later:
        for change in change_set_from(text).rows:
            if change.table not in GROUND_TABLES:
                continue
            if change.table not in rows:
                table = TABLES[change.table]
                rows[change.table] = plain_rows(ground.table(change.table), table)
            if change.before is None:
                rows[change.table].pop(change.id, None)
            else:
                rows[change.table][change.id] = dict(change.before)
    for name, kept in rows.items():
        index = pd.Index(list(kept), name="id", dtype=object)
        ground = ground.with_table(name, pd.DataFrame(list(kept.values()), index=index))
    return ground
