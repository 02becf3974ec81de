"""What lies between two states of the record, as changes that a course file takes."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES


def _of_table(before: Ground, after: Ground, name: str) -> Iterator[RowChange]:
    if before.table(name) is after.table(name):
        return
    old, new = (plain_rows(state.table(name), TABLES[name]) for state in (before, after))
    for identity in dict.fromkeys((*old, *new)):
        one, other = old.get(identity), new.get(identity)
        if one != other:
            yield RowChange(name, identity, one, other)


def changes_between(before: Ground, after: Ground, summary: str = "") -> Changes:
    """Every row that differs between two states of one record.

    Args:
        before: the record as it is.
        after: the record as it shall be; the same system of coordinates.
        summary: one line for the history; counted from the rows where not given.
    """
    rows = tuple(change for name in GROUND_TABLES for change in _of_table(before, after, name))
    return Changes(rows, summary)


def with_changes(ground: Ground, changes: Changes) -> Ground:
    """The record after changes; the inverse of `changes_between`.

    Rows that come back stand at the end of their table. Nothing is checked: a row's `before`
    is not compared, which is the course file's part.

    Args:
        ground: the record.
        changes: rows with every column in `after`, as `changes_between` gives them.
    """
    for name in GROUND_TABLES:
        own = [change for change in changes.rows if change.table == name]
        if not own:
            continue
        rows = plain_rows(ground.table(name), TABLES[name])
        for change in own:
            if change.after is None:
                rows.pop(change.id, None)
            else:
                rows[change.id] = dict(change.after)
        index = pd.Index(list(rows), name="id", dtype=object)
        cells = pd.DataFrame(list(rows.values()), index=index, dtype=object)
        ground = ground.with_table(name, cells)
    return ground
