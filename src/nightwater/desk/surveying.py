"""Read a file as a proposal, and accept it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from nightwater.desk.course import Course
from nightwater.desk.remembering import keep_choices, kept_choices
from nightwater.findings import UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.columns import Table
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.columns import fitting_units
from nightwater.survey.drawing import DRAWING_ENDINGS, layers_in
from nightwater.survey.drawing_file import open_drawing
from nightwater.survey.propose import Proposal, propose, to_changes
from nightwater.survey.read import ReadOptions, source_of, table_rows
from nightwater.survey.remembered import Said, recalled, source_key
from nightwater.survey.same_again import moved_m
from nightwater.survey.source_files import SourceRows
from nightwater.survey.suggest import Suggestion, suggestions_of
from nightwater.survey.unit_words import declared_unit, plain_name

_SHOWN_EXAMPLES = 6


def check_table(name: str) -> None:
    """Refuse a table that cannot be surveyed.

    Raises:
        UserError: with the nearest known name.
    """
    if name in GROUND_TABLES:
        return
    near = get_close_matches(name, GROUND_TABLES, 1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    raise UserError(f"There is no table '{name}' to fill.{hint} Known: {', '.join(GROUND_TABLES)}.")


def _near(course: Course, options: ReadOptions) -> ReadOptions:
    site = course.settings.site
    return replace(options, near=(site.latitude_deg, site.longitude_deg))


def survey_file(
    course: Course,
    path: Path,
    table: str,
    options: ReadOptions,
    *,
    complete: bool,
    overrule: bool = False,
    own_ids: bool = False,
    forget_columns: bool = False,
) -> Proposal:
    """What a file would change in the record; nothing is changed yet.

    Args:
        course: the course.
        path: the file.
        table: which table it fills.
        options: what a person says of the file.
        complete: it lists all rows; others go.
        overrule: it is right even where the record knows better.
        own_ids: its ids are numbers of its own.
        forget_columns: what was said of files with the same header is not used.

    Raises:
        UserError: unknown table, or a file that cannot be read at all.
    """
    check_table(table)
    kept = {} if forget_columns else kept_choices(course, table)
    source = source_of(path, TABLES[table], options)
    rows = table_rows(
        source, path, TABLES[table], course.ground.crs, _near(course, options), kept=kept
    )
    return propose(
        course.file.ground(),
        TABLES[table],
        rows,
        complete=complete,
        overrule=overrule,
        own_ids=own_ids,
    )


def column_rows(
    course: Course, path: Path, table: str, options: ReadOptions, *, forget_columns: bool = False
) -> list[dict[str, Any]]:
    """How each column of a file would be matched: ours, how sure, its unit or those that fit.

    What was said of an earlier file with the same header counts as said.

    Raises:
        UserError: unknown table, or a file that cannot be read at all.
    """
    check_table(table)
    kept = {} if forget_columns else kept_choices(course, table)
    return _column_rows(source_of(path, TABLES[table], options), TABLES[table], options, kept)


def _column_rows(
    source: SourceRows, table: Table, options: ReadOptions, kept: Mapping[str, Said]
) -> list[dict[str, Any]]:
    found = suggestions_of(source, table)
    said = Said(source_key(s.theirs for s in found), options.columns, options.units)
    used = recalled(said, kept.get(said.source), table)
    return [_column_row(suggestion, said, used, table) for suggestion in found]


@dataclass(frozen=True)
class Looked:
    """What a person is shown of a file before anything is accepted.

    Attributes:
        layers: of a drawing: layer, kind of thing, and how many.
        columns: how each column would be matched; see `column_rows`.
        proposal: what it would change, or None where it cannot be read so.
        fault: why not, in a sentence; empty where there is a proposal.
    """

    layers: list[tuple[str, str, int]]
    columns: list[dict[str, Any]]
    proposal: Proposal | None
    fault: str


def look_at_file(
    course: Course, path: Path, table: str, options: ReadOptions, *, complete: bool
) -> Looked:
    """Layers, columns and proposal of a file that is read once.

    Raises:
        UserError: a drawing that cannot be opened at all.
    """
    opened = open_drawing(path) if path.suffix.lower() in DRAWING_ENDINGS else None
    layers = [] if opened is None else layers_in(opened)
    columns: list[dict[str, Any]] = []
    try:
        check_table(table)
        kept, ours = kept_choices(course, table), TABLES[table]
        source = source_of(path, ours, options, opened)
        columns = _column_rows(source, ours, options, kept)
        rows = table_rows(source, path, ours, course.ground.crs, _near(course, options), kept=kept)
        proposal = propose(course.file.ground(), ours, rows, complete=complete)
    except UserError as wrong:
        return Looked(layers, columns, None, str(wrong))
    return Looked(layers, columns, proposal, "")


def _column_row(suggestion: Suggestion, said: Said, used: Said, table: Table) -> dict[str, Any]:
    """One column as the survey would take it, with what was said of it."""
    theirs = suggestion.theirs
    if theirs not in used.columns and theirs not in used.units:
        return asdict(suggestion)
    new = theirs in said.columns or theirs in said.units
    why = "said" if new else "said of an earlier file"
    ours = used.columns.get(theirs, suggestion.ours)
    column = table.by_name.get(ours or "")
    named = theirs in used.columns or suggestion.why.startswith("our name")
    if column is None or column.quantity is None:
        return asdict(replace(suggestion, ours=ours, certain=named, unit=None, units=(), why=why))
    unit = used.units.get(theirs) or declared_unit(theirs, column)
    known = unit is not None or plain_name(theirs) == column.name
    units = () if known else fitting_units(column)
    certain = named and known
    return asdict(replace(suggestion, ours=ours, certain=certain, unit=unit, units=units, why=why))


def parts_of(proposal: Proposal) -> dict[str, Mapping[str, RowChange]]:
    """The parts of a proposal by name: id → change; a row is in one of them."""
    return {
        "added": proposal.added,
        "moved": proposal.moved,
        "changed": proposal.changed,
        "removed": proposal.removed,
        "doubtful": proposal.doubtful,
    }


def proposal_rows(proposal: Proposal) -> list[dict[str, Any]]:
    """The proposal in a line a part: how many rows, and the first few by id."""
    parts = dict(parts_of(proposal))
    parts["moved"] = {_with_distance(change): change for change in proposal.moved.values()}
    return [
        {"change": name, "count": len(rows), "examples": _examples(rows)}
        for name, rows in parts.items()
    ]


def _with_distance(change: RowChange) -> str:
    return f"{change.id} ({moved_m(change):.1f} m)"


def _examples(rows: Any) -> str:
    ids = [str(identity) for identity in list(getattr(rows, "index", rows))[:_SHOWN_EXAMPLES]]
    more = len(rows) - len(ids)
    return ", ".join(ids) + (f" and {more} more" if more > 0 else "")


def _keep_said(
    course: Course, proposal: Proposal, who: str, now: datetime, *, forget: bool
) -> None:
    if proposal.said is not None:
        keep_choices(course, proposal.table, proposal.said, who=who, now=now, forget=forget)


def accept(
    course: Course,
    proposal: Proposal,
    *,
    with_doubtful: bool,
    who: str,
    why: str,
    now: datetime,
    forget_columns: bool = False,
) -> str | None:
    """Make a proposal part of the record, whole or not at all.

    What was said of the file's columns is kept for the next file with the same header.

    Returns:
        The id of the revision, or None where there was nothing to change.

    Raises:
        ConflictError: somebody changed the same rows meanwhile; nothing was saved.
    """
    changes = to_changes(proposal, include_doubtful=with_doubtful)
    revision = course.file.accept(changes, who, why, now) if changes else None
    _keep_said(course, proposal, who, now, forget=forget_columns)
    return revision


def accept_some(
    course: Course,
    proposal: Proposal,
    ids: Collection[str],
    *,
    who: str,
    why: str,
    now: datetime,
) -> str | None:
    """Make only some rows of a proposal part of the record, whole or not at all.

    Args:
        course: the open course.
        proposal: what a file would change.
        ids: the rows a person chose, of whatever part.
        who, why, now: for the history.

    Returns:
        The id of the revision, or None where nothing was chosen.

    Raises:
        ConflictError: somebody changed the same rows meanwhile; nothing was saved.
    """
    wanted = set(ids)
    rows = tuple(
        change
        for part in parts_of(proposal).values()
        for identity, change in part.items()
        if identity in wanted
    )
    revision = course.file.accept(Changes(rows), who, why, now) if rows else None
    if revision is not None:
        _keep_said(course, proposal, who, now, forget=False)
    return revision
