"""Values that name a row of another table that is not there."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.columns import Column
from nightwater.ground.linked import Linked
from nightwater.ground.tables import GROUND_TABLES, TABLES

CODE: Final = "unknown-link"
SEVERITY: Final = Severity.ERROR


def _lost(linked: Linked, name: str, column: Column) -> Iterator[Finding]:
    rows, there = linked.ground.table(name), linked.ground.table(str(column.refers_to)).index
    lost = rows[column.name].notna() & ~rows[column.name].isin(there)
    for identity, value in rows[column.name][lost].items():
        near = get_close_matches(str(value), [str(key) for key in there], 1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        yield Finding(
            SEVERITY,
            CODE,
            f"{name}:{identity}",
            f"{linked.name(name, identity)} in {name} names {column.name} '{value}', "
            f"which is not in {column.refers_to}.",
            f"Correct it, or survey {column.refers_to} first.{hint}",
        )


def find(linked: Linked) -> Iterator[Finding]:
    """Each such value, with the nearest name that is there."""
    for name in GROUND_TABLES:
        for column in TABLES[name].columns:
            if column.refers_to is not None:
                yield from _lost(linked, name, column)
