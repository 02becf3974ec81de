"""What if a head were changed: numbers and depths of one hole before and after, nothing saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.desk.course import Course
from nightwater.desk.editing import SavedEdit, save
from nightwater.desk.tonight_water import TonightWater
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.edits.operations import EditRules, apply_operations, read_operations
from nightwater.ground.links import head_areas, resolve_station_lists
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground
from nightwater.spray.grid_part import part_of_grid
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import picked
from nightwater.spray.remedies import as_found
from nightwater.spray.what_if import Scene, WhatIf, changed_heads, what_if
from nightwater.units import SECONDS_PER_MINUTE

OWN_SHARE: Final = 0.5  # of a head's water on a piece of turf, from which on the head is its own
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class HeadChange:
    """What shall be different about one head; None leaves it as it is.

    Attributes:
        nozzle: id of the nozzle.
        arc_deg, bearing_deg: sector.
        radius_m: throw; counts as measured.
        pressure_kpa: pressure while it runs.
        east_m, north_m: by how much it is moved, or for a new head how far from this one it stands.
        level: whether it is set upright and to grade.
        add: whether a new head like this one is added, instead of changing it.
    """

    nozzle: str | None = None
    arc_deg: float | None = None
    bearing_deg: float | None = None
    radius_m: float | None = None
    pressure_kpa: float | None = None
    east_m: float = 0.0
    north_m: float = 0.0
    level: bool = False
    add: bool = False


@dataclass(frozen=True)
class Tried:
    """A change that was tried.

    Attributes:
        operations: the change as the editor takes it.
        hole: id of the hole whose turf was looked at; None where the head's area has none.
        areas: ids of the areas that were looked at.
        scene: that turf as it is.
        result: numbers and depths before and after.
    """

    operations: tuple[dict[str, Any], ...]
    hole: str | None
    areas: tuple[str, ...]
    scene: Scene
    result: WhatIf


_LIKE: Final = (
    "station", "nozzle", "area", "arc_deg", "bearing_deg", "spacing_m", "row_m", "pressure_kpa",
)  # fmt: skip
_VALUES: Final = {
    "nozzle": "nozzle",
    "arc_deg": "arc_deg",
    "bearing_deg": "bearing_deg",
    "radius_m": "measured_radius_m",
    "pressure_kpa": "pressure_kpa",
}


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _given(change: HeadChange) -> dict[str, Any]:
    named = {column: getattr(change, name) for name, column in _VALUES.items()}
    return {column: value for column, value in named.items() if value is not None}


def _levelled(row: Mapping[str, Any]) -> dict[str, Any]:
    """A throw that was measured while the head leaned or stood low says nothing any more."""
    emptied = ("tilt_deg", "tilt_towards_deg", "measured_radius_m")
    values: dict[str, Any] = {name: None for name in emptied if pd.notna(row[name])}
    return values | ({} if row["condition"] == "good" else {"condition": "good"})


def _sector(values: dict[str, Any]) -> dict[str, Any]:
    """A full circle has no bearing."""
    arc = values.get("arc_deg")
    return values | ({"bearing_deg": None} if arc is not None and arc >= 360.0 else {})


def change_operations(ground: Ground, head: str, change: HeadChange) -> list[dict[str, Any]]:
    """A change as operations of the editor; see docs/how/editing.md.

    Args:
        ground: the record.
        head: id of the head.
        change: what shall be different.

    Raises:
        NotFoundError: no such head, or one without a place.
        UserError: nothing would be different.
    """
    if head not in ground.heads.index:
        raise NotFoundError(f"There is no head '{head}' in the record.")
    row = ground.heads.loc[head]
    point = row["geometry"]
    if point is None or point.is_empty:
        raise NotFoundError(f"Head '{head}' has no place in the record. Place it on the map first.")
    values = _sector(_given(change))
    if change.add:
        like = {name: _plain(row[name]) for name in _LIKE if pd.notna(row[name])} | values
        place = [float(point.x) + change.east_m, float(point.y) + change.north_m]
        geometry = {"type": "Point", "coordinates": place}
        kept = {name: value for name, value in like.items() if value is not None}
        return [{"op": "add", "table": "heads", "values": kept, "geometry": geometry}]
    if change.level:
        values = _levelled(row) | values
    operations: list[dict[str, Any]] = []
    if values:
        operations.append({"op": "set", "table": "heads", "ids": [head], "values": values})
    if change.east_m or change.north_m:
        moved = {"dx_m": change.east_m, "dy_m": change.north_m}
        operations.append({"op": "move", "table": "heads", "ids": [head], **moved})
    if not operations:
        raise UserError("Nothing is changed yet. Choose a nozzle, an arc or another value to try.")
    return operations


def _turf(course: Course, head: str) -> tuple[str | None, tuple[str, ...]]:
    """The hole on which a head waters, and its areas; the head's area alone where it has none."""
    area = head_areas(course.ground).get(head)
    holes = area_holes(course.ground)
    hole = holes.get(area) if area is not None else None
    if hole is None or pd.isna(hole):
        if area is None:
            raise UserError(f"Head '{head}' waters no area of the record, so no turf can be shown.")
        return None, (str(area),)
    return str(hole), tuple(str(name) for name in holes.index[(holes == hole).to_numpy()])


