"""Doubts about single values: missing, out of bounds, leading nowhere, twice, far away."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, error, note, warning
from nightwater.ground.columns import Column, Kind
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES

FAR_M: Final = 3000.0  # no course reaches this far from its middle
_LABELLED: Final = ("areas", "heads", "stations", "controllers", "nozzles", "holes", "pumps")


def _unit(name: str) -> str:
    """The unit at the end of a column's name, as people write it."""
    for suffix, unit in (
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
    ):
        if name.endswith(suffix):
            return unit
    return ""


def missing_values(linked: Linked) -> Iterator[Finding]:
    """Required columns without a value, and rows without their geometry."""
    for name in GROUND_TABLES:
        rows, table = linked.ground.table(name), TABLES[name]
        for column in table.columns:
            if not column.required:
                continue
            for identity in rows.index[rows[column.name].isna()]:
                yield error(
                    "value-missing",
                    f"{name}:{identity}",
                    f"{linked.name(name, identity)} in {name} has no {column.name}.",
                    f"Enter it; it means: {column.meaning}",
                )


def _bounds(name: str, column: Column, rows: pd.DataFrame, linked: Linked) -> Iterator[Finding]:
    values = rows[[column.name]].astype("float64").rename(columns={column.name: "value"})
    low = -np.inf if column.lowest is None else column.lowest
    high = np.inf if column.highest is None else column.highest
    unit = _unit(column.name)
    outside = (values["value"] < low) | (values["value"] > high)
    for identity, row in rows_where(values, outside):
        yield warning(
            "value-out-of-bounds",
            f"{name}:{identity}",
            f"{linked.name(name, identity)} in {name} has {column.name} {row['value']:g}{unit}, "
            f"outside {low:g} to {high:g}{unit}.",
            "Correct the value, or the unit that was declared when it was read.",
        )


def values_out_of_bounds(linked: Linked) -> Iterator[Finding]:
    """Numbers outside the plausible bounds of their column."""
    for name in GROUND_TABLES:
        for column in TABLES[name].columns:
            if column.kind in (Kind.NUMBER, Kind.INTEGER):
                yield from _bounds(name, column, linked.ground.table(name), linked)


def unknown_links(linked: Linked) -> Iterator[Finding]:
    """Values that name a row of another table that is not there."""
    for name in GROUND_TABLES:
        rows = linked.ground.table(name)
        for column in TABLES[name].columns:
            if column.refers_to is None:
                continue
            known = linked.ground.table(column.refers_to).index
            lost = rows[column.name].notna() & ~rows[column.name].isin(known)
            for identity, value in rows[column.name][lost].items():
                near = get_close_matches(str(value), [str(key) for key in known], 1)
                hint = f" Did you mean '{near[0]}'?" if near else ""
                yield error(
                    "unknown-link",
                    f"{name}:{identity}",
                    f"{linked.name(name, identity)} in {name} names {column.name} '{value}', "
                    f"which is not in {column.refers_to}.",
                    f"Correct it, or survey {column.refers_to} first.{hint}",
                )


def ids_twice(linked: Linked) -> Iterator[Finding]:
    """Ids that more than one row carries."""
    for name in GROUND_TABLES:
        rows = linked.ground.table(name)
        for identity in rows.index[rows.index.duplicated()].unique():
            yield error(
                "id-twice",
                f"{name}:{identity}",
                f"The id {identity} stands {int((rows.index == identity).sum())} times in {name}.",
                "Give each row its own id; an id is never used twice.",
            )


def labels_twice(linked: Linked) -> Iterator[Finding]:
    """Labels that more than one row of a table carries, whatever their case."""
    for name in _LABELLED:
        yield from _labels_twice(name, linked.ground.table(name))


def _labels_twice(name: str, rows: pd.DataFrame) -> Iterator[Finding]:
    plain = rows["label"].dropna().map(lambda label: str(label).strip().casefold())
    for label, owners in plain[plain.duplicated(keep=False)].groupby(plain):
        first, *others = (str(identity) for identity in owners.index)
        yield warning(
            "label-twice",
            f"{name}:{first}",
            f"{len(owners)} rows of {name} are called '{label}': {', '.join([first, *others])}.",
            "Look at the tags on the ground and rename all but one.",
        )


def _bounding(ground: Ground) -> dict[str, pd.DataFrame]:
    """Middle of every geometry, by table."""
    found = {}
    for name in GROUND_TABLES:
        if TABLES[name].shape is None:
            continue
        rows: Any = ground.table(name)
        shapes = np.asarray(rows.geometry, dtype=object)
        there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
        low_x, low_y, high_x, high_y = shapely.bounds(shapes[there]).T
        middle = {"x": (low_x + high_x) / 2, "y": (low_y + high_y) / 2}
        found[name] = pd.DataFrame(middle, index=rows.index[there])
    return found


def far_from_course(linked: Linked) -> Iterator[Finding]:
    """Geometry far outside everything else: a wrong coordinate system, or swapped numbers."""
    middles = _bounding(linked.ground)
    everything = pd.concat(middles.values())
    if everything.empty:
        return
    centre = everything.median()
    for name, places in middles.items():
        away = np.hypot(places["x"] - centre["x"], places["y"] - centre["y"])
        for identity, distance in away[~(away <= FAR_M)].items():
            yield warning(
                "far-from-course",
                f"{name}:{identity}",
                f"{linked.name(name, identity)} in {name} lies {distance / 1000:,.1f} km from the "
                "middle of the course.",
                "Check its coordinate system and the order of its coordinates, or remove it.",
            )


def without_geometry(linked: Linked) -> Iterator[Finding]:
    """Rows of a mapped table that stand nowhere, and outlines that cross themselves."""
    for name in GROUND_TABLES:
        if TABLES[name].shape is None:
            continue
        rows: Any = linked.ground.table(name)
        shapes = np.asarray(rows.geometry, dtype=object)
        lost = shapely.is_missing(shapes) | shapely.is_empty(shapes)
        for identity in rows.index[lost]:
            yield warning(
                "without-geometry",
                f"{name}:{identity}",
                f"{linked.name(name, identity)} in {name} has no place on the map.",
                "Survey it; until then no area or pipe can be found for it.",
            )
        for identity in rows.index[~lost & ~shapely.is_valid(shapes)]:
            yield note(
                "broken-outline",
                f"{name}:{identity}",
                f"The outline of {linked.name(name, identity)} in {name} crosses itself.",
                "Redraw it; until then it is mended by the usual even-odd rule.",
            )
