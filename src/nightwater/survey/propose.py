"""What a survey would change in the record: a proposal, not yet a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, warning
from nightwater.ground.changes import Changes, RowChange, Values, plain_rows
from nightwater.ground.columns import EVIDENCE, Table
from nightwater.ground.record import Ground, conform
from nightwater.survey.read import SurveyRows

MOVED_M: Final = 3.0
_SAME_PLACE_M: Final = 0.5
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
        same = _same_geometry if name == "geometry" else _same
        if not same(before.get(name), value):
            after[name] = value
    return after


def _told(rows: SurveyRows, table: Table, crs: str) -> dict[str, dict[str, Any]]:
    """Only the columns that the file fills, as plain values."""
    whole = plain_rows(conform(rows.rows, table, crs), table)
    names = set(rows.rows.columns)
    return {key: {n: v for n, v in row.items() if n in names} for key, row in whole.items()}


def _distance_m(before: Values, after: Values) -> float:
    if before.get("geometry") is None or after.get("geometry") is None:
        return 0.0
    here, there = shapely.centroid([before["geometry"], after["geometry"]])
    return float(shapely.distance(here, there))


def _weaker(before: Values, after_told: Values) -> bool:
    known, told = before.get("evidence"), after_told.get("evidence")
    if known is None:
        return False
    rank = {name: place for place, name in enumerate(EVIDENCE)}
    return rank.get(told or EVIDENCE[-1], len(EVIDENCE)) > rank[known]


def _change_doubt(change: RowChange, told: Values, source: str) -> Finding | None:
    before, after = change.before or {}, change.after or {}
    subject = f"{change.table}:{change.id}"
    moved = _distance_m(before, after)
    if moved > MOVED_M:
        return warning(
            "moved-far",
            subject,
            f"{source} puts {change.id} {moved:.1f} m from where the record has it; more than "
            f"{MOVED_M:.0f} m is doubtful.",
            "Look at both places; accept doubtful rows with --with-doubtful.",
        )
    if _weaker(before, told):
        return warning(
            "weaker-evidence",
            subject,
            f"{source} would change {change.id}, which is known as {before['evidence']}, on "
            f"{told.get('evidence') or 'unstated'} evidence.",
            "Keep the record, or accept doubtful rows with --with-doubtful.",
        )
    return None


def _twin_doubts(
    added: Mapping[str, RowChange], present: pd.DataFrame, source: str
) -> dict[str, Finding]:
    """New points that stand where the record has another id already."""
    if not added or present.empty or "geometry" not in present:
        return {}
    shapes = {
        key: change.after["geometry"]
        for key, change in added.items()
        if change.after and change.after.get("geometry")
    }
    known = present.geometry.to_numpy()
    usable = np.array([shape is not None for shape in known])
    if not shapes or not usable.any():
        return {}
    tree, ids = shapely.STRtree(known[usable]), present.index.to_numpy()[usable]
    spots = np.array(list(shapes.values()), dtype=object)
    (mine, theirs), far = tree.query_nearest(spots, return_distance=True, all_matches=False)
    keys = list(shapes)
    return {
        keys[m]: _twin(keys[m], str(ids[t]), next(iter(added.values())).table, source)
        for m, t, distance in zip(mine, theirs, far, strict=True)
        if distance <= _SAME_PLACE_M
    }


def _twin(new: str, known: str, table: str, source: str) -> Finding:
    return warning(
        "same-place",
        f"{table}:{known}",
        f"{source} adds {new} within {_SAME_PLACE_M} m of {known}, which the record has already.",
        "If it is the same thing, give it the record's id; else accept it with --with-doubtful.",
    )


def _compared(
    present: Mapping[str, Values], told: Mapping[str, Values], table: Table
) -> tuple[dict[str, RowChange], dict[str, RowChange]]:
    added: dict[str, RowChange] = {}
    changed: dict[str, RowChange] = {}
    empty: dict[str, Any] = {column.name: None for column in table.columns}
    if table.shape is not None:
        empty["geometry"] = None
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
    stay, unless `complete` says that it lists them all.

    Args:
        ground: the record as the file keeps it.
        table: which table the survey is of.
        rows: what the file says.
        complete: whether rows that are not named are gone.
    """
    frame = ground.table(table.name)
    present = plain_rows(frame, table)
    told = _told(rows, table, ground.crs)
    added, changed = _compared(present, told, table)
    doubts: dict[str, Finding] = {}
    if table.shape is not None and table.shape.value == "Point":
        doubts |= _twin_doubts(added, frame, rows.source)
    for key, change in changed.items():
        doubt = _change_doubt(change, told[key], rows.source)
        if doubt is not None:
            doubts[key] = doubt
    gone = [key for key in present if key not in told] if complete else []
    every = {**added, **changed}
    return Proposal(
        table=table.name,
        added={key: c for key, c in added.items() if key not in doubts},
        changed={key: c for key, c in changed.items() if key not in doubts},
        removed={key: RowChange(table.name, key, present[key], None) for key in gone},
        doubtful={key: every[key] for key in doubts},
        findings=(*rows.findings, *doubts.values()),
    )


def to_changes(proposal: Proposal, *, include_doubtful: bool) -> Changes:
    """The changes that accepting a proposal makes."""
    parts = [proposal.added, proposal.changed, proposal.removed]
    parts += [proposal.doubtful] if include_doubtful else []
    return Changes(tuple(change for part in parts for change in part.values()))
