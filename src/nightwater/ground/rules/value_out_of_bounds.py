"""Numbers outside the plausible bounds of their column."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from nightwater.findings import Finding, Severity
from nightwater.ground.columns import Column, Kind
from nightwater.ground.linked import Linked
from nightwater.ground.tables import GROUND_TABLES, TABLES

CODE: Final = "value-out-of-bounds"
SEVERITY: Final = Severity.WARNING
UNITS: Final = (
    ("_l_s_min", " L/s a minute"),
    ("_mm_m", " mm/m"),
    ("_mm_h", " mm/h"),
    ("_m_s", " m/s"),
    ("_l_s", " L/s"),
    ("_per_m3", " a cubic metre"),
    ("_kpa", " kPa"),
    ("_pct", " %"),
    ("_deg", "°"),
    ("_mm", " mm"),
    ("_m2", " m²"),
    ("_m3", " m³"),
    ("_min", " min"),
    ("_m", " m"),
    ("_s", " s"),
)


def _unit(name: str) -> str:
    """The unit at the end of a column's name, as people write it."""
    return next((unit for ending, unit in UNITS if name.endswith(ending)), "")


def _outside(linked: Linked, name: str, column: Column) -> Iterator[Finding]:
    rows = linked.ground.table(name)
    values = rows[column.name].to_numpy(dtype=float, na_value=np.nan)
    low = -np.inf if column.lowest is None else column.lowest
    high = np.inf if column.highest is None else column.highest
    unit = _unit(column.name)
    for place in np.flatnonzero((values < low) | (values > high)).tolist():
        identity = rows.index[place]
        yield Finding(
            SEVERITY,
            CODE,
            f"{name}:{identity}",
            f"{linked.name(name, identity)} in {name} has {column.name} {values[place]:g}{unit}, "
            f"outside {low:g} to {high:g}{unit}.",
            "Correct the value, or the unit that was declared when it was read.",
        )


def find(linked: Linked) -> Iterator[Finding]:
    """Each such number of each row."""
    for name in GROUND_TABLES:
        for column in TABLES[name].columns:
            if column.kind in (Kind.NUMBER, Kind.INTEGER):
                yield from _outside(linked, name, column)
