"""The record as a drawing and back: any row of any table, and what somebody changed in between."""

from __future__ import annotations

import string

import ezdxf
import geopandas as gpd
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, Polygon, box

from nightwater.findings import UserError
from nightwater.ground.changes import plain_rows
from nightwater.ground.columns import Column, Kind, Shape
from nightwater.ground.record import conform, ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.drawing import drawing_layers
from nightwater.survey.drawing_marks import APPLICATION, Mark, as_attribute, mark_of, write_mark
from nightwater.survey.drawing_out import block_name, layer_name, write_drawing
from nightwater.survey.read import ReadOptions, read_table

CRS = "EPSG:32612"
SHAPED = [name for name in GROUND_TABLES if TABLES[name].shape is not None]
# What the readers of every kind of file take for "nothing is known", or strip, is not text.
NOTHING = {"-", "--", "n/a", "na", "nan", "null", "none", "?"}
words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=60).filter(
    lambda text: text.strip() == text and text.lower() not in NOTHING and "\\" not in text
)
ids = st.text(string.ascii_letters + string.digits + "-_.", min_size=1, max_size=12).filter(
    lambda text: text not in NOTHING and text.lower() not in NOTHING
)
spots = st.tuples(st.floats(4e5, 4.2e5), st.floats(4.33e6, 4.35e6))


def values(column: Column) -> st.SearchStrategy[object]:
    """A sound value of a column, or nothing where it may be missing."""
    if column.choices:
        some: st.SearchStrategy[object] = st.sampled_from(column.choices)
    elif column.kind is Kind.NUMBER:
        # Numbers a rounding error inside a bound are taken for the bound by every reader.
        low, high = float(column.lowest or 0), float(column.highest or 0)
        some = st.floats(low, high).filter(lambda v: float(f"{v:.12g}") not in (low, high))
    elif column.kind is Kind.INTEGER:
        some = st.integers(int(column.lowest or 0), int(column.highest or 0))
    elif column.kind is Kind.YES_NO:
        some = st.booleans()
    elif column.kind is Kind.DATE:
        some = st.dates().map(str)
    else:
        some = words
    return some if column.required else st.none() | some


def holed(spot: tuple[float, float], sizes: list[float]) -> MultiPolygon:
    """Squares side by side, each with a hole."""
    x, y = spot
    parts = []
    for number, size in enumerate(sizes):
        outer = box(x + 1000 * number, y, x + 1000 * number + size, y + size)
        hole = box(
            x + 1000 * number + size / 4, y + size / 4, x + 1000 * number + size / 2, y + size / 2
        )
        parts.append(Polygon(outer.exterior, [hole.exterior]))
    return MultiPolygon(parts)


SHAPES = {
    Shape.POINT: spots.map(Point),
    Shape.LINE: st.lists(
        st.lists(spots, min_size=2, max_size=5, unique=True), min_size=1, max_size=3
    ).map(MultiLineString),
    Shape.POLYGON: st.builds(holed, spots, st.lists(st.floats(1, 500), min_size=1, max_size=3)),
}


@st.composite
def grounds(draw, name):
    """A ground with one table filled."""
    table = TABLES[name]
    keys = draw(st.lists(ids, min_size=1, max_size=3, unique=True))
    rows = {key: {c.name: draw(values(c)) for c in table.columns} for key in keys}
    shapes = [draw(SHAPES[table.shape]) for _ in keys]
    index = pd.Index(keys, name="id", dtype=object)
    frame = pd.DataFrame.from_dict(rows, orient="index", dtype=object).set_index(index)
    return ground_from(CRS, {name: gpd.GeoDataFrame(frame, geometry=shapes, crs=CRS)})


def back(path, ground, name, **said):
    survey = read_table(path, TABLES[name], ground.crs, ReadOptions(**said))
    return survey, plain_rows(conform(survey.rows, TABLES[name], ground.crs), TABLES[name])


