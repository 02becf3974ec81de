"""Why a proposed change is doubtful, or cannot be accepted at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, error, warning
from nightwater.ground.changes import GEOMETRY, RowChange, Values
from nightwater.ground.columns import EVIDENCE, Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES
from nightwater.ground.validity import row_faults
from nightwater.survey.identities import SAME_POINT_M
from nightwater.survey.read import SurveyRows
from nightwater.survey.shapes import PLACED

MOVED_M: Final = 3.0
FAR_M: Final = 20_000.0  # no course is so large; a wrong coordinate system is off by more


def _distance_m(before: Values, after: Values) -> float:
    """How far a thing moved: its middle, or for the same middle its farthest edge."""
    here, there = before.get(GEOMETRY), after.get(GEOMETRY)
    if here is None or there is None or here is there:
        return 0.0
    middle = shapely.distance(shapely.centroid(here), shapely.centroid(there))
    return float(middle)


def _weaker(before: Values, told: Values, after: Values) -> bool:
    known, stated = before.get("evidence"), told.get("evidence")
    if known is None:
        return False
    if stated is None:
        return known == EVIDENCE[0] and after.get(GEOMETRY) is not before.get(GEOMETRY)
    return EVIDENCE.index(stated) > EVIDENCE.index(known)


def change_doubt(change: RowChange, told: Values, source: str) -> Finding | None:
    """Why a change of a known row should be looked at first; None where nothing speaks for it.

    A row that moves more than 3 m; weaker evidence than the record's; or a surveyed place
    moved by a file that does not say how well it knows.
    """
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
    if _weaker(before, told, after):
        return warning(
            "weaker-evidence",
            subject,
            f"{source} would change {change.id}, which is known as {before['evidence']}, on "
            f"{told.get('evidence') or 'unstated'} evidence.",
            "Keep the record, or accept doubtful rows with --with-doubtful.",
        )
    return None


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
