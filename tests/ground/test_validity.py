"""What a row of a table may be."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPoint, Point, Polygon

from nightwater.ground.columns import Kind
from nightwater.ground.tables import TABLES
from nightwater.ground.validity import missing_required, row_faults, value_fault

HEADS = TABLES["heads"]


def test_a_sound_row_has_no_fault() -> None:
    row = {"arc_deg": 90.0, "condition": "good", "evidence": None, "geometry": Point(1, 2)}
    assert row_faults(HEADS, row) == []


@pytest.mark.parametrize(
    ("table", "name", "value", "words"),
    [
        ("heads", "arc_deg", 9.99, "arc_deg is 9.99; it must lie between 10 and 360."),
        ("heads", "arc_deg", 360.1, "between 10 and 360"),
        ("heads", "arc_deg", float("inf"), "not a finite number"),
        ("heads", "condition", "Good", "none of good, low"),
        ("heads", "condition", "worm", "Did you mean 'worn'?"),
        ("stations", "output", -1, "between 0 and 100000"),
        ("meters", "calibrated_on", "14.7.2026", "not a date like 2026-07-14"),
        ("meters", "calibrated_on", "20260714", "not a date like 2026-07-14"),
        ("notes", "time", "2026-07-14T21:00:00", "not an instant"),
        ("notes", "time", "yesterday", "not an instant"),
    ],
)
def test_a_fault_names_the_column_the_value_and_the_limit(
    table: str, name: str, value: Any, words: str
) -> None:
    fault = value_fault(TABLES[table].by_name[name], value)
    assert fault is not None
    assert words in fault
    assert name in fault


@pytest.mark.parametrize("value", [10.0, 360.0, 90.5, None])
def test_bounds_belong_to_what_is_allowed(value: float | None) -> None:
    assert value_fault(HEADS.by_name["arc_deg"], value) is None


@pytest.mark.parametrize("value", ["2026-07-14T21:00:00Z", "2026-07-14T15:00:00-06:00"])
def test_instants_have_a_zone(value: str) -> None:
    assert value_fault(TABLES["notes"].by_name["time"], value) is None


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (MultiPoint([(0, 0)]), "is a MultiPoint, not a Point"),
        (Polygon([(0, 0), (1, 0), (0, 1)]), "is a Polygon, not a Point"),
        (Point(), "empty"),
        (Point(float("inf"), 0), "not finite"),
    ],
)
def test_a_shape_of_another_kind_is_a_fault(shape: Any, words: str) -> None:
    (fault,) = row_faults(HEADS, {"geometry": shape})
    assert words in fault


def test_a_missing_shape_is_not_judged_here() -> None:
    assert row_faults(HEADS, {"geometry": None}) == []


def test_every_fault_of_a_row_is_told() -> None:
    row = {
        "kind": "trunk",
        "hazen_williams_c": 900.0,
        "colour": "blue",
        "geometry": MultiLineString(),
    }
    faults = " ".join(row_faults(TABLES["pipes"], row))
    for words in ("colour is no column", "diameter_mm is missing", "kind is", "hazen", "empty"):
        assert words in faults


def test_required_columns() -> None:
    assert missing_required(TABLES["nozzles"], {"flow_l_s": 1.0}) == ("pressure_kpa", "radius_m")
    assert missing_required(HEADS, {}) == ()


numbers = [
    (table.name, column.name)
    for table in TABLES.values()
    for column in table.columns
    if column.kind is Kind.NUMBER
]


@given(st.sampled_from(numbers), st.floats(-1e9, 1e9))
def test_a_number_is_a_fault_exactly_outside_its_bounds(
    name: tuple[str, str], value: float
) -> None:
    column = TABLES[name[0]].by_name[name[1]]
    assert column.lowest is not None
    assert column.highest is not None
    inside = column.lowest <= value <= column.highest
    assert (value_fault(column, value) is None) is inside