def _scene(tonight: TonightWater, areas: tuple[str, ...]) -> tuple[Scene, NDArray[np.bool_]]:
    grid = tonight.matrix.grid
    inside = np.isin(np.array(grid.areas, dtype=object), areas)[grid.area]
    rates = tonight.matrix.rate_mm_min
    here = np.asarray(inside.astype(float) @ rates, dtype=float)
    every = np.asarray(rates.sum(axis=0), dtype=float).ravel()
    own = here > OWN_SHARE * every
    rate = sparse.csc_array(rates[:, np.flatnonzero(here > 0)]).sum(axis=1)
    run = tonight.run_min.reindex(tonight.matrix.heads).to_numpy(dtype=float)
    water = float((tonight.patterns.flow_l_s * run)[own].sum()) * SECONDS_PER_MINUTE
    scene = Scene(
        grid=part_of_grid(grid, inside),
        need_mm=tonight.need_mm[inside],
        depth_mm=tonight.depth_mm[inside],
        rate_mm_min=np.asarray(rate, dtype=float).ravel()[inside],
        water_l=water,
    )
    return scene, own


def _run_after(tonight: TonightWater, ground: Ground) -> pd.Series[float]:
    """Minutes of each head after the change: those of its station."""
    station = tonight.ground.heads["station"]
    by_station = tonight.run_min.groupby(station).max()
    run: pd.Series[float] = ground.heads["station"].map(by_station).astype(float).fillna(0.0)
    return run


def _changed(before: HeadPatterns, after: HeadPatterns) -> tuple[HeadPatterns, HeadPatterns]:
    """The patterns of the heads that differ alone: all that has to be laid anew."""
    ids = np.array(changed_heads(before, after), dtype=object)
    kept = (picked(one, np.flatnonzero(np.isin(one.ids, ids))) for one in (before, after))
    old, new = kept
    return old, new


def _pressures_after(tonight: TonightWater, head: str, change: HeadChange) -> pd.Series[float]:
    """Pressures of the solved pipes, but at a head whose pressure is the change."""
    if change.pressure_kpa is None or change.add:
        return tonight.changed_kpa
    return tonight.changed_kpa.drop(head, errors="ignore")


def try_change(course: Course, tonight: TonightWater, head: str, change: HeadChange) -> Tried:
    """What a change of one head does to the hole on which it waters; nothing is saved.

    Args:
        course: the course.
        tonight: the night's water.
        head: id of the head.
        change: what shall be different.

    Raises:
        NotFoundError: no such head.
        UserError: nothing would be different, or a value that may not stand.
    """
    operations = change_operations(course.kept, head, change)
    rules = EditRules(number_rules_from(course.settings.record.numbers), {})
    kept = apply_operations(course.kept, read_operations(operations), rules).ground
    ground = as_found(resolve_station_lists(kept)[0])
    hole, areas = _turf(course, head)
    scene, _ = _scene(tonight, areas)
    after = head_patterns(ground, _pressures_after(tonight, head, change))[0]
    later = _run_after(tonight, ground)
    minutes = (tonight.run_min, later)
    old, new = _changed(tonight.patterns, after)
    return Tried(tuple(operations), hole, areas, scene, what_if(scene, old, new, minutes))


def keep_change(
    course: Course,
    head: str,
    change: HeadChange,
    *,
    who: str,
    why: str,
    now: datetime,
    seen: Mapping[str, str] | None = None,
) -> SavedEdit:
    """Make a tried change part of the record, as any other edit: one revision with a reason.

    Args:
        course: the course.
        head: id of the head.
        change: what shall be different.
        who, why, now: for the history.
        seen: subject → digest as the person saw the head.

    Raises:
        EditConflictError: somebody changed the head meanwhile.
        UserError: nothing would change, or no reason is given.
    """
    operations = change_operations(course.kept, head, change)
    return save(course, operations, seen or {}, who=who, why=why, now=now)


def is_empty(change: HeadChange) -> bool:
    """Whether nothing is asked for."""
    return all(getattr(change, one.name) == one.default for one in fields(change))
