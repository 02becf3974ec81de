"""Take rows out of the record."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from nightwater.findings import UserError
from nightwater.ground.edits.lists import struck_off
from nightwater.ground.edits.rows import check_there, listed, one_of, table_named, without_rows
from nightwater.ground.record import Ground
from nightwater.ground.station_lists import named_rows
from nightwater.ground.tables import GROUND_TABLES, TABLES


def leaning(ground: Ground, table: str, ids: Collection[str]) -> Iterator[tuple[str, str]]:
    """Rows that name any of some rows: their subject, and the column that names it.

    A head may name its station by label, too.
    """
    gone, labels = set(ids), named_rows(ground.stations) if table == "stations" else {}
    for name in GROUND_TABLES:
        rows = ground.table(name)
        for column in TABLES[name].columns:
            if column.refers_to != table:
                continue
            for identity, value in rows[column.name].items():
                if isinstance(value, str) and labels.get(value, value) in gone:
                    yield f"{name}:{identity}", column.name


def remove(ground: Ground, table: str, ids: Sequence[str]) -> Ground:
    """The ground without some rows; heads are struck off their stations' lists.

    Raises:
        UserError: unknown rows, or rows that others still name.
    """
    table_named(table)
    check_there(ground, table, ids)
    held = [subject for subject, _ in leaning(ground, table, ids)]
    if held:
        what = f"this {one_of(table)}" if len(set(ids)) == 1 else f"these {table}"
        raise UserError(f"{listed(held)} still name {what}. Change that first.")
    if table == "heads":
        ground = struck_off(ground, ids)
    return without_rows(ground, table, ids)
