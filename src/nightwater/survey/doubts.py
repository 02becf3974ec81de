"""Why a proposed change is doubtful, or cannot be accepted at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, error, warning
from nightwater.ground.changes import GEOMETRY, RowChange, Values
from nightwater.ground.columns import Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES
from nightwater.ground.validity import row_faults
from nightwater.survey.gates import SAME_GROUND_CLEAR, gate_m
from nightwater.survey.identities import Found, is_clear
from nightwater.survey.read import SurveyRows
from nightwater.survey.same_again import moved_m
from nightwater.survey.shapes import PLACED

SAME_POINT_M: Final = 0.5
FAR_M: Final = 20_000.0  # no course is so large; a wrong coordinate system is off by more


def place_doubts(
    change: RowChange, told: Values, how: Found | None, source: str, place: str
) -> list[Finding]:
    """Why a known row's new place, or the match itself, should be looked at first.

    It moves beyond the gate; it was found beyond it, or by ground that is only partly shared;
    or another row fits nearly as well.

    Args:
        change: the row before and after.
        told: what the file says of it.
        how: how it was found, where its id did not tell.
        source: the file's name.
        place: where the row stands in the file.
    """
    known = (change.before or {}).get("evidence")
    gate, moved = gate_m(change.table, known, told.get("evidence")), moved_m(change)
    where = f"{source}, {place}: {change.id}"
    if how is not None and how.beyond_gate:
        return [_beyond_gate(change, how, source, place, gate)]
    doubts = [] if how is None or is_clear(how) else [_uncertain(change, how, where)]
    return [*doubts, _moved_far(change, moved, source, gate)] if moved > gate else doubts


def _moved_far(change: RowChange, moved: float, source: str, gate: float) -> Finding:
    return warning(
        "moved-far",
        f"{change.table}:{change.id}",
        f"{source} puts {change.id} {moved:.1f} m from where the record has it; more than "
        f"{gate:.0f} m is doubtful.",
        "Look at both places; accept doubtful rows with --with-doubtful.",
    )


def _beyond_gate(change: RowChange, how: Found, source: str, place: str, gate: float) -> Finding:
    rival = f" ({how.rival} fits nearly as well)" if how.rival else ""
    return warning(
        "moved-far",
        f"{change.table}:{change.id}",
        f"{source} has nothing within {gate:.0f} m of {change.id}, but at {place} something like "
        f"it {how.distance_m:.1f} m away{rival}: moved, or {change.id} is gone and that is new.",
        "Look at both places; accept it as moved with --with-doubtful.",
    )


def _uncertain(change: RowChange, how: Found, where: str) -> Finding:
    subject = f"{change.table}:{change.id}"
    if how.rival is not None or how.rival_row is not None:
        other = how.rival or f"the row at {how.rival_row}"
        return warning(
            "match-doubtful",
            subject,
            f"{where} was found by place and attributes, but {other} fits nearly as well.",
            "Look which of both it is; give the row its id, or accept it with --with-doubtful.",
        )
    return warning(
        "outline-differs",
        subject,
        f"{where} shares only {how.shared:.0%} with what the record has; less than "
        f"{SAME_GROUND_CLEAR:.0%} is doubtful.",
        "Look at both; accept it as the new outline with --with-doubtful.",
    )


def near_doubts(
    added: Mapping[str, RowChange], near: Mapping[str, tuple[str, float]], source: str
) -> dict[str, Finding]:
    """New ids of the file's own that stand within the gate of something in the record."""
    return {
        key: warning(
            "same-place",
            f"{added[key].table}:{other}",
            f"{source} adds {key} {apart:.1f} m from {other}, which the record has already.",
            "If it is the same thing, give it that id; else accept it with --with-doubtful.",
        )
        for key, (other, apart) in near.items()
        if key in added
    }


def _shapes(added: Mapping[str, RowChange]) -> dict[str, Any]:
    shapes = {key: (change.after or {}).get(GEOMETRY) for key, change in added.items()}
    return {key: shape for key, shape in shapes.items() if shape is not None}


def twin_doubts(
    added: Mapping[str, RowChange], present: pd.DataFrame, source: str
) -> dict[str, Finding]:
    """New points that stand where the record, or the file itself, has another id already."""
    shapes = _shapes(added)
    known = present[present.geometry.notna()] if GEOMETRY in present else present.iloc[:0]
    keys = [*shapes, *map(str, known.index)]
    spots = np.array([*shapes.values(), *known.get(GEOMETRY, ())], dtype=object)
    if not shapes or len(spots) < 2:
        return {}
    new = len(shapes)
    mine, theirs = shapely.STRtree(spots).query(
        spots[:new], predicate="dwithin", distance=SAME_POINT_M
    )
    # Of two new rows in one place the first stands.
    pairs = [(m, t) for m, t in zip(mine, theirs, strict=True) if t >= new or t < m]
    return {keys[m]: _twin(added[keys[m]], keys[t], source, t < new) for m, t in pairs}


def _twin(change: RowChange, other: str, source: str, in_file: bool) -> Finding:
    where = "which the file has too" if in_file else "which the record has already"
    return warning(
        "same-place",
        f"{change.table}:{other}",
        f"{source} adds {change.id} within {SAME_POINT_M} m of {other}, {where}.",
        "If it is the same thing, give it that id; else accept it with --with-doubtful.",
    )


def far_doubts(added: Mapping[str, RowChange], ground: Ground, source: str) -> dict[str, Finding]:
    """New rows that lie farther from the course than any course is large."""
    boxes = [
        ground.table(name).total_bounds
        for name in GROUND_TABLES
        if GEOMETRY in ground.table(name) and ground.table(name).geometry.notna().any()
    ]
    shapes = _shapes(added)
    if not boxes or not shapes:
        return {}
    lows, highs = np.min(boxes, axis=0)[:2], np.max(boxes, axis=0)[2:]
    course = shapely.box(*lows, *highs)
    far = shapely.distance(np.array(list(shapes.values()), dtype=object), course)
    return {
        key: _far(added[key], float(distance), source)
        for key, distance in zip(shapes, far, strict=True)
        if distance > FAR_M
    }


def _far(change: RowChange, distance_m: float, source: str) -> Finding:
    return warning(
        "far-from-course",
        f"{change.table}:{change.id}",
        f"{source} puts {change.id} {distance_m / 1000:,.0f} km from everything else.",
        "Check the coordinate system (--crs); accept doubtful rows with --with-doubtful.",
    )


def unfit(added: Mapping[str, RowChange], table: Table, rows: SurveyRows) -> dict[str, Finding]:
    """New rows that cannot stand: a required column or the place is not in the file."""
    found = {}
    for key, change in added.items():
        values = change.after or {}
        faults = row_faults(table, values)
        if table.name in PLACED and values.get(GEOMETRY) is None:
            faults.append("it has no geometry.")
        if faults:
            found[key] = _unfit(rows, key, table.name, " ".join(faults))
    return found


def _unfit(rows: SurveyRows, key: str, table: str, faults: str) -> Finding:
    return error(
        "new-row-incomplete",
        f"{table}:{key}",
        f"{rows.source}, {rows.places.get(key, 'somewhere')} ({key}): the record does not have "
        f"it yet, and it cannot be added: {faults}",
        "Add what is missing to the file, or correct the id if the record has it by another.",
    )
