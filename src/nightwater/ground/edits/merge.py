"""Merge areas, or pipes, into one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY, Values
from nightwater.ground.columns import Shape
from nightwater.ground.edits.geometry import mended, shaped
from nightwater.ground.edits.remove import leaning
from nightwater.ground.edits.rows import (
    listed,
    rows_of,
    with_values,
    without_rows,
)
from nightwater.ground.record import Ground

MERGED_TABLES: Final = ("areas", "pipes")
ALIKE: Final[Mapping[str, tuple[str, ...]]] = {
    "areas": ("kind",),
    "pipes": ("kind", "diameter_mm"),
}
_SAID: Final[Mapping[str, str]] = {"kind": "kinds", "diameter_mm": "diameters"}


def _check_alike(table: str, rows: Mapping[str, Values]) -> None:
    for column in ALIKE[table]:
        values = list(dict.fromkeys(row[column] for row in rows.values()))
        if len(values) > 1:
            told = ", ".join("none" if value is None else f"{value}" for value in values)
            raise UserError(f"Their {_SAID[column]} differ: {told}. Make them alike first.")


def _joined_areas(shapes: list[BaseGeometry]) -> BaseGeometry:
    return shaped(shapely.union_all([mended(shape) for shape in shapes]), Shape.POLYGON)


def _joined_pipes(shapes: list[BaseGeometry]) -> BaseGeometry:
    """Lines end to end; every one must meet the others."""
    reached, waiting = shapes[0], list(shapes[1:])
    while waiting:
        meeting = [shape for shape in waiting if shapely.intersects(shape, reached)]
        if not meeting:
            raise UserError("The pipes do not meet. Draw their ends onto each other first.")
        waiting = [shape for shape in waiting if not shapely.intersects(shape, reached)]
        reached = shapely.union_all([reached, *meeting])
    parts = shapely.get_parts(shapes).tolist()
    return shaped(shapely.line_merge(shapely.multilinestrings(parts)), Shape.LINE)


def _summed_m2(rows: Mapping[str, Values]) -> float | None:
    known = [row["wetted_m2"] for row in rows.values()]
    return None if None in known else float(sum(known))


def _renamed(ground: Ground, table: str, gone: list[str], name: str) -> Ground:
    """The ground with everything that names a row which goes naming the one that stays."""
    changed: dict[str, dict[str, dict[str, Any]]] = {}
    for subject, column in leaning(ground, table, gone):
        owner, _, identity = subject.partition(":")
        changed.setdefault(owner, {}).setdefault(identity, {})[column] = name
    for owner, rows in changed.items():
        ground = with_values(ground, owner, rows)
    return ground


def merge(ground: Ground, table: str, ids: Sequence[str]) -> Ground:
    """The ground with several rows made one: the first keeps id and values, the others go.

    Areas must be of one kind, pipes of one kind and diameter and end to end. The
    declared wetted ground of areas adds up where each has one. Rows that named one that goes
    name the one that stays.

    Raises:
        UserError: fewer than two, unlike, apart, or without a place on the map.
    """
    if table not in MERGED_TABLES:
        raise UserError(f"{table} cannot be merged; {' and '.join(MERGED_TABLES)} can.")
    rows = rows_of(ground, table, ids)
    if len(rows) < 2:
        raise UserError(f"Merging takes two {table} or more.")
    nowhere = [identity for identity, row in rows.items() if row[GEOMETRY] is None]
    if nowhere:
        raise UserError(f"{listed(nowhere)} have no place on the map yet. Draw them first.")
    _check_alike(table, rows)
    join = _joined_areas if table == "areas" else _joined_pipes
    first, *gone = rows
    whole: dict[str, Any] = {GEOMETRY: join([row[GEOMETRY] for row in rows.values()])}
    if table == "areas":
        whole["wetted_m2"] = _summed_m2(rows)
    ground = _renamed(without_rows(ground, table, gone), table, gone, first)
    return with_values(ground, table, {first: whole})
