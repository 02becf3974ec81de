"""What was said of a file's columns, used again for the next file with the same header."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from nightwater.findings import Finding, note
from nightwater.ground.columns import Table

_DIGITS: Final = 16


@dataclass(frozen=True)
class Said:
    """What a person said of the files of one kind.

    Attributes:
        source: `source_key` of their header.
        columns: theirs → ours.
        units: theirs → unit symbol.
        fixed: ours → the value of every row.
    """

    source: str
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.columns or self.units or self.fixed)


def source_key(header: Iterable[str]) -> str:
    """Digest of a file's header names, whatever their order."""
    names = "\n".join(sorted(name.strip() for name in header))
    return hashlib.sha256(names.encode()).hexdigest()[:_DIGITS]


def recalled(said: Said, kept: Said | None, table: Table) -> Said:
    """What is said now, completed by what is kept; a column is never filled twice.

    Args:
        said: what a person says of this file.
        kept: what was said of one like it.
        table: the declaration that the file fills.
    """
    if kept is None:
        return said
    taken = {*said.columns.values(), *said.fixed}
    known = {"id", *table.by_name}
    columns = {
        theirs: ours
        for theirs, ours in kept.columns.items()
        if ours in known - taken and theirs not in said.columns
    }
    # A unit goes with the column that it was said of.
    units = {
        theirs: unit
        for theirs, unit in kept.units.items()
        if theirs not in said.units and (theirs in columns or theirs not in kept.columns)
    }
    fixed = {ours: value for ours, value in kept.fixed.items() if ours in known - taken}
    return Said(
        said.source,
        {**columns, **said.columns},
        {**units, **said.units},
        {**fixed, **said.fixed},
    )


def remembered_note(said: Said, used: Said, name: str) -> tuple[Finding, ...]:
    """A note of what was used again though nobody said it this time."""
    words = [f"'{a}' = {b}" for a, b in used.columns.items() if a not in said.columns]
    words += [f"'{a}' in {b}" for a, b in used.units.items() if a not in said.units]
    words += [f"{a} = {b} in every row" for a, b in used.fixed.items() if a not in said.fixed]
    if not words:
        return ()
    found = note(
        "columns-remembered",
        f"file:{name}",
        f"{name} has the header of an earlier file; what was said of its columns was used "
        f"again: {', '.join(words)}.",
        "If it is not so this time, say it anew, or survey with --forget-columns.",
    )
    return (found,)
