"""Edit the record by operations: try them, save them, and tell who was first."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from nightwater.desk.conflicts import EditConflictError, conflicts_over
from nightwater.desk.course import Course
from nightwater.findings import ConflictError, Finding, UserError
from nightwater.ground.changes import Changes
from nightwater.ground.differences import changes_between
from nightwater.ground.edits.digests import digest_of
from nightwater.ground.edits.operations import (
    Applied,
    EditRules,
    Operation,
    OperationError,
    apply_operations,
    read_operations,
    try_operations,
)
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.number_rules import NumberRules, number_rules_from
from nightwater.ground.rechecking import recheck
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES
from nightwater.pipes.network import build_network
from nightwater.store.history import PastChange

_TRIES: Final = 3  # another program may write between reading and saving
_PIPED: Final = ("pipes", "pumps")


@dataclass(frozen=True)
class EditPreview:
    """What operations would make of the record.

    Attributes:
        ground: the record after those that can be done.
        changes: row by row.
        findings: doubts that are new, or about a changed row.
        impossible: operations that cannot be done, with their place and why.
    """

    ground: Ground
    changes: Changes
    findings: tuple[Finding, ...]
    impossible: tuple[OperationError, ...]


@dataclass(frozen=True)
class SavedEdit:
    """What was saved.

    Attributes:
        revision: its id.
        created: place of an operation → subjects of the rows that it made.
        findings: doubts that are new, or about a changed row.
    """

    revision: str
    created: Mapping[int, tuple[str, ...]]
    findings: tuple[Finding, ...]


def _numbers(course: Course) -> NumberRules:
    return number_rules_from(course.settings.record.numbers)


def _rules(course: Course, *, makes: bool) -> EditRules:
    return EditRules(_numbers(course), course.file.retired_ids() if makes else {})


def _subjects(changes: Changes) -> set[str]:
    return {f"{row.table}:{row.id}" for row in changes.rows}


def _doubts(course: Course, ground: Ground, tables: Collection[str]) -> list[Finding]:
    resolved, listed = resolve_station_lists(ground)
    piped = build_network(resolved)[1] if any(name in _PIPED for name in tables) else []
    return [*listed, *recheck(course.checked, resolved, _numbers(course)).findings, *piped]


def findings_about(
    course: Course,
    before: Ground,
    after: Ground,
    changes: Changes,
    known: Collection[Finding] | None = None,
) -> tuple[Finding, ...]:
    """Doubts about changes: those that are new, and those about a row that changed.

    Args:
        course: the open course; what it knows of its record is not asked again.
        before, after: the record as kept.
        changes: what lies between.
        known: doubts about the record before, where they are at hand.
    """
    if not changes.rows:
        return ()
    tables = {row.table for row in changes.rows}
    old = set(_doubts(course, before, tables) if known is None else known)
    subjects = _subjects(changes)
    now = dict.fromkeys(_doubts(course, after, tables))
    return tuple(finding for finding in now if finding not in old or finding.subject in subjects)


def preview(
    course: Course, operations: Any, known: Collection[Finding] | None = None
) -> EditPreview:
    """What operations would make of the record; nothing is saved.

    Args:
        course: the open course.
        operations: a list of plain operations; see docs/how/editing.md.
        known: doubts about the record as it is, where they are at hand.

    Raises:
        OperationError: no list of operations at all.
    """
    before = course.kept
    tried = try_operations(before, operations, _rules(course, makes=True))
    changes = changes_between(before, tried.ground)
    found = findings_about(course, before, tried.ground, changes, known)
    return EditPreview(tried.ground, changes, found, tried.impossible)


def _named(operations: Iterable[Operation]) -> Iterator[str]:
    for operation in operations:
        yield from operation.named


def _stale(ground: Ground, subjects: Iterable[str], seen: Mapping[str, str]) -> list[str]:
    """Subjects that are not what the person saw."""
    looked_at = (subject for subject in dict.fromkeys(subjects) if subject in seen)
    return [subject for subject in looked_at if digest_of(ground, subject) != seen[subject]]


def _refuse_stale(
    course: Course,
    ground: Ground,
    operations: Sequence[Operation],
    subjects: Iterable[str],
    seen: Mapping[str, str],
) -> None:
    stale = _stale(ground, subjects, seen)
    if stale:
        raise EditConflictError(conflicts_over(course, ground, operations, stale, seen))


def _saved(
    course: Course,
    operations: Sequence[Operation],
    seen: Mapping[str, str],
    accept: tuple[str, str, datetime],
) -> tuple[str, Ground, Applied, Changes]:
    before = course.file.ground()
    _refuse_stale(course, before, operations, _named(operations), seen)
    makes = any(operation.makes for operation in operations)
    applied = apply_operations(before, operations, _rules(course, makes=makes))
    changes = changes_between(before, applied.ground)
    _refuse_stale(course, before, operations, _subjects(changes), seen)
    if not changes.rows:
        raise UserError("Nothing would change: the record is like that already.")
    return course.file.accept(changes, *accept), before, applied, changes


def save(
    course: Course,
    operations: Any,
    seen: Mapping[str, str],
    *,
    who: str,
    why: str,
    now: datetime,
    known: Collection[Finding] | None = None,
) -> SavedEdit:
    """Make operations part of the record as one revision, whole or not at all.

    They are done on the record as it is now, so work that others saved meanwhile on other rows
    stays. A row that the person saw otherwise is a conflict.

    Args:
        course: the open course.
        operations: a list of plain operations.
        seen: subject → digest of rows as the person saw them; rows that are not
            named here are taken as they are.
        who, why, now: for the history.
        known: doubts about the record as it was, where they are at hand.

    Raises:
        OperationError: an operation that does not read or cannot be done; nothing was saved.
        EditConflictError: rows changed since they were seen, with both versions.
        UserError: nothing would change, or no reason is given.
    """
    read = read_operations(operations)
    for last in range(_TRIES, 0, -1):
        try:
            revision, before, applied, changes = _saved(course, read, seen, (who, why, now))
        except EditConflictError:
            raise
        except ConflictError:
            if last == 1:
                raise
        else:
            found = findings_about(course, before, applied.ground, changes, known)
            return SavedEdit(revision, applied.created, found)
    raise AssertionError("the last try returns or raises")


def take_back(
    course: Course,
    revision: str,
    *,
    who: str,
    why: str,
    now: datetime,
    known: Collection[Finding] | None = None,
) -> SavedEdit:
    """Take a revision back, as a new one; `known` are doubts about the record as it was.

    Raises:
        NotFoundError: no such revision.
        ConflictError: later work touches the same rows; nothing was saved.
    """
    before = course.file.ground()
    made = course.file.undo(revision, who, why, now)
    after = course.file.ground()
    changes = changes_between(before, after)
    return SavedEdit(made, {}, findings_about(course, before, after, changes, known))


def row_history(course: Course, subject: str) -> list[PastChange]:
    """Every revision that touched a row, the newest first; also of one that is gone.

    Raises:
        UserError: the subject names no table of the record.
    """
    table, _, identity = subject.partition(":")
    if table not in GROUND_TABLES or not identity:
        raise UserError(f"'{subject}' is no row of the record. Write it like heads:H1.")
    return course.file.row_history(table, identity)
