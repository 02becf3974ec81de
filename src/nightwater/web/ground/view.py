"""What the Ground page shows of the record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, NotFoundError
from nightwater.ground.columns import Column, Kind
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.units import UnitSystem
from nightwater.web.figures import Evidence, plain, quantity, text_or
from nightwater.web.places import Places, labels

MOST_FOUND: Final = 40
SEARCHED: Final = ("stations", "heads", "areas", "pipes", "valves", "controllers")
_SUFFIXES: Final = ("mm_h", "l_s", "m_s", "kpa", "mm", "m2", "m3", "m")


@dataclass(frozen=True)
class Fact:
    """One column of a row, as a person reads it."""

    name: str
    meaning: str
    shown: str
    evidence: Evidence
    link: str


@dataclass(frozen=True)
class Subject:
    """One row of the record."""

    subject: str
    table: str
    name: str
    label: str
    facts: tuple[Fact, ...]


def column_title(column: Column) -> str:
    """A column's name without its unit, in words."""
    name = column.name
    if column.kind is Kind.NUMBER:
        for suffix in (*_SUFFIXES, "deg", "pct", "s", "min"):
            name = name.removesuffix(f"_{suffix}") if name.endswith(f"_{suffix}") else name
    return name.replace("_", " ")


def _shown(column: Column, value: Any, units: UnitSystem) -> str:
    if value is None or pd.isna(value):
        return "–"
    if column.kind is not Kind.NUMBER:
        return text_or(value)
    for suffix in _SUFFIXES:
        if column.name.endswith(f"_{suffix}"):
            return quantity(float(value), suffix, units)
    unit = {"_deg": "°", "_pct": " %", "_min": " min", "_s": " s"}
    mark = next((text for end, text in unit.items() if column.name.endswith(end)), "")
    return f"{plain(float(value))}{mark}"


def _fact(column: Column, row: pd.Series[Any], units: UnitSystem) -> Fact:
    value = row[column.name]
    missing = value is None or pd.isna(value)
    guessed = row.get("evidence") == "guessed"
    known = Evidence.ASSUMED if guessed else Evidence.OBSERVED
    link = f"{column.refers_to}:{value}" if column.refers_to and not missing else ""
    return Fact(
        column_title(column),
        column.meaning,
        _shown(column, value, units),
        Evidence.MISSING if missing else known,
        link,
    )


def _worked_out(fact: Fact, name: str, places: Places) -> Fact:
    """The area that a head waters, where its row leaves that to geometry."""
    area = places.head_area.get(name)
    if fact.name != "area" or fact.evidence is not Evidence.MISSING or area is None:
        return fact
    shown = places.area_label[area]
    return replace(fact, shown=shown, evidence=Evidence.COMPUTED, link=f"areas:{area}")


def subject_of(ground: Ground, subject: str, units: UnitSystem, places: Places) -> Subject:
    """One row of the record with every column.

    Raises:
        NotFoundError: no such table or row.
    """
    table, _, name = subject.partition(":")
    if table not in GROUND_TABLES or name not in ground.table(table).index:
        raise NotFoundError(f"The record has no '{subject}'.")
    row = ground.table(table).loc[[name]].iloc[0]
    facts = tuple(_fact(column, row, units) for column in TABLES[table].columns)
    if table == "heads":
        facts = tuple(_worked_out(fact, name, places) for fact in facts)
    return Subject(subject, table, name, text_or(row.get("label"), name), facts)


def related(subject: Subject, places: Places) -> list[tuple[str, str]]:
    """Other rows that hang together with one, as subject and words."""
    if subject.table == "stations":
        return [(f"heads:{h}", f"head {h}") for h in places.station_heads.get(subject.name, [])]
    if subject.table == "areas":
        heads = [h for h, area in places.head_area.items() if area == subject.name]
        return [(f"heads:{h}", f"head {h}") for h in heads]
    return []


def search(ground: Ground, text: str) -> list[tuple[str, str]]:
    """Rows whose label or id holds a text, as subject and words."""
    wanted = text.strip().lower()
    found = [
        (f"{table}:{name}", f"{label} ({table})")
        for table in SEARCHED
        for name, label in labels(ground.table(table)).items()
        if wanted and (wanted in label.lower() or wanted in name.lower())
    ]
    return found[:MOST_FOUND]


def about(findings: Iterable[Finding], subject: str) -> list[Finding]:
    """The findings about one subject."""
    return [finding for finding in findings if finding.subject == subject]


def row_counts(ground: Ground) -> dict[str, int]:
    """How many rows each table of the record has."""
    return {name: len(ground.table(name)) for name in GROUND_TABLES if len(ground.table(name))}
