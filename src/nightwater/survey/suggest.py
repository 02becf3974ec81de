"""How a file's columns could be matched, for a person to confirm or correct."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from nightwater.ground.columns import Column, Kind, Table
from nightwater.survey.cells import is_missing
from nightwater.survey.columns import ID_NAMES, column_named, fitting_units, plain_name
from nightwater.survey.drawing import DrawingWish
from nightwater.survey.source_files import SourceRows, coordinate_columns, written_number
from nightwater.survey.sources import read_source
from nightwater.survey.trade_names import trade_match

_EXAMPLES: Final = 3
_LIKE: Final = 0.6
_MOSTLY: Final = 0.8  # share of the values that must fit, so that a few faults hide nothing
_FULL_TURN_DEG: Final = 360.0


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
        why: what speaks for it; empty where nothing does.
    """

    theirs: str
    ours: str | None
    certain: bool
    unit: str | None
    units: tuple[str, ...]
    examples: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class _Guess:
    ours: str | None = None
    certain: bool = False
    unit: str | None = None
    units: tuple[str, ...] = ()
    why: str = ""


def _by_name(theirs: str, table: Table) -> _Guess | None:
    if theirs.lower() in ID_NAMES:
        return _Guess("id", certain=True, why="our name")
    found = column_named(theirs, table)
    if found is None:
        return None
    column, unit = found
    if unit == "":
        return _Guess(column.name, units=fitting_units(column), why="our name, without a unit")
    return _Guess(column.name, certain=True, unit=unit, why="our name")


def _unsure(ours: str, unit: str | None, why: str, table: Table) -> _Guess:
    column = table.by_name.get(ours)
    units = fitting_units(column) if column is not None and unit is None else ()
    return _Guess(ours, unit=unit, units=units, why=why)


def _share(cells: Sequence[Any], fits: Collection[bool]) -> float:
    return sum(fits) / len(cells) if cells else 1.0


def _number(cell: Any) -> float:
    try:
        return written_number(str(cell), decimal_comma=True)
    except ValueError:
        return float("nan")


def _values_fit(cells: Sequence[Any], column: Column | None) -> bool:
    """Whether most of a column's values could be of ours; angles are all within a turn."""
    if column is None:
        return True
    if column.choices:
        known = [plain_name(str(cell)) in column.choices for cell in cells]
        return _share(cells, known) >= _MOSTLY
    if column.kind not in (Kind.NUMBER, Kind.INTEGER):
        return True
    numbers = [_number(cell) for cell in cells]
    if column.quantity == "angle":
        return all(0.0 <= n <= _FULL_TURN_DEG for n in numbers)
    return _share(cells, [n == n for n in numbers]) >= _MOSTLY  # noqa: PLR0124 - NaN is no number


def _by_values(cells: Sequence[Any], table: Table, taken: Collection[str]) -> str | None:
    """The one column of ours that has a fixed set of values, where these are of it."""
    fitting = [
        column.name
        for column in table.columns
        if column.choices and column.name not in taken and _values_fit(cells, column)
    ]
    return fitting[0] if cells and len(fitting) == 1 else None


def _unsure_match(
    theirs: str, cells: Sequence[Any], table: Table, taken: Collection[str]
) -> _Guess:
    """The best of: a word of the trade, a name like ours, values of a fixed set."""
    trade = trade_match(theirs, table)
    if trade is not None and _free(trade[0], cells, table, taken):
        return _unsure(*trade, "a word of the trade", table)
    for like in get_close_matches(plain_name(theirs), table.by_name, 1, _LIKE):
        if _free(like, cells, table, taken):
            return _unsure(like, None, "like our name", table)
    valued = _by_values(cells, table, taken)
    return _unsure(valued, None, "its values", table) if valued is not None else _Guess()


def _free(ours: str, cells: Sequence[Any], table: Table, taken: Collection[str]) -> bool:
    return ours not in taken and _values_fit(cells, table.by_name.get(ours))


def _known_cells(rows: SourceRows) -> dict[str, list[Any]]:
    return {
        str(theirs): [cell for cell in rows.cells[theirs] if not is_missing(cell)]
        for theirs in rows.cells.columns
    }


def _guesses(
    cells: Mapping[str, Sequence[Any]], places: Collection[str], table: Table
) -> dict[str, _Guess]:
    sure = {theirs: _by_name(theirs, table) for theirs in cells if theirs not in places}
    taken = {guess.ours for guess in sure.values() if guess is not None and guess.ours is not None}
    guesses = {theirs: _Guess("geometry", certain=True, why="coordinates") for theirs in places}
    for theirs, guess in sure.items():
        # What one column took is not suggested for the next.
        found = guess or _unsure_match(theirs, cells[theirs], table, taken)
        taken |= {found.ours} if found.ours is not None else set()
        guesses[theirs] = found
    return guesses


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
    return suggestions_of(read_source(path, layer, table.shape, wish), table)


def suggestions_of(rows: SourceRows, table: Table) -> tuple[Suggestion, ...]:
    """One suggestion for each column of a file that was read already."""
    places = coordinate_columns(rows.cells) if rows.shapes is not None else set()
    cells = _known_cells(rows)
    guesses = _guesses(cells, places, table)
    return tuple(
        Suggestion(
            theirs,
            guess.ours,
            guess.certain,
            guess.unit,
            guess.units,
            tuple(dict.fromkeys(map(str, known)))[:_EXAMPLES],
            guess.why,
        )
        for theirs, known in cells.items()
        for guess in (guesses[theirs],)
    )
