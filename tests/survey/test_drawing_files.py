"""Real drawings that nobody here wrote: what each gives for points, lines and ground.

Counts of entities are of the files as they stand, by the drawing library; counts of outlines are
regression values, looked at on a plot (no source).
"""

from __future__ import annotations

import math
import os
from collections import Counter
from pathlib import Path

import ezdxf
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.drawing import DrawingWish, drawing_layers, read_drawing
from nightwater.survey.read import ReadOptions, read_table

FOLDER = os.environ.get("NIGHTWATER_DATA")
pytestmark = pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
DATA = Path(FOLDER or ".") / "cad_gis"
CRS = "EPSG:32612"
TABLE = {"points": "heads", "lines": "pipes", "ground": "areas"}

# file → unit that must be said, then rows by kind of shape; None: refused, since nothing fits
EXPECTED = {
    "1_polylines.dxf": (None, 9, 74, 8),
    "6_closed_loop_with_arcs.dxf": (None, None, 11, 1),
    "ASCII_R12.dxf": ("m", 1, 2, None),
    "Leica_Disto_S910.dxf": ("m", 11, 10, None),
    "bin_dxf_r12.dxf": ("m", None, 3, None),
    "circle_radius_le_0.dxf": (None, 0, None, 0),
    "clockwise_arcs_hatch.dxf": (None, None, None, 1),
    "custom_blocks.dxf": (None, 4, 4, 8),
    "dxf_unicode.dxf": (None, None, None, None),
    "hatches_2.dxf": (None, 2, 7, 2),
    "houses_of_parliament_georeferenced.dxf": (None, None, 1, 1),
    "multi_insert_with_attribs.dxf": (None, 25, None, None),
    "recover01.dxf": ("m", 18, 1423, 92),  # 45 of its 63 texts say nothing
}
CASES = [
    (name, unit, want, rows)
    for name, (unit, *counts) in EXPECTED.items()
    for want, rows in zip(TABLE, counts, strict=True)
]


def rows_of(name, want, unit):
    wish = DrawingWish(TABLES[TABLE[want]], unit=unit, crs=CRS)
    return read_drawing(DATA / name, wish)


def test_every_drawing_of_the_folder_is_expected():
    assert {path.name for path in DATA.glob("*.dxf")} == set(EXPECTED)


@pytest.mark.parametrize(("name", "unit", "want", "rows"), CASES)
def test_each_drawing_gives_its_rows_or_a_sentence(name, unit, want, rows):
    if rows is None:
        with pytest.raises(UserError, match=rf"{name} holds (no {'|no '.join(WORDS)}|nothing)"):
            rows_of(name, want, unit)
        return
    found = rows_of(name, want, unit)
    assert len(found.cells) == len(found.places) == len(found.shapes) == rows
    family = {"points": "Point", "lines": "LineString", "ground": "Polygon"}[want]
    assert {shape.geom_type for shape in found.shapes} <= {family, f"Multi{family}"}
    assert all(finding.fix for finding in found.findings)


WORDS = ("points", "lines", "outlines")


@pytest.mark.parametrize("name", [name for name, (unit, *_) in EXPECTED.items() if unit])
def test_drawings_without_a_unit_ask_for_it(name):
    with pytest.raises(UserError, match=f"{name} does not say the unit.*--drawing-unit"):
        rows_of(name, "lines", None)


@pytest.mark.parametrize("name", sorted(set(EXPECTED) - {"dxf_unicode.dxf"}))
@pytest.mark.parametrize("table", ["heads", "pipes", "areas"])
def test_each_goes_through_the_whole_reading(name, table):
    fixed = {"pipes": {"diameter_mm": "50"}, "areas": {"kind": "green"}}.get(table, {})
    declared = "georeferenced" in name
    options = ReadOptions(crs=None if declared else CRS, fixed=fixed, drawing_unit="m")
    if declared:
        options = ReadOptions(fixed=fixed)
    try:
        survey = read_table(DATA / name, TABLES[table], CRS, options)
    except UserError as sentence:
        assert name in str(sentence)  # noqa: PT017
        return
    assert shapely.is_valid(survey.rows.geometry.to_numpy()).all()


