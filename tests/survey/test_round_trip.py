"""What one course file holds, another takes from it; and what a map program saved comes back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.columns import Column, Kind, Shape, Table
from nightwater.ground.record import ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store.course_file import CourseFile
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, read_table

CRS = "EPSG:32612"
NOW = datetime(2026, 7, 14, tzinfo=UTC)


def sample(column: Column, number: int) -> Any:
    """A sound value of any column, another for each number."""
    if column.choices:
        return column.choices[number % len(column.choices)]
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        assert column.lowest is not None
        assert column.highest is not None
        value = column.lowest + (column.highest - column.lowest) * (number + 1) / 7
        return float(value) if column.kind is Kind.NUMBER else int(value)
    if column.kind is Kind.YES_NO:
        return number % 2 == 0
    if column.kind is Kind.INSTANT:
        return f"2026-07-{number + 10}T21:00:00Z"
    return f"2026-07-{number + 10}" if column.kind is Kind.DATE else f"word {number}"


def shape(table: Table, number: int) -> Any:
    x, y = 413_000.0 + 40 * number, 4_340_000.0
    if table.shape is Shape.POINT:
        return Point(x, y)
    if table.shape is Shape.LINE:
        return MultiLineString([[(x, y), (x + 9, y + 3)]])
    return MultiPolygon([box(x, y, x + 20, y + 10)])


def whole_rows(table: Table, count: int = 3) -> Changes:
    changes = []
    for number in range(count):
        values = {column.name: sample(column, number) for column in table.columns}
        if table.shape is not None:
            values["geometry"] = shape(table, number)
        changes.append(RowChange(table.name, f"{table.name}-{number}", None, values))
    return Changes(tuple(changes))


@pytest.mark.parametrize("name", GROUND_TABLES)
def test_a_course_file_is_itself_a_survey(
    tmp_path: Path, write_course: Callable[[], Path], name: str
) -> None:
    table = TABLES[name]
    with CourseFile.open(write_course()) as file:
        file.accept(whole_rows(table), "Pilar", "survey", NOW)
        held = plain_rows(file.ground().table(name), table)
        survey = read_table(file.path, table, CRS, ReadOptions(layer=name))
    assert survey.findings == ()
    proposal = propose(ground_from(CRS, {}), table, survey)
    assert {key: change.after for key, change in proposal.added.items()} == held


@pytest.mark.parametrize("ending", [".csv", ".geojson", ".gpkg"])
@pytest.mark.parametrize("name", ["heads", "areas", "pipes", "valves"])
def test_what_is_written_by_a_map_program_changes_nothing(
    tmp_path: Path, write_course: Callable[[], Path], name: str, ending: str
) -> None:
    table = TABLES[name]
    with CourseFile.open(write_course()) as file:
        file.accept(whole_rows(table), "Pilar", "survey", NOW)
        ground = file.ground()
    layer = gpd.read_file(file.path, layer=name)
    path = tmp_path / f"copy{ending}"
    if ending == ".csv":
        text = layer.assign(wkt=layer.geometry.to_wkt(rounding_precision=-1))
        pd.DataFrame(text.drop(columns="geometry")).to_csv(path, index=False)
    else:
        layer.to_file(path)
    options = ReadOptions(crs=CRS if ending == ".csv" else None)
    survey = read_table(path, table, CRS, options)
    proposal = propose(ground, table, survey, complete=True)
    assert [finding.code for finding in survey.findings] == []
    assert len(to_changes(proposal, include_doubtful=True)) == 0


labels = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(
    lambda text: text.strip() == text and text.strip("-?") != ""
)
rows = st.lists(
    st.tuples(labels, st.integers(0, 100_000), st.floats(0, 60), st.integers(1, 600)),
    min_size=1,
    max_size=6,
)
NOTHING = {"n/a", "na", "nan", "null", "none"}


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    rows=rows,
    delimiter=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_any_table_survives_the_hands_of_a_spreadsheet(
    tmp_path: Path, rows: list[tuple[str, int, float, int]], delimiter: str, encoding: str
) -> None:
    names = ["label", "output", "flow_listed_l_s", "max_run_min"]
    frame = pd.DataFrame(rows, columns=names)
    frame.insert(0, "id", [f"S{number}" for number in range(len(rows))])
    path = tmp_path / "stations.csv"
    decimal = "," if delimiter == ";" else "."
    frame.to_csv(path, sep=delimiter, index=False, encoding=encoding, decimal=decimal)
    survey = read_table(path, TABLES["stations"], CRS, ReadOptions())
    assert survey.findings == ()
    for (label, *numbers), (_key, row) in zip(rows, survey.rows.iterrows(), strict=True):
        assert row["label"] == (None if label.lower() in NOTHING else label)
        assert row[names[1:]].tolist() == pytest.approx(numbers, rel=1e-12)
