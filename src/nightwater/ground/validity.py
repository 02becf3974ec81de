"""What a value of a column may be: required, choices, bounds, kind."""

from __future__ import annotations

import math
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any

from nightwater.ground.changes import GEOMETRY, Values
from nightwater.ground.columns import Column, Kind, Table


def _not_a_date(value: str) -> bool:
    try:
        date.fromisoformat(value)
    except ValueError:
        return True
    return len(value) != len("2026-07-14")


def _not_an_instant(value: str) -> bool:
    try:
        return datetime.fromisoformat(value).tzinfo is None
    except ValueError:
        return True


def _outside(column: Column, value: float) -> bool:
    below = column.lowest is not None and value < column.lowest
    return below or (column.highest is not None and value > column.highest)


def _choice_fault(column: Column, value: str) -> str | None:
    if not column.choices or value in column.choices:
        return None
    near = get_close_matches(value.lower(), column.choices, 1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    return f"{column.name} is '{value}', which is none of {', '.join(column.choices)}.{hint}"


def _number_fault(column: Column, value: float) -> str | None:
    if not math.isfinite(value):
        return f"{column.name} is {value}, which is not a finite number."
    if _outside(column, value):
        return f"{column.name} is {value:g}; it must lie between {_bounds(column)}."
    return None


def _bounds(column: Column) -> str:
    lowest = "any" if column.lowest is None else f"{column.lowest:g}"
    highest = "any" if column.highest is None else f"{column.highest:g}"
    return f"{lowest} and {highest}"


def value_fault(column: Column, value: Any) -> str | None:
    """Why a present value may not stand in its column, as one sentence; None when it may.

    Args:
        column: the declaration.
        value: a plain value (see `plain_value`); None is for `missing_required`.
    """
    if value is None:
        return None
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        return _number_fault(column, value)
    if column.kind is Kind.DATE and _not_a_date(value):
        return f"{column.name} is '{value}', which is not a date like 2026-07-14."
    if column.kind is Kind.INSTANT and _not_an_instant(value):
        return f"{column.name} is '{value}', which is not an instant like 2026-07-14T21:00:00Z."
    return _choice_fault(column, value) if column.kind is Kind.TEXT else None


def missing_required(table: Table, values: Values) -> tuple[str, ...]:
    """Names of the required columns that a row leaves empty."""
    return tuple(c.name for c in table.columns if c.required and values.get(c.name) is None)


def geometry_fault(table: Table, values: Values) -> str | None:
    """Why a row's geometry cannot stand in its table; None when it can, or is missing."""
    geometry = values.get(GEOMETRY)
    if table.shape is None or geometry is None:
        return None
    if geometry.geom_type != table.shape.value:
        return f"its geometry is a {geometry.geom_type}, not a {table.shape.value}."
    if geometry.is_empty or not all(map(math.isfinite, geometry.bounds)):
        return "its geometry is empty or not finite."
    return None


def row_faults(table: Table, values: Values) -> list[str]:
    """Every reason why a whole row may not stand in its table; empty when it may."""
    known = table.by_name
    unknown = [f"{name} is no column." for name in values if name not in {*known, GEOMETRY}]
    missing = [f"{name} is missing." for name in missing_required(table, values)]
    found = [value_fault(column, values.get(name)) for name, column in known.items()]
    return [*unknown, *missing, *filter(None, [*found, geometry_fault(table, values)])]
