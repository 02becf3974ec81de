"""What is exported comes back as it was, in every format, for any record."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pandas as pd
import pyogrio
import pytest
import shapely
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, Polygon

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.columns import Column, Kind, Shape, Table
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey import read as reading
from nightwater.survey.csv_out import csv_files, zipped
from nightwater.survey.geojson_out import geojson_bytes
from nightwater.survey.geopackage_out import geopackage_bytes
from nightwater.survey.kml_out import kml_bytes
from nightwater.survey.long_shapes import with_joined_shapes
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, SurveyRows, read_table
from nightwater.survey.shapes import PLACED
from nightwater.survey.source_files import SourceRows
from nightwater.survey.workbook_out import workbook_bytes

MAKERS: dict[str, Callable[[Ground], bytes]] = {
    ".gpkg": geopackage_bytes,
    ".geojson": geojson_bytes,
    ".zip": lambda ground: zipped(csv_files(ground)),
    ".xlsx": workbook_bytes,
    ".kml": kml_bytes,
}
MISSING_WORDS = {"-", "--", "n/a", "na", "nan", "null", "none", "?"}
_SHOWN_BY_A_GLOBE = {
    "Name", "description", "timestamp", "begin", "end", "altitudeMode", "tessellate", "extrude",
    "visibility", "drawOrder", "icon", "id",
}  # fmt: skip
letters = st.characters(exclude_categories=["Cc", "Cs", "Cn"], include_characters="\n")
odd = st.sampled_from(
    ["007", "1234567890123", "1e5", "=7+1", "'quoted'", 'say "when"', "a,b;c\td", "två\nrader",
     "2026-07-14", "true", "grüner Abschlag", "Жёлтый", "+5", "@x", "<b>&amp;</b>", "]]>"]
)  # fmt: skip
texts = (odd | st.text(letters, min_size=1, max_size=9)).filter(
    lambda text: text.strip() == text != "" and text.lower() not in MISSING_WORDS
)
INSTANTS = st.datetimes(datetime(2000, 1, 1), datetime(2099, 1, 1)).map(
    lambda moment: f"{moment:%Y-%m-%dT%H:%M:%S}Z"
)
metres = st.integers(0, 90_000).map(lambda number: number / 997)  # apart, and no round numbers


def values(column: Column) -> st.SearchStrategy[Any]:
    """Any value that may stand in a column; None too unless it is required."""
    low, high = column.lowest, column.highest
    if column.choices:
        found: st.SearchStrategy[Any] = st.sampled_from(column.choices)
    elif column.kind is Kind.NUMBER:
        found = st.floats(low, high, allow_subnormal=False)
    elif column.kind is Kind.INTEGER:
        assert low is not None
        assert high is not None
        found = st.integers(int(low), int(high))
    elif column.kind is Kind.YES_NO:
        found = st.booleans()
    else:
        found = st.dates().map(str) if column.kind is Kind.DATE else texts
        if column.kind is Kind.INSTANT:
            found = INSTANTS
    return found if column.required else st.none() | found


@st.composite
def polygons(draw: Callable[..., Any], x: float, y: float) -> Polygon:
    """An outline seen whole from its middle, with or without a hole."""
    radii = draw(st.lists(st.floats(10, 40), min_size=4, max_size=7))
    turn = math.tau / len(radii)
    outline = [(r * math.cos(i * turn), r * math.sin(i * turn)) for i, r in enumerate(radii)]
    hole = [[(x + a / 5, y + b / 5) for a, b in outline]] if draw(st.booleans()) else []
    return Polygon([(x + a, y + b) for a, b in outline], hole)


@st.composite
def shapes(draw: Callable[..., Any], shape: Shape, origin: tuple[float, float]) -> Any:
    """Any shape of a kind near a place; lines and areas in one to three parts."""
    x, y = origin[0] + draw(metres), origin[1] + draw(metres)
    if shape is Shape.POINT:
        return Point(x, y)
    parts = range(draw(st.integers(1, 3)))
    if shape is Shape.POLYGON:
        return MultiPolygon([draw(polygons(x + 100 * part, y)) for part in parts])
    lines = st.lists(st.tuples(metres, metres), min_size=2, max_size=5, unique=True)
    return MultiLineString([[(x + a, y + b) for a, b in draw(lines)] for _ in parts])


@st.composite
def frames(draw: Callable[..., Any], table: Table, origin: tuple[float, float]) -> pd.DataFrame:
    """Up to three rows of a table."""
    ids = draw(st.lists(texts, min_size=1, max_size=3, unique=True))
    rows = []
    for _ in ids:
        row = {column.name: draw(values(column)) for column in table.columns}
        if table.shape is not None:
            placed = shapes(table.shape, origin)
            row["geometry"] = draw(placed if table.name in PLACED else st.none() | placed)
        rows.append(row)
    return pd.DataFrame(rows, index=pd.Index(ids, dtype=object), dtype=object)


@st.composite
def grounds(
    draw: Callable[..., Any],
    crs: str = "EPSG:32612",
    origin: tuple[float, float] = (413_000.0, 4_340_000.0),
) -> Ground:
    """Any record of two tables, every column, with gaps."""
    names = draw(st.lists(st.sampled_from(GROUND_TABLES), min_size=2, max_size=2, unique=True))
    return ground_from(crs, {name: draw(frames(TABLES[name], origin)) for name in names})


def _workbook(path: Path, layer: str) -> SourceRows:
    sheet = openpyxl.load_workbook(path)[layer]
    header, *rows = [list(row) for row in sheet.iter_rows(values_only=True)]
    width = len(header)
    full = [[*row, *[None] * width][:width] for row in rows]
    cells = with_joined_shapes(pd.DataFrame(full, columns=header, dtype=object))
    found = reading.read_source.__globals__["_text_shapes"](cells, decimal_comma=False)
    return SourceRows(cells, tuple(map(str, range(len(rows)))), found[0], None, False, ())


def _globe(path: Path, layer: str) -> SourceRows:
    frame = pyogrio.read_dataframe(path, layer=layer)
    cells = pd.DataFrame(frame.drop(columns=[*_SHOWN_BY_A_GLOBE & {*frame}, "geometry"]))
    places = tuple(map(str, range(len(frame))))
    found = cells.astype(object)
    return SourceRows(found, places, tuple(frame.geometry), "EPSG:4326", False, ())


def read_back(path: Path, table: Table, crs: str, patch: pytest.MonkeyPatch) -> SurveyRows:
    """An exported table as a survey; formats that are not read here by their libraries."""
    ending = path.suffix
    options = ReadOptions(layer=table.name, crs=crs if ending == ".xlsx" and table.shape else None)
    try:
        return read_table(path, table, crs, options)
    except UserError as refusal:
        if "are not read" not in str(refusal):
            raise
    stand_in = {".xlsx": _workbook, ".kml": _globe}[ending](path, table.name)
    with patch.context() as patched:
        patched.setattr(reading, "read_source", lambda *_: stand_in)
        return read_table(path, table, crs, options)


POSITION_M = {".kml": 1e-6, ".xlsx": 0.0}  # KML turns metres into degrees and back
DIGITS = {".xlsx": 1e-14}  # a sheet shows, and readers take, 15 digits
EXAMPLES = settings(
    max_examples=40,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],  # making a record small takes minutes
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def filled(ground: Ground) -> list[str]:
    return [name for name in GROUND_TABLES if len(ground.table(name))]


def written(ground: Ground, ending: str, folder: Path) -> Path:
    path = folder / f"record{ending}"
    path.write_bytes(MAKERS[ending](ground))
    return path


def assert_same_rows(found: Any, held: Any, name: str, ending: str) -> None:
    assert list(found) == list(held)
    kinds = TABLES[name].by_name
    for key, row in held.items():
        for column, value in row.items():
            back = found[key][column]
            if column == GEOMETRY and value is not None:
                assert shapely.equals_exact(back, value, POSITION_M.get(ending, 0.0)), key
            elif column != GEOMETRY and kinds[column].kind is Kind.NUMBER and value is not None:
                assert back == pytest.approx(value, rel=DIGITS.get(ending, 0.0), abs=0.0)
            else:
                assert back == value, (key, column)
                assert type(back) is type(value)


@pytest.mark.parametrize("ending", list(MAKERS))
@EXAMPLES
@given(data=st.data())
def test_any_record_comes_back_as_it_was(ending: str, data: st.DataObject) -> None:
    ground = data.draw(grounds())
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = written(ground, ending, Path(folder))
        for name in filled(ground):
            table = TABLES[name]
            rows = read_back(path, table, ground.crs, patch)
            again = propose(ground, table, rows, complete=True)
            assert again.findings == ()
            assert len(to_changes(again, include_doubtful=True)) == 0
            fresh = propose(ground_from(ground.crs, {}), table, rows)
            added = {**fresh.added, **fresh.doubtful}
            found = {key: added[key].after for key in rows.rows.index}
            assert_same_rows(found, plain_rows(ground.table(name), table), name, ending)
            assert fresh.changed == {}


@pytest.mark.parametrize("ending", list(MAKERS))
def test_an_empty_record_has_every_table_and_no_row(
    ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(ground_from("EPSG:32612", {}), ending, tmp_path)
    for name in GROUND_TABLES:
        rows = read_back(path, TABLES[name], "EPSG:32612", monkeypatch)
        assert len(rows.rows) == 0
        assert rows.findings == ()


@pytest.mark.parametrize(
    ("crs", "origin"),
    [
        ("EPSG:26912", (413_000.0, 4_340_000.0)),  # NAD83
        ("EPSG:25832", (600_000.0, 5_400_000.0)),  # ETRS89
        ("EPSG:27700", (340_000.0, 720_000.0)),  # OSGB36, a datum of its own
        ("EPSG:2056", (2_600_000.0, 1_200_000.0)),  # CH1903+
        ("EPSG:28992", (155_000.0, 463_000.0)),  # Amersfoort, seven-parameter shift
        ("EPSG:32760", (413_000.0, 5_140_000.0)),  # southern
    ],
)
@settings(EXAMPLES, max_examples=5)
@given(data=st.data())
def test_degrees_lead_back_to_the_same_metres(
    crs: str, origin: tuple[float, float], data: st.DataObject
) -> None:
    ground = data.draw(grounds(crs, origin))
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = written(ground, ".kml", Path(folder))
        for name in filled(ground):
            rows = read_back(path, TABLES[name], crs, patch)
            proposal = propose(ground, TABLES[name], rows, complete=True)
            assert len(to_changes(proposal, include_doubtful=True)) == 0
