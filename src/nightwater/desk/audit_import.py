"""Read cans from a file: which column is the can, which the catch, and in what.

What was said of a file's columns is kept with the course, as for surveys, and used again for
the next file with the same header.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from nightwater.desk.audit_cans import CATCH_UNITS, catch_ml
from nightwater.desk.audit_entering import record_catches
from nightwater.desk.audit_kept import Audit, audit_of
from nightwater.desk.course import Course
from nightwater.desk.remembering import keep_choices, kept_choices
from nightwater.findings import UserError
from nightwater.survey.remembered import Said, source_key
from nightwater.survey.sources import read_source
from nightwater.survey.unit_words import plain_name

_CAN_NAMES: Final = ("can", "number", "no", "label", "cup", "nr")
_CATCH_NAMES: Final = ("caught", "catch", "volume", "ml", "caught_ml", "volume_ml", "depth")
_EXAMPLES: Final = 3
_TABLE: Final = "cans"


@dataclass(frozen=True)
class CanColumns:
    """The columns of a file, and which may be what.

    Attributes:
        header: their names.
        examples: a few values of each.
        can, caught: those that look like the can's number and its catch; "" where none does.
        unit: the unit that the catch's name declares; "" where it must be said.
        remembered: whether all three are what was said of the last file with this header.
    """

    header: tuple[str, ...]
    examples: dict[str, str]
    can: str
    caught: str
    unit: str
    remembered: bool = False


def _like(header: tuple[str, ...], names: tuple[str, ...], but: str = "") -> str:
    for theirs in header:
        words = plain_name(theirs)
        parts = {words, *words.split("_")}
        if theirs != but and (parts & set(names) or get_close_matches(words, names, 1, 0.75)):
            return theirs
    return ""


def _declared(theirs: str) -> str:
    """The unit at the end of a name, like "caught_ml" or "Catch [mm]"."""
    last = plain_name(theirs).rpartition("_")[2]
    return next((unit for unit in CATCH_UNITS if unit.lower() == last), "")


def can_columns(path: Path) -> CanColumns:
    """What the columns of a file may be; a person confirms or corrects it.

    Raises:
        UserError: a file that cannot be read as a table.
    """
    cells = read_source(path).cells
    header = tuple(str(name) for name in cells.columns)
    can = _like(header, _CAN_NAMES)
    caught = _like(header, _CATCH_NAMES, can)
    shown = {
        name: ", ".join(str(v) for v in cells[name].head(_EXAMPLES) if v is not None)
        for name in header
    }
    return CanColumns(header, shown, can, caught, _declared(caught))


def _number(cell: Any, place: str, *, comma: bool) -> float:
    text = str(cell).strip()
    try:
        return float(text.replace(",", ".") if comma else text)
    except ValueError:
        raise UserError(f"{place}: '{text}' is no catch. Put it right in the file.") from None


def _label(cell: Any) -> str:
    text = str(cell).strip()
    return text[:-2] if text.endswith(".0") and text[:-2].isdigit() else text


def catches_from(audit: Audit, path: Path, can: str, caught: str, unit: str) -> dict[str, float]:
    """Catches in millilitres by can number; rows without a catch are left aside.

    Args:
        audit: for the opening of the cans, where the file holds depths.
        path: the file.
        can, caught: its columns.
        unit: one of `CATCH_UNITS`; what a column's name declares is not taken unasked.

    Raises:
        UserError: an unknown column or unit, a can twice, or a cell that is no number.
    """
    source = read_source(path)
    for name in (can, caught):
        if name not in source.cells.columns:
            known = ", ".join(map(str, source.cells.columns))
            raise UserError(f"{path.name} has no column '{name}'. It has: {known}.")
    if can == caught:
        raise UserError("The can's number and its catch must be two columns.")
    found: dict[str, float] = {}
    for place, row in zip(source.places, source.cells.to_dict("records"), strict=True):
        if row[caught] is None or not str(row[caught]).strip():
            continue
        label = _label(row[can])
        if label in found:
            raise UserError(f"{path.name}, {place}: can {label} stands there twice.")
        value = _number(row[caught], f"{path.name}, {place}", comma=source.decimal_comma)
        found[label] = catch_ml(value, unit, audit.facts["throat_m2"])
    return found


def recalled_columns(course: Course, path: Path) -> CanColumns:
    """`can_columns`, as it was said of the last file with the same header where there was one.

    Raises:
        UserError: a file that cannot be read as a table.
    """
    found = can_columns(path)
    kept = kept_choices(course, _TABLE).get(source_key(found.header))
    theirs = {} if kept is None else {ours: name for name, ours in kept.columns.items()}
    if kept is None or not {"label", "caught_ml"} <= set(theirs):
        return found
    can, caught = theirs["label"], theirs["caught_ml"]
    return replace(found, can=can, caught=caught, unit=kept.units[caught], remembered=True)


def import_catches(
    course: Course,
    identity: str,
    path: Path,
    said: tuple[str, str, str],
    *,
    who: str,
    now: datetime,
) -> tuple[int, int]:
    """Keep the catches of a file, and what was said of its columns.

    Args:
        course: the course.
        identity: which audit.
        path: the file.
        said: its column of the can, of the catch, and the unit of the catch.
        who, now: for the list of corrections.

    Returns:
        How many cans the file names with a catch, and how many took a new value.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: see `catches_from` and `record_catches`; nothing is kept then.
    """
    can, caught, unit = said
    found = catches_from(audit_of(course, identity), path, can, caught, unit)
    changed = record_catches(course, identity, found, who=who, now=now)
    source = source_key(map(str, read_source(path).cells.columns))
    choice = Said(source, {can: "label", caught: "caught_ml"}, {caught: unit})
    keep_choices(course, _TABLE, choice, who=who, now=now, forget=False)
    return len(found), changed
