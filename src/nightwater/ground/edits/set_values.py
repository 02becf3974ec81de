"""Give the same values to many rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from nightwater.findings import UserError
from nightwater.ground.edits.lists import named_by_id
from nightwater.ground.edits.rows import check_there, given_values, table_named, with_values
from nightwater.ground.record import Ground

_NAMED_BY_LABEL: Final = ("heads", "stations")


def set_values(ground: Ground, table: str, ids: Sequence[str], values: Mapping[str, Any]) -> Ground:
    """The ground with some columns of some rows set; None empties a column.

    Where heads or stations get another label, lists and links that named any of them by label
    name them by id from then on.

    Args:
        ground: the record.
        table: one of its tables.
        ids: which rows.
        values: column → plain value in the column's unit, or None.

    Raises:
        UserError: unknown rows or columns, or a value that may not stand.
    """
    table_named(table)
    check_there(ground, table, ids)
    if not values:
        raise UserError("No column is named. Say what shall change.")
    plain = given_values(ground, table, values)
    if table in _NAMED_BY_LABEL and "label" in plain:
        ground = named_by_id(ground)
    return with_values(ground, table, dict.fromkeys(ids, plain))
