"""What a survey would change in the record: a proposal, not yet a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import shapely

from nightwater.findings import Finding
from nightwater.ground.changes import GEOMETRY, Changes, RowChange, Values, plain_rows
from nightwater.ground.columns import Shape, Table
from nightwater.ground.record import Ground, conform
from nightwater.survey.doubts import change_doubt, far_doubts, twin_doubts, unfit
from nightwater.survey.hole_links import linked_holes
from nightwater.survey.identities import settled
from nightwater.survey.read import SurveyRows

_SAME_NUMBER: Final = 1e-9


@dataclass(frozen=True)
class Proposal:
    """Changes not yet in the record; each part maps id → the change.

    `doubtful` holds changes that a person should look at; they are not in the others.
    """

    table: str
    added: Mapping[str, RowChange]
    changed: Mapping[str, RowChange]
    removed: Mapping[str, RowChange]
    doubtful: Mapping[str, RowChange]
    findings: tuple[Finding, ...]


def _same(left: Any, right: Any) -> bool:
    if isinstance(left, float) and isinstance(right, float):
        return abs(left - right) <= _SAME_NUMBER * max(1.0, abs(left))
    return bool(left == right)


def _same_geometry(left: Any, right: Any) -> bool:
    if left is None or right is None:
        return left is right
    return bool(shapely.equals_exact(left, right, 1e-6))


def merged(before: Values, told: Values) -> dict[str, Any]:
    """A row with what a file tells of it; what it leaves empty is kept."""
    after = dict(before)
    for name, value in told.items():
        if value is None:
            continue
        same = _same_geometry if name == GEOMETRY else _same
        if not same(before.get(name), value):
            after[name] = value
    return after


def _told(rows: SurveyRows, table: Table, crs: str) -> dict[str, dict[str, Any]]:
    """Only the columns that the file fills, as plain values."""
    whole = plain_rows(conform(rows.rows, table, crs), table)
    names = set(rows.rows.columns)
    return {key: {n: v for n, v in row.items() if n in names} for key, row in whole.items()}


def _compared(
    present: Mapping[str, Values], told: Mapping[str, Values], table: Table
) -> tuple[dict[str, RowChange], dict[str, RowChange]]:
    added: dict[str, RowChange] = {}
    changed: dict[str, RowChange] = {}
    empty: dict[str, Any] = {column.name: None for column in table.columns}
    if table.shape is not None:
        empty[GEOMETRY] = None
    for key, row in told.items():
        before = present.get(key)
        if before is None:
            added[key] = RowChange(table.name, key, None, {**empty, **row})
            continue
        after = merged(before, row)
        if any(after[name] is not before.get(name) for name in after):
            changed[key] = RowChange(table.name, key, before, after)
    return added, changed


def propose(ground: Ground, table: Table, rows: SurveyRows, *, complete: bool = False) -> Proposal:
    """Compare a survey with the record.

    A value that the file leaves empty never erases one. Rows that the file does not name
    stay, unless `complete` says that it lists them all; a row that the file names but that
    could not be read stays in any case. New rows that cannot stand are findings.

    Args:
        ground: the record as the file keeps it.
        table: which table the survey is of.
        rows: what the file says.
        complete: whether rows that are not named are gone.
    """
    frame = ground.table(table.name)
    rows = linked_holes(settled(rows, frame, table), ground.holes)
    present = plain_rows(frame, table)
    told = _told(rows, table, ground.crs)
    added, changed = _compared(present, told, table)
    incomplete = unfit(added, table, rows)
    added = {key: change for key, change in added.items() if key not in incomplete}
    doubts = _new_doubts(added, ground, table, rows.source)
    doubts |= _change_doubts(changed, told, rows.source) | _far_doubts({**added, **changed}, rows)
    named = {*told, *rows.refused}
    gone = [key for key in present if key not in named] if complete else []
    every = {**added, **changed}
    return Proposal(
        table=table.name,
        added={key: c for key, c in added.items() if key not in doubts},
        changed={key: c for key, c in changed.items() if key not in doubts},
        removed={key: RowChange(table.name, key, present[key], None) for key in gone},
        doubtful={key: every[key] for key in doubts},
        findings=tuple(dict.fromkeys((*rows.findings, *incomplete.values(), *doubts.values()))),
    )


def _new_doubts(
    added: Mapping[str, RowChange], ground: Ground, table: Table, source: str
) -> dict[str, Finding]:
    point = table.shape is Shape.POINT
    twins = twin_doubts(added, ground.table(table.name), source) if point else {}
    return twins | far_doubts(added, ground, source)


def _far_doubts(every: Mapping[str, RowChange], rows: SurveyRows) -> dict[str, Finding]:
    """Rows that lie far from the course: one finding for all of them, which the reader made."""
    found = next((f for f in rows.findings if f.code == "far-from-course"), None)
    return {key: found for key in every if key in rows.far} if found is not None else {}


def _change_doubts(
    changed: Mapping[str, RowChange], told: Mapping[str, Values], source: str
) -> dict[str, Finding]:
    found = {key: change_doubt(change, told[key], source) for key, change in changed.items()}
    return {key: doubt for key, doubt in found.items() if doubt is not None}


def to_changes(proposal: Proposal, *, include_doubtful: bool) -> Changes:
    """The changes that accepting a proposal makes."""
    parts = [proposal.added, proposal.changed, proposal.removed]
    parts += [proposal.doubtful] if include_doubtful else []
    return Changes(tuple(change for part in parts for change in part.values()))