@pytest.mark.parametrize(
    "name", sorted(set(EXPECTED) - {"recover01.dxf", "multi_insert_with_attribs.dxf"})
)
def test_layers_are_counted_as_the_library_counts_them(name):
    document = ezdxf.readfile(DATA / name)
    counted = Counter(entity.dxftype() for entity in document.modelspace())
    shown = Counter[str]()
    for _layer, kind, number in drawing_layers(DATA / name):
        shown[kind] += number
    assert shown == counted


def test_the_broken_one_keeps_its_lines_and_texts():
    """1,441 lines and 63 texts are in the file; 18 of the lines go nowhere."""
    assert drawing_layers(DATA / "recover01.dxf") == [("0", "LINE", 1441), ("0", "TEXT", 63)]
    found = rows_of("recover01.dxf", "lines", "m")
    codes = [finding.code for finding in found.findings]
    assert codes == ["drawing-recovered", "entities-left-aside"]
    assert "18 LINE without length" in found.findings[1].message


def test_one_grid_is_twenty_five_heads_with_their_attributes():
    found = rows_of("multi_insert_with_attribs.dxf", "points", None)
    (insert,) = ezdxf.readfile(DATA / "multi_insert_with_attribs.dxf").modelspace()
    grid = insert.dxf
    assert grid.row_count * grid.column_count == 25
    spots = {tuple(round(v, 6) for v in shape.coords[0][:2]) for shape in found.shapes}
    assert len(spots) == 25
    far = math.dist(min(spots), max(spots))
    assert far == pytest.approx(math.hypot(4 * grid.row_spacing, 4 * grid.column_spacing))
    assert {"NAME", "XPOS", "YPOS"} <= set(found.cells.columns)
    assert found.cells["NAME"].notna().all()


def test_points_of_a_real_instrument_get_their_numbers():
    """Eleven points, each with a text at its place, measured in 3D."""
    found = rows_of("Leica_Disto_S910.dxf", "points", "m")
    assert found.cells["label_text"].notna().all()
    assert found.cells["label_text"].is_unique
    assert any(shapely.has_z(shape) for shape in found.shapes)


def test_the_place_on_the_map_is_where_the_building_stands():
    """The palace stands at 51.4995° N, 0.1248° W and covers some 3 ha (public knowledge)."""
    path = DATA / "houses_of_parliament_georeferenced.dxf"
    survey = read_table(path, TABLES["areas"], "EPSG:27700", ReadOptions(fixed={"kind": "grounds"}))
    (row,) = survey.rows.geometry
    place = survey.rows.to_crs("EPSG:4326").geometry.iloc[0].centroid
    assert (place.y, place.x) == (
        pytest.approx(51.4995, abs=0.001),
        pytest.approx(-0.1248, abs=0.002),
    )
    assert row.area == pytest.approx(30_000, rel=0.35)


def test_a_loop_of_lines_and_arcs_that_crosses_itself_is_named_not_guessed():
    path = DATA / "6_closed_loop_with_arcs.dxf"
    survey = read_table(path, TABLES["areas"], CRS, ReadOptions(crs=CRS, fixed={"kind": "green"}))
    assert len(survey.rows) == 0
    assert any("self-intersection" in finding.message for finding in survey.findings)


def test_names_in_other_alphabets_are_read():
    assert drawing_layers(DATA / "ASCII_R12.dxf")[0][0] == "ΛΑΓΕΡÄÜÖ"


def test_hatches_that_fill_their_outlines_are_left_aside():
    codes = [finding.code for finding in rows_of("hatches_2.dxf", "ground", None).findings]
    assert codes == ["outlines-closed", "outline-twice"]
