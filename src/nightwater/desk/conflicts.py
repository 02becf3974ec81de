"""Two people edited one row: what each of them wants, and who was first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from nightwater.desk.course import Course
from nightwater.findings import ConflictError
from nightwater.ground.changes import Changes, RowChange, Values, plain_rows
from nightwater.ground.differences import changes_between, with_changes
from nightwater.ground.edits.digests import row_digest
from nightwater.ground.edits.operations import Operation, OperationError, apply_operations
from nightwater.ground.record import Ground
from nightwater.ground.tables import TABLES
from nightwater.store.history import PastChange


@dataclass(frozen=True)
class Conflict:
    """A row that somebody else changed since a person saw it.

    Attributes:
        subject: table:id.
        yours: column → value that the person's operations would give it; None where
            they would take it out.
        theirs: column → value that it has now, for those columns and every other that
            changed; None where somebody took it out.
        digest: its mark now, None where it is gone; with it the person may save once more.
        by, revision: who changed it last, and the revision; None where another program did.
    """

    subject: str
    yours: Values | None
    theirs: Values | None
    digest: str | None
    by: str | None
    revision: str | None


class EditConflictError(ConflictError):
    """Rows changed since they were seen; nothing was saved."""

    def __init__(self, conflicts: Sequence[Conflict]) -> None:
        super().__init__(_sentence(conflicts))
        self.conflicts = tuple(conflicts)


def _sentence(conflicts: Sequence[Conflict]) -> str:
    first, more = conflicts[0], len(conflicts) - 1
    what = first.subject if not more else f"{first.subject} and {more} more"
    who = "another program" if first.by is None else f"{first.by} in revision {first.revision}"
    deed = "taken out" if first.theirs is None else "changed"
    verb = "were" if more else "was"
    return f"{what} {verb} {deed} meanwhile by {who}; nothing was saved. Compare and choose."


def _row(ground: Ground, subject: str) -> Values | None:
    name, _, identity = subject.partition(":")
    rows = ground.table(name)
    if identity not in rows.index:
        return None
    return plain_rows(rows.loc[[identity]], TABLES[name])[identity]


def _as_seen(past: Iterable[PastChange], digest: str) -> Values | None:
    """The row as the person saw it, looked up in its history."""
    for entry in past:
        for values in (entry.change.after, entry.change.before):
            if values is not None and row_digest(values) == digest:
                return values
    return None


def _given(row: RowChange) -> Values | None:
    return None if row.after is None else {name: new for name, (_, new) in row.columns.items()}


def _wanted(
    ground: Ground, operations: Sequence[Operation], seen_rows: Mapping[str, Values]
) -> Mapping[str, Values | None]:
    """What the operations would do to rows as the person saw them: subject → column → value."""
    restored = []
    for subject, values in seen_rows.items():
        table, _, identity = subject.partition(":")
        restored.append(RowChange(table, identity, None, values))
    before = with_changes(ground, Changes(tuple(restored)))
    try:
        after = apply_operations(before, operations).ground
    except OperationError:
        return {}
    rows = changes_between(before, after).rows
    return {f"{row.table}:{row.id}": _given(row) for row in rows}


def _theirs(now: Values | None, seen: Values | None, yours: Values) -> dict[str, Any] | None:
    if now is None:
        return None
    if seen is None and not yours:
        return dict(now)
    changed = [name for name in now if seen is not None and now[name] != seen.get(name)]
    return {name: now[name] for name in dict.fromkeys([*yours, *changed]) if name in now}


def conflicts_over(
    course: Course,
    ground: Ground,
    operations: Sequence[Operation],
    stale: Sequence[str],
    seen: Mapping[str, str],
) -> list[Conflict]:
    """Both versions of rows that changed since a person saw them.

    Args:
        course: the open course, for the history.
        ground: the record as it is kept now.
        operations: what the person wants.
        stale: subjects that changed.
        seen: subject → digest of what the person saw.
    """
    past = {s: course.file.row_history(*s.split(":", 1)) for s in stale}
    found = {s: _as_seen(past[s], seen[s]) for s in stale}
    wanted = _wanted(ground, operations, {s: row for s, row in found.items() if row is not None})
    conflicts = []
    for subject in stale:
        now, last = _row(ground, subject), next(iter(past[subject]), None)
        yours = wanted.get(subject, {})
        conflicts.append(
            Conflict(
                subject=subject,
                yours=yours,
                theirs=_theirs(now, found[subject], yours or {}),
                digest=None if now is None else row_digest(now),
                by=None if last is None else last.who,
                revision=None if last is None else last.revision,
            )
        )
    return conflicts
