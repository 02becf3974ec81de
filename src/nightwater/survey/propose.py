"""What a survey would change in the record: a proposal, not yet a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import pandas as pd
import shapely

from nightwater.findings import Finding
from nightwater.ground.changes import GEOMETRY, Changes, RowChange, Values, plain_rows
from nightwater.ground.columns import Shape, Table
from nightwater.ground.record import Ground, conform
from nightwater.survey.doubts import far_doubts, near_doubts, place_doubts, twin_doubts, unfit
from nightwater.survey.evidence import evidence_doubt, weighed
from nightwater.survey.hole_links import linked_holes
from nightwater.survey.identities import Settled, settled
from nightwater.survey.read import SurveyRows
from nightwater.survey.remembered import Said
from nightwater.survey.same_again import (
    by_distance,
    found_note,
    gone_ids,
    gone_note,
    is_moved,
    own_ids_doubt,
    removal_doubt,
    shift_doubt,
)

_SAME_NUMBER: Final = 1e-9


@dataclass(frozen=True)
class Proposal:
    """Changes not yet in the record; each part maps id → the change.

    Attributes:
        table: which table they are of.
        added: rows that are new.
        moved: known rows of which place or outline becomes another, the farthest first.
        changed: known rows of which only values become others.
        removed: rows that go.
        doubtful: changes that a person should look at; they are not in the other parts.
        findings: doubts about the file and its rows.
        gone: ids on the surveyed ground that the file does not name; they stay.
        said: what was said of the file's columns, to be kept when it is accepted.
    """

    table: str
    added: Mapping[str, RowChange]
    moved: Mapping[str, RowChange]
    changed: Mapping[str, RowChange]
    removed: Mapping[str, RowChange]
    doubtful: Mapping[str, RowChange]
    findings: tuple[Finding, ...]
    gone: tuple[str, ...] = ()
    said: Said | None = None


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
    present: Mapping[str, Values],
    told: Mapping[str, Values],
    table: Table,
    *,
    overrule: bool,
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
        after = after if overrule else weighed(before, after, row)
        if any(after[name] is not before.get(name) for name in after):
            changed[key] = RowChange(table.name, key, before, after)
    return added, changed


def propose(
    ground: Ground,
    table: Table,
    rows: SurveyRows,
    *,
    complete: bool = False,
    overrule: bool = False,
    own_ids: bool = False,
) -> Proposal:
    """Compare a survey with the record.

    Rows are the record's by id, else by place and attributes (`identities.settled`). A value
    that the file leaves empty never erases one, and a weaker survey overwrites a better one
    only as a doubtful change. Rows that the file does not name stay, unless `complete` says
    that it lists them all; a row that the file names but that could not be read stays in any
    case. New rows that cannot stand are findings.

    Args:
        ground: the record as the file keeps it.
        table: which table the survey is of.
        rows: what the file says.
        complete: whether rows that are not named are gone.
        overrule: whether a person says that the file is right where the record knows better.
        own_ids: whether the file's ids are numbers of its own, which the record does not share.
    """
    frame = ground.table(table.name)
    settled_rows = settled(rows, frame, table, own_ids=own_ids)
    rows = linked_holes(settled_rows.rows, ground.holes)
    settled_rows = replace(settled_rows, rows=rows)
    present = plain_rows(frame, table)
    told = _told(rows, table, ground.crs)
    added, changed = _compared(present, told, table, overrule=overrule)
    incomplete = unfit(added, table, rows)
    added = {key: change for key, change in added.items() if key not in incomplete}
    doubts = _new_doubts(added, ground, table, settled_rows)
    doubts |= _change_doubts(changed, told, settled_rows, overrule=overrule)
    doubts |= {k: [doubt] for k, doubt in _far_doubts({**added, **changed}, rows).items()}
    named = {*told, *rows.refused}
    gone = [] if complete else gone_ids(frame, rows, named, table)
    removed = [key for key in present if key not in named] if complete else []
    removals = {key: RowChange(table.name, key, present[key], None) for key in removed}
    if rows.unreadable:
        lost = rows.unreadable
        doubts |= {key: [removal_doubt(c, lost, rows.source)] for key, c in removals.items()}
    every = {**added, **changed, **removals}
    clear = {key: change for key, change in every.items() if key not in doubts}
    moved = {key: c for key, c in clear.items() if is_moved(c, table)}
    return Proposal(
        table=table.name,
        added={key: c for key, c in clear.items() if c.before is None},
        moved=by_distance(moved),
        changed={key: c for key, c in clear.items() if key in changed and key not in moved},
        removed={key: c for key, c in clear.items() if c.after is None},
        doubtful={key: every[key] for key in doubts},
        gone=tuple(gone),
        said=rows.said,
        findings=tuple(
            dict.fromkeys(
                (
                    *rows.findings,
                    *_as_a_whole(settled_rows, changed, frame, table, gone),
                    *incomplete.values(),
                    *(doubt for reasons in doubts.values() for doubt in reasons),
                )
            )
        ),
    )


def _as_a_whole(
    settled_rows: Settled,
    changed: Mapping[str, RowChange],
    frame: pd.DataFrame,
    table: Table,
    gone: list[str],
) -> list[Finding]:
    """What is told of the survey rather than of a row."""
    rows = settled_rows.rows
    own_ids = () if settled_rows.foreign else own_ids_doubt(rows, frame, table)
    return [
        *found_note(settled_rows, table),
        *own_ids,
        *shift_doubt(changed.values(), rows.source),
        *gone_note(gone, table, rows.source),
    ]


def _new_doubts(
    added: Mapping[str, RowChange], ground: Ground, table: Table, settled_rows: Settled
) -> dict[str, list[Finding]]:
    source = settled_rows.rows.source
    point = table.shape is Shape.POINT
    twins = twin_doubts(added, ground.table(table.name), source) if point else {}
    near = near_doubts(added, settled_rows.near, source)
    return {
        key: [doubt] for key, doubt in (near | twins | far_doubts(added, ground, source)).items()
    }


def _far_doubts(every: Mapping[str, RowChange], rows: SurveyRows) -> dict[str, Finding]:
    """Rows that lie far from the course: one finding for all of them, which the reader made."""
    found = next((f for f in rows.findings if f.code == "far-from-course"), None)
    return {key: found for key in every if key in rows.far} if found is not None else {}


def _change_doubts(
    changed: Mapping[str, RowChange],
    told: Mapping[str, Values],
    settled_rows: Settled,
    *,
    overrule: bool,
) -> dict[str, list[Finding]]:
    rows = settled_rows.rows
    found: dict[str, list[Finding]] = {}
    for key, change in changed.items():
        place = rows.places.get(key, "somewhere")
        reasons = place_doubts(change, told[key], settled_rows.found.get(key), rows.source, place)
        weak = None if overrule else evidence_doubt(change, told[key], rows.source)
        reasons += [weak] if weak is not None else []
        if reasons:
            found[key] = reasons
    return found


def to_changes(proposal: Proposal, *, include_doubtful: bool) -> Changes:
    """The changes that accepting a proposal makes."""
    parts = [proposal.added, proposal.moved, proposal.changed, proposal.removed]
    parts += [proposal.doubtful] if include_doubtful else []
    return Changes(tuple(change for part in parts for change in part.values()))
