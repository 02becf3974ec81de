"""Read a file as a proposal, and accept it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import asdict, replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from nightwater.desk.course import Course
from nightwater.findings import UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.propose import Proposal, propose, to_changes
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.suggest import suggest_columns

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


def survey_file(
    course: Course, path: Path, table: str, options: ReadOptions, *, complete: bool
) -> Proposal:
    """What a file would change in the record; nothing is changed yet.

    Raises:
        UserError: unknown table, or a file that cannot be read at all.
    """
    check_table(table)
    site = course.settings.site
    near = replace(options, near=(site.latitude_deg, site.longitude_deg))
    rows = read_table(path, TABLES[table], course.ground.crs, near)
    return propose(course.file.ground(), TABLES[table], rows, complete=complete)


def column_rows(path: Path, table: str, options: ReadOptions) -> list[dict[str, Any]]:
    """How each column of a file would be matched: ours, how sure, its unit or those that fit.

    Raises:
        UserError: unknown table, or a file that cannot be read at all.
    """
    check_table(table)
    rows = []
    for suggestion in suggest_columns(path, TABLES[table], options.layer, options.drawing_unit):
        chosen = options.columns.get(suggestion.theirs)
        row = (
            asdict(suggestion)
            if chosen is None
            else asdict(replace(suggestion, ours=chosen, certain=True))
        )
        unit = options.units.get(suggestion.theirs)
        rows.append(row if unit is None else row | {"unit": unit, "certain": True, "units": ()})
    return rows


def parts_of(proposal: Proposal) -> dict[str, Mapping[str, RowChange]]:
    """The parts of a proposal by name: id → change; a row is in one of them."""
    return {
        "added": proposal.added,
        "changed": proposal.changed,
        "removed": proposal.removed,
        "doubtful": proposal.doubtful,
    }


def proposal_rows(proposal: Proposal) -> list[dict[str, Any]]:
    """The proposal in a line a part: how many rows, and the first few by id."""
    return [
        {"change": name, "count": len(rows), "examples": _examples(rows)}
        for name, rows in parts_of(proposal).items()
    ]


def _examples(rows: Any) -> str:
    ids = [str(identity) for identity in list(getattr(rows, "index", rows))[:_SHOWN_EXAMPLES]]
    more = len(rows) - len(ids)
    return ", ".join(ids) + (f" and {more} more" if more > 0 else "")


def accept(
    course: Course,
    proposal: Proposal,
    *,
    with_doubtful: bool,
    who: str,
    why: str,
    now: datetime,
) -> str | None:
    """Make a proposal part of the record, whole or not at all.

    Returns:
        The id of the revision, or None where there was nothing to change.

    Raises:
        ConflictError: somebody changed the same rows meanwhile; nothing was saved.
    """
    changes = to_changes(proposal, include_doubtful=with_doubtful)
    if not changes:
        return None
    return course.file.accept(changes, who, why, now)


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
    return course.file.accept(Changes(rows), who, why, now) if rows else None
