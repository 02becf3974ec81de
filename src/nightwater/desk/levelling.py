"""Levels of heads, pumps and pipe ends out of a raster of heights, as a proposal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.desk.course import Course
from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.record import Ground
from nightwater.ground.tables import TABLES
from nightwater.survey.heights import read_heights

FAR_M: Final = 5.0  # a level this far from what the record says is looked at
_KEPT_DIGITS: Final = 2


@dataclass(frozen=True)
class _Spot:
    """A place whose level is wanted: where the answer goes, and what stands there."""

    table: str
    id: str
    column: str
    xy: tuple[float, float]
    before: float | None


@dataclass(frozen=True)
class Levels:
    """What a raster would change; nothing is changed yet.

    Attributes:
        changes: rows with a new level.
        counts: rows for people: what, how many new, changed, left as they are, outside the raster.
        findings: doubts.
    """

    changes: Changes
    counts: list[dict[str, Any]]
    findings: tuple[Finding, ...]


def _point_spots(ground: Ground, table: str) -> list[_Spot]:
    frame = ground.table(table)
    return [
        _Spot(table, str(name), "elevation_m", (shape.x, shape.y), _known(level))
        for name, shape, level in zip(
            frame.index, frame["geometry"], frame["elevation_m"], strict=True
        )
        if shape is not None and not shape.is_empty
    ]


def _known(level: Any) -> float | None:
    return None if pd.isna(level) else float(level)


def _pipe_spots(ground: Ground) -> list[_Spot]:
    found = []
    for name, row in ground.pipes.iterrows():
        shape = row["geometry"]
        if shape is None or shape.is_empty:
            continue
        ends = shapely.get_coordinates(shape)[[0, -1]].tolist()
        for column, (x, y) in zip(("start_elevation_m", "end_elevation_m"), ends, strict=True):
            found.append(_Spot("pipes", str(name), column, (x, y), _known(row[column])))
    return found


def _changes(ground: Ground, spots: list[_Spot], level: NDArray[np.float64]) -> Changes:
    present = {t: plain_rows(ground.table(t), TABLES[t]) for t in ("heads", "pumps", "pipes")}
    after: dict[tuple[str, str], dict[str, Any]] = {}
    for spot, value in zip(spots, level.tolist(), strict=True):
        new = round(value, _KEPT_DIGITS)
        if np.isfinite(value) and new != spot.before:
            row = after.setdefault((spot.table, spot.id), dict(present[spot.table][spot.id]))
            row[spot.column] = new
    rows = [
        RowChange(table, name, present[table][name], row) for (table, name), row in after.items()
    ]
    return Changes(tuple(rows))


def _counts(spots: list[_Spot], kept: list[_Spot], level: dict[_Spot, float]) -> list[Any]:
    words = {"heads": "heads", "pumps": "pumps", "pipes": "ends of pipes"}
    return [
        {
            "what": words[table],
            "new": sum(s.before is None and np.isfinite(level[s]) for s in mine),
            "changed": sum(s.before is not None and np.isfinite(level[s]) for s in mine),
            "kept": sum(s.table == table for s in kept),
            "outside": sum(not np.isfinite(level[s]) for s in mine),
        }
        for table in words
        for mine in ([s for s in spots if s.table == table],)
    ]


def _doubts(spots: list[_Spot], level: NDArray[np.float64], name: str) -> list[Finding]:
    found = []
    without = [s for s, z in zip(spots, level, strict=True) if not np.isfinite(z)]
    if without:
        found.append(
            warning(
                "no-height-there",
                f"file:{name}",
                f"{name} has no height at {len(without)} of {len(spots)} places, the first at "
                f"{without[0].table} {without[0].id}; their levels stay as they are.",
                "Take a raster that covers the course.",
            )
        )
    apart = [
        (abs(z - s.before), s)
        for s, z in zip(spots, level, strict=True)
        if s.before is not None and abs(z - s.before) > FAR_M
    ]
    if apart:
        worst, spot = max(apart, key=lambda pair: pair[0])
        found.append(
            note(
                "heights-disagree",
                f"{spot.table}:{spot.id}",
                f"{len(apart)} levels of {name} lie more than {FAR_M:.0f} m from the record's, "
                f"{spot.table} {spot.id} by {worst:.1f} m.",
                "See whether the unit, the place and the datum of heights are the same.",
            )
        )
    return found


def propose_levels(
    course: Course, path: Path, *, unit: str | None, crs: str | None, overrule: bool
) -> Levels:
    """Levels of heads, pumps and ends of pipes as a raster has them; nothing is changed yet.

    Args:
        course: the course.
        path: the raster.
        unit: of its heights; never guessed.
        crs: its coordinate system, where it does not say.
        overrule: levels that the record has are changed too; else they are left.

    Raises:
        UserError: no unit or system, no raster, or a record with nothing to level.
    """
    ground = course.file.ground()
    every = [*_point_spots(ground, "heads"), *_point_spots(ground, "pumps"), *_pipe_spots(ground)]
    spots = [spot for spot in every if overrule or spot.before is None]
    kept = [spot for spot in every if not overrule and spot.before is not None]
    if not every:
        raise UserError("The record has no head, pump or pipe with a place. Survey them first.")
    xy = np.array([spot.xy for spot in spots], dtype=float).reshape(-1, 2)
    found = read_heights(path, xy, ground.crs, unit=unit, crs=crs)
    level = dict(zip(spots, found.level_m.tolist(), strict=True))
    return Levels(
        _changes(ground, spots, found.level_m),
        _counts(spots, kept, level),
        (*found.findings, *_doubts(spots, found.level_m, path.name)),
    )


def accept_levels(
    course: Course, levels: Levels, *, who: str, why: str, now: datetime
) -> str | None:
    """Make the levels part of the record, whole or not at all.

    Returns:
        The id of the revision, or None where there was nothing to change.
    """
    return course.file.accept(levels.changes, who, why, now) if levels.changes.rows else None
