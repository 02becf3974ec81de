"""A file surveyed as the wrong table: refused, with the tables that it looks like."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.columns import Table
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.columns import ID_NAMES, Matching, column_named
from nightwater.survey.trade_names import trade_match

_SHOWN: Final = 12
_LIKELY: Final = 2
# Columns that nearly every table has say nothing of which it is.
_COMMON: Final = ("label", "evidence")


def _said_by(header: Sequence[str], table: Table) -> int:
    """How many columns of a file could be a table's own, each of ours counted once."""
    ours = set()
    for theirs in header:
        named = column_named(theirs, table)
        trade = trade_match(theirs, table) if named is None else None
        ours |= {named[0].name} if named is not None else set()
        ours |= {trade[0]} if trade is not None else set()
    return len(ours - {*_COMMON, "id"})


def likely_tables(header: Sequence[str]) -> list[str]:
    """Tables that a file's columns fit best; none where nothing fits."""
    fits = {name: _said_by(header, TABLES[name]) for name in GROUND_TABLES}
    best = max(fits.values())
    return [name for name in fits if fits[name] == best > 0]


def check_table_fits(
    header: Sequence[str], table: Table, matching: Matching, name: str, *, located: bool
) -> None:
    """Refuse a file of which a table recognises no column but the id.

    Not where words of the trade fit the table best: then findings say how to match them.

    Args:
        header: the file's columns, without those of coordinates.
        table: the declaration that it shall fill.
        matching: what was recognised.
        name: the file's name.
        located: whether it has geometry that the table takes.

    Raises:
        UserError: naming the columns it has and the tables it looks like.
    """
    others = [theirs for theirs in header if theirs.lower() not in ID_NAMES]
    likely = likely_tables(header)
    if matching.matches or matching.unitless or located or not others or table.name in likely:
        return
    more = f" and {len(others) - _SHOWN} more" if len(others) > _SHOWN else ""
    hint = (
        f" It looks like {' or '.join(likely[:_LIKELY])}: say --as {likely[0]}." if likely else ""
    )
    raise UserError(
        f"{name} has no column of table {table.name}; it has {', '.join(others[:_SHOWN])}{more}."
        f"{hint} Or match columns with --column 'Theirs=ours'; --show-columns suggests which."
    )