@pytest.mark.parametrize("name", SHAPED)
@settings(
    max_examples=8,
    deadline=None,
    derandomize=True,
    phases=[Phase.explicit, Phase.generate],  # a drawing takes too long to shrink one
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_importing_an_export_gives_an_identical_record(tmp_path, name, data):
    ground = data.draw(grounds(name))
    path = tmp_path / "out.dxf"
    assert write_drawing(ground, path) == ()
    survey, rows = back(path, ground, name)
    assert survey.findings == ()
    assert unlike(rows, plain_rows(ground.table(name), TABLES[name])) == []


def unlike(rows, others):
    """Where two tables differ: row, column and both values."""
    assert list(rows) == list(others)
    return [
        (key, name, value, rows[key][name])
        for key, row in others.items()
        for name, value in row.items()
        if rows[key][name] != value
    ]


def small_ground(crs=CRS):
    heads = gpd.GeoDataFrame(
        {"label": ["7-1", None], "arc_deg": [180.0, None], "station": ["S1", "S1"]},
        index=pd.Index(["H1", "H2"], name="id"),
        geometry=[Point(413_000.1, 4_340_000.2), Point(413_020, 4_340_000)],
        crs=crs,
    )
    areas = gpd.GeoDataFrame(
        {"kind": ["green", "rough"]},
        index=pd.Index(["G7", "R7"], name="id"),
        geometry=[holed((413_000, 4_340_000), [20.0]), holed((413_500, 4_340_000), [50.0, 60.0])],
        crs=crs,
    )
    valves = gpd.GeoDataFrame(
        {"kind": ["drain"], "open": [False]},
        index=pd.Index(["V1"], name="id"),
        geometry=[Point(413_005, 4_340_000)],
        crs=crs,
    )
    return ground_from(crs, {"heads": heads, "areas": areas, "valves": valves})


@pytest.fixture
def exported(tmp_path):
    path = tmp_path / "out.dxf"
    write_drawing(small_ground(), path)
    return path


def edited(path, edit):
    document = ezdxf.readfile(path)
    edit(document.modelspace())
    document.saveas(path)
    return path


def test_a_person_finds_layers_and_blocks_by_their_names(exported):
    assert drawing_layers(exported) == [
        ("AREAS-GREEN", "LWPOLYLINE", 2),
        ("AREAS-ROUGH", "LWPOLYLINE", 4),
        ("HEADS", "INSERT", 2),
        ("VALVES-DRAIN", "INSERT", 1),
    ]
    document = ezdxf.readfile(exported)
    assert document.units == 6
    (head, _) = document.modelspace().query("INSERT[name=='HEAD']")
    assert head.get_attrib_text("ID") == "H1"
    assert head.get_attrib_text("ARC_DEG") == "180.0"
    assert head.get_attrib_text("NOZZLE") == ""
    assert all(line.closed for line in document.modelspace().query("LWPOLYLINE"))
    assert not document.audit().has_errors


def test_names_of_blocks_and_layers():
    assert block_name(TABLES["heads"]) == "HEAD"
    assert layer_name(TABLES["areas"], {"kind": "green"}) == "AREAS-GREEN"
    assert layer_name(TABLES["pipes"], {"kind": None}) == "PIPES"
    assert layer_name(TABLES["heads"], {}) == "HEADS"


def test_the_export_says_where_it_lies(exported):
    geodata = ezdxf.readfile(exported).modelspace().get_geodata()
    assert geodata.get_crs() == (32612, True)
    with pytest.raises(UserError, match="declares WGS 84 / UTM zone 12N, not EPSG:32613"):
        back(exported, small_ground(), "heads", crs="EPSG:32613")


def test_a_system_without_number_must_be_said_on_reading(tmp_path):
    own = "+proj=tmerc +lat_0=39 +lon_0=-112 +k=1 +x_0=413000 +y_0=4340000 +ellps=GRS80 +units=m"
    ground, path = small_ground(own), tmp_path / "own.dxf"
    write_drawing(ground, path)
    with pytest.raises(UserError, match="--crs"):
        back(path, ground, "heads")
    _, rows = back(path, ground, "heads", crs=own)
    assert rows == plain_rows(ground.heads, TABLES["heads"])


def test_rows_without_a_place_are_told_and_left_out(tmp_path):
    ground = small_ground()
    heads = ground.heads.copy()
    heads.loc["H2", "geometry"] = None
    ground = ground.with_table("heads", heads)
    (doubt,) = write_drawing(ground, tmp_path / "out.dxf")
    assert doubt.code == "row-not-drawn"
    assert "1 rows of heads" in doubt.message
    _, rows = back(tmp_path / "out.dxf", ground, "heads")
    assert list(rows) == ["H1"]


def test_an_empty_record_makes_an_empty_drawing(tmp_path):
    assert write_drawing(ground_from(CRS, {}), tmp_path / "out.dxf") == ()
    assert drawing_layers(tmp_path / "out.dxf") == []


def test_an_edited_attribute_wins_over_the_mark(exported):
    def edit(space):
        head = space.query("INSERT[name=='HEAD']")[0]
        head.get_attrib("ARC_DEG").dxf.text = "90"
        head.get_attrib("STATION").dxf.text = "S9"

    _, rows = back(edited(exported, edit), small_ground(), "heads")
    assert (rows["H1"]["arc_deg"], rows["H1"]["station"]) == (90.0, "S9")
    assert rows["H1"]["label"] == "7-1"


def test_a_moved_head_and_a_reshaped_area_are_where_they_were_put(exported):
    def edit(space):
        space.query("INSERT[name=='HEAD']")[0].translate(5, 0, 0)
        for line in space.query("LWPOLYLINE[layer=='AREAS-GREEN']"):
            line.translate(100, 0, 0)

    path = edited(exported, edit)
    _, heads = back(path, small_ground(), "heads")
    assert heads["H1"]["geometry"].x == pytest.approx(413_005.1)
    survey, _ = back(path, small_ground(), "areas")
    assert survey.rows.loc["G7", "kind"] == "green"
    assert survey.rows.geometry.loc["G7"].bounds[2] == pytest.approx(413_120)


def test_a_copied_head_is_a_second_row_of_its_id_until_it_gets_its_own(exported):
    def copy(space, text=None):
        head = space.query("INSERT[name=='HEAD']")[0]
        twin = head.copy()
        space.add_entity(twin)
        twin.translate(10, 0, 0)
        if text:
            twin.get_attrib("ID").dxf.text = text

    survey, _ = back(edited(exported, copy), small_ground(), "heads")
    assert [finding.code for finding in survey.findings] == ["duplicate-id"]
    survey, rows = back(edited(exported, lambda s: copy(s, "H3")), small_ground(), "heads")
    assert sorted(rows) == ["H1", "H2", "H3"]


def test_a_head_that_somebody_added_by_hand_comes_too(exported):
    def edit(space):
        new = space.add_blockref("HEAD", (413_040, 4_340_000), dxfattribs={"layer": "HEADS"})
        new.add_auto_attribs({"ID": "H7", "STATION": "S2"})
        space.add_point((413_050, 4_340_000), dxfattribs={"layer": "SURVEY"})

    survey, rows = back(edited(exported, edit), small_ground(), "heads")
    assert survey.findings == ()
    assert sorted(rows) == ["H1", "H2", "H7"]
    assert rows["H7"]["station"] == "S2"


def test_what_was_deleted_in_the_drawing_is_gone(exported):
    def edit(space):
        space.delete_entity(space.query("INSERT[name=='HEAD']")[1])
        space.delete_entity(space.query("LWPOLYLINE[layer=='AREAS-ROUGH']")[1])

    path = edited(exported, edit)
    assert list(back(path, small_ground(), "heads")[1]) == ["H1"]
    survey, _ = back(path, small_ground(), "areas")
    assert [len(part.interiors) for part in survey.rows.geometry.loc["R7"].geoms] == [0, 1]


def test_an_outline_that_somebody_opened_is_a_bad_row(exported):
    def edit(space):
        space.query("LWPOLYLINE[layer=='AREAS-GREEN']")[1].closed = False

    survey, rows = back(edited(exported, edit), small_ground(), "areas")
    assert "R7" in rows
    bad = [finding.message for finding in survey.findings if finding.code == "bad-row"]
    assert len(bad) == 1
    assert "is no MultiPolygon any more" in bad[0]


def test_marks_survive_and_mangled_ones_are_none():
    document = ezdxf.new("R2010")
    document.appids.add(APPLICATION)
    line = document.modelspace().add_line((0, 0), (1, 1))
    assert mark_of(line) is None
    mark = Mark("pipes", "P1", 2, 1, {"label": "ä" * 400, "diameter_mm": 0.1, "open": True})
    write_mark(line, mark)
    assert mark_of(line) == mark
    for tags in ([], [(1000, "{")], [(1000, '["pipes"]')], [(1000, '["pipes", 1, 0, 0, null]')],
                 [(1000, '["pipes", "P1", true, 0, null]')], [(1000, '["p", "P", 0, 0, [1]]')],
                 [(1000, '["p", "P", 0, 0, {"a": {}}]')], [(1040, 3.0)]):  # fmt: skip
        line.set_xdata(APPLICATION, tags)
        assert mark_of(line) is None


def test_attributes_are_one_line_of_printable_text():
    assert as_attribute(None) == ""
    assert as_attribute(0.1 + 0.2) == "0.30000000000000004"
    assert as_attribute("two\nlines\x00 ") == "two lines"
    assert as_attribute(False) == "False"


def test_shapes_lose_nothing_but_their_height(tmp_path):
    ground = small_ground()
    high = ground.with_table("heads", ground.heads.set_geometry(
        shapely.force_3d(ground.heads.geometry.to_numpy(), 1372.0), crs=CRS))  # fmt: skip
    write_drawing(high, tmp_path / "out.dxf")
    _survey, rows = back(tmp_path / "out.dxf", ground, "heads")
    assert rows == plain_rows(ground.heads, TABLES["heads"])
