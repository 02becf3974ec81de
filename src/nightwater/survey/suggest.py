"""How a file's columns could be matched, for a person to confirm or correct."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Final

from nightwater.ground.columns import Table
from nightwater.survey.cells import is_missing
from nightwater.survey.columns import ID_NAMES, column_named, fitting_units, plain_name
from nightwater.survey.drawing import DrawingWish
from nightwater.survey.source_files import coordinate_columns
from nightwater.survey.sources import read_source

_EXAMPLES: Final = 3
_LIKE: Final = 0.6


@dataclass(frozen=True)
class Suggestion:
    """What one column of a file may be.

    Attributes:
        theirs: the column's name in the file.
        ours: our column, "id", "geometry", or None where nothing is like it.
        certain: whether the survey takes it so without being told.
        unit: the unit its name declares, or None.
        units: units that fit, where the unit still must be said.
        examples: a few of its values, as they stand.
    """

    theirs: str
    ours: str | None
    certain: bool
    unit: str | None
    units: tuple[str, ...]
    examples: tuple[str, ...]


def _match(theirs: str, table: Table) -> tuple[str | None, bool, str | None, tuple[str, ...]]:
    if theirs.lower() in ID_NAMES:
        return "id", True, None, ()
    found = column_named(theirs, table)
    if found is None:
        like = get_close_matches(plain_name(theirs), table.by_name, 1, _LIKE)
        if not like:
            return None, False, None, ()
        return like[0], False, None, fitting_units(table.by_name[like[0]])
    column, unit = found
    undeclared = unit == ""
    units = fitting_units(column) if undeclared else ()
    return column.name, not undeclared, unit or None, units


def suggest_columns(
    path: Path, table: Table, layer: str | None = None, drawing_unit: str | None = None
) -> tuple[Suggestion, ...]:
    """One suggestion for each column of a file; nothing is read into the record.

    Args:
        path: the file.
        table: the declaration to fill.
        layer: which layer of a file that holds several.
        drawing_unit: what a drawing is drawn in, where it does not say.

    Raises:
        UserError: a file that cannot be read at all.
    """
    wish = DrawingWish(table, unit=drawing_unit)
    rows = read_source(path, layer, table.shape, wish)
    places = coordinate_columns(rows.cells) if rows.shapes is not None else set()
    suggestions = []
    for theirs in map(str, rows.cells.columns):
        known = [str(cell) for cell in rows.cells[theirs] if not is_missing(cell)]
        examples = tuple(dict.fromkeys(known))[:_EXAMPLES]
        if theirs in places:
            suggestions.append(Suggestion(theirs, "geometry", True, None, (), examples))
        else:
            suggestions.append(Suggestion(theirs, *_match(theirs, table), examples))
    return tuple(suggestions)
