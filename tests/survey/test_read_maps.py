"""Map layers: GeoJSON, GeoPackage and Shapefile, whole and broken."""

from __future__ import annotations

import json
import warnings
import zipfile
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyproj
import pytest
from shapely.geometry import (
    GeometryCollection,
    LineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    box,
)

from nightwater.findings import Severity, UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"
BOWTIE = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
TOUCHING = Polygon([(0, 0), (10, 0), (10, 10), (5, 0), (0, 10)])  # touches itself at (5, 0)
SPIKE = Polygon([(0, 0), (10, 0), (10, 10), (5, 10), (5, 20), (5, 10), (0, 10)])


def layer(shapes: list[Any], crs: str | None = CRS, **columns: Any) -> gpd.GeoDataFrame:
    ids = [f"A{number}" for number in range(1, len(shapes) + 1)]
    return gpd.GeoDataFrame({"id": ids, "kind": "green", **columns}, geometry=shapes, crs=crs)


def read(path: Path, table: str = "areas", **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))


def codes(survey: SurveyRows) -> list[str]:
    return [finding.code for finding in survey.findings]


@pytest.mark.parametrize("name", ["a.gpkg", "a.geojson", "a.shp", "a.zip", "a.fgb"])
def test_every_open_format_gives_the_same_rows(tmp_path: Path, name: str) -> None:
    areas = layer([box(413_000, 4_340_000, 413_030, 4_340_020)], slope_pct=[2.5])
    path = tmp_path / name
    if name.endswith(".zip"):
        areas.to_file(tmp_path / "inner.shp")
        with zipfile.ZipFile(path, "w") as archive:
            for part in tmp_path.glob("inner.*"):
                archive.write(part, part.name)
    else:
        areas = areas.to_crs("EPSG:4326") if name.endswith("json") else areas
        areas.to_file(path)
    survey = read(path)
    assert survey.rows.index.tolist() == ["A1"]
    assert survey.rows.loc["A1", ["kind", "slope_pct"]].tolist() == ["green", 2.5]
    shape = survey.rows.geometry["A1"]
    assert shape.geom_type == "MultiPolygon"
    assert shape.area == pytest.approx(600.0, abs=1e-3)
    assert survey.findings == ()
    assert survey.places == {"A1": "feature 1"}


def test_a_file_of_several_layers_asks_which(tmp_path: Path) -> None:
    path = tmp_path / "many.gpkg"
    layer([box(0, 0, 1, 1)]).to_file(path, layer="greens")
    layer([box(0, 0, 2, 2)]).to_file(path, layer="tees")
    with pytest.raises(UserError, match=r"2 layers. Name one with --layer: greens, tees"):
        read(path)
    with pytest.raises(UserError, match=r"no layer 'green'. It holds greens, tees"):
        read(path, layer="green")
    assert read(path, layer="tees").rows.geometry.area.tolist() == [4.0]


def test_a_missing_system_asks_and_a_contradiction_is_refused(tmp_path: Path) -> None:
    bare = tmp_path / "bare.shp"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        layer([box(0, 0, 1, 1)], crs=None).to_file(bare)
    with pytest.raises(UserError, match=r"does not say its coordinate system. Say it with --crs"):
        read(bare)
    assert len(read(bare, crs=CRS).rows) == 1
    said = tmp_path / "said.gpkg"
    layer([box(0, 0, 1, 1)]).to_file(said)
    with pytest.raises(UserError, match="declares WGS 84 / UTM zone 12N, not EPSG:4326"):
        read(said, crs="EPSG:4326")
    assert len(read(said, crs="EPSG:32612").rows) == 1


@pytest.mark.parametrize(
    ("table", "shapes", "kept", "words"),
    [
        ("areas", [box(0, 0, 1, 1), Point(0, 0)], 1, "is a Point, not a Polygon"),
        ("areas", [box(0, 0, 1, 1), LineString([(0, 0), (1, 1)])], 1, "not a Polygon"),
        ("areas", [box(0, 0, 1, 1), None], 1, "no geometry"),
        ("areas", [box(0, 0, 1, 1), Polygon()], 1, "no geometry"),
        ("heads", [Point(0, 0), MultiPoint([(0, 0), (1, 1)])], 1, "2 points where one"),
        ("heads", [MultiPoint([(3, 4)]), box(0, 0, 1, 1)], 1, "not a Point"),
    ],
)
def test_shapes_are_made_the_tables_or_refused(
    tmp_path: Path, table: str, shapes: list[Any], kept: int, words: str
) -> None:
    path = tmp_path / "mixed.gpkg"
    layer(shapes).drop(columns="kind").assign(label="x").to_file(path)
    survey = read(path, table, fixed={"kind": "green"} if table == "areas" else {})
    assert survey.rows.index.tolist() == ["A1"][:kept]
    bad = [finding for finding in survey.findings if finding.code == "bad-row"]
    assert words in bad[0].message
    assert "feature 2 (A2)" in bad[0].message
    assert survey.rows.geometry.iloc[0].geom_type == TABLES[table].shape.value


def test_a_repair_that_is_certain_is_made_and_told(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    layer([TOUCHING, SPIKE]).to_file(path)
    survey = read(path)
    assert codes(survey) == ["geometry-repaired"] * 2
    assert {finding.severity for finding in survey.findings} == {Severity.WARNING}
    assert survey.rows.geometry.is_valid.all()
    assert survey.rows.geometry["A2"].area == pytest.approx(100.0)


def test_a_repair_that_could_go_two_ways_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    layer([BOWTIE, box(0, 0, 1, 1)]).to_file(path)
    survey = read(path)
    assert survey.rows.index.tolist() == ["A2"]
    assert "can be repaired in two ways" in survey.findings[0].message


def test_parts_of_one_shape_stay_together(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    two = MultiPolygon([box(0, 0, 1, 1), box(5, 0, 6, 1)])
    layer([two, GeometryCollection([box(0, 0, 2, 1), Point(9, 9)])]).to_file(path)
    survey = read(path)
    assert [len(shape.geoms) for shape in survey.rows.geometry] == [2, 1]
    assert survey.rows.geometry.area.tolist() == [2.0, 2.0]


def test_heights_are_dropped_with_a_note(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    layer([Point(413_000, 4_340_000, 1372.5)]).to_file(path)
    survey = read(path, "heads")
    assert not survey.rows.geometry.has_z.any()
    assert "heights-left-aside" in codes(survey)


def write_json(path: Path, *features: dict[str, Any], **more: Any) -> Path:
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features, **more}))
    return path


def feature(shape: Any, identity: Any = None, **properties: Any) -> dict[str, Any]:
    whole = {"type": "Feature", "properties": properties, "geometry": shape.__geo_interface__}
    return whole if identity is None else {**whole, "id": identity}


HERE = (-112.0, 39.2)


def test_ids_of_features_are_ids(tmp_path: Path) -> None:
    path = write_json(
        tmp_path / "a.geojson",
        feature(Point(HERE), "node/12", arc_deg=90),
        feature(Point(-112.001, 39.2), "node/13", arc_deg=None),
    )
    survey = read(path, "heads")
    assert survey.rows.index.tolist() == ["node/12", "node/13"]
    assert survey.rows["arc_deg"].tolist() == [90.0, None]


def test_numbers_as_ids_are_written_without_a_point(tmp_path: Path) -> None:
    path = write_json(
        tmp_path / "a.geojson",
        feature(Point(HERE), id=12, station=3),
        feature(Point(-112.001, 39.2), id=None, station=None),
    )
    survey = read(path, "heads")
    assert survey.rows["station"].to_dict() == {"12": "3", "head-0002": None}


def test_text_that_looks_like_a_date_stays_text(tmp_path: Path) -> None:
    path = write_json(
        tmp_path / "a.geojson",
        feature(Point(HERE), "S1", label="2026-07-14", period_start="2026-04-15"),
    )
    row = read(path, "sources").rows.loc["S1"]
    assert row[["label", "period_start"]].tolist() == ["2026-07-14", "2026-04-15"]


def test_dates_of_a_layer_are_dates(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    import pandas as pd

    days = pd.to_datetime(["2026-04-15"])
    rows = gpd.GeoDataFrame({"id": ["M1"], "calibrated_on": days}, geometry=[Point(0, 0)], crs=CRS)
    rows.to_file(path)
    assert read(path, "meters").rows.loc["M1", "calibrated_on"] == "2026-04-15"


def test_a_system_of_another_globe_is_refused(tmp_path: Path) -> None:
    """Found by mangling a .prj: an ellipsoid that is not the Earth's."""
    path = tmp_path / "a.shp"
    layer([box(0, 0, 1, 1)]).to_file(path)
    moon = pyproj.CRS.from_proj4("+proj=longlat +a=1737400 +b=1737400 +no_defs").to_wkt("WKT1_ESRI")
    path.with_suffix(".prj").write_text(moon)
    with pytest.raises(UserError, match="nothing leads to longitude and latitude"):
        read(path)


def test_metres_in_a_geojson_are_refused(tmp_path: Path) -> None:
    """A GeoJSON can only hold degrees."""
    path = write_json(tmp_path / "a.geojson", feature(Point(413_000, 4_340_000), "H1"))
    with pytest.raises(UserError, match="They look like metres or feet"):
        read(path, "heads")


def test_places_outside_the_system_are_bad_rows(tmp_path: Path) -> None:
    """A quarter round the globe from its middle, on the equator, a zone has no coordinates."""
    path = write_json(tmp_path / "a.geojson", feature(Point(-21, 0), "H1"))
    survey = read(path, "heads")
    assert survey.rows.empty
    assert "outside the coordinate system" in survey.findings[0].message


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"type": "Nothing"}', "hello", '{"type":"FeatureCollection"}']
)
def test_what_is_no_map_is_refused_with_a_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.geojson"
    path.write_text(text)
    with pytest.raises(UserError, match=r"a\.geojson"):
        read(path)


def golf(tag: str, shape: Any, identity: str, **tags: Any) -> dict[str, Any]:
    return feature(shape, identity, golf=tag, **tags)


def square(x: float, size: float = 0.0004) -> Polygon:
    return box(HERE[0] + x, HERE[1], HERE[0] + x + size, HERE[1] + size)


def line(x: float, length: float = 0.001) -> LineString:
    return LineString([(HERE[0] + x, HERE[1]), (HERE[0] + x + length, HERE[1])])


@pytest.fixture
def tagged(tmp_path: Path) -> Path:
    outline = box(HERE[0] - 0.001, HERE[1] - 0.001, HERE[0] + 0.01, HERE[1] + 0.01)
    return write_json(
        tmp_path / "course.geojson",
        feature(outline, "way/1", leisure="golf_course", name="Far Links"),
        golf("green", square(0), "way/2", name="Green 1"),
        golf("driving_range", square(0.001), "way/3"),
        golf("lateral_water_hazard", square(0.002), "way/4"),
        feature(square(0.003), "way/5", natural="water"),
        golf("cartpath", line(0), "way/6"),
        golf("71", square(0.004), "way/7"),
        golf("green", Point(HERE), "node/8"),
        golf("hole", line(0), "way/9", ref="1", name="Burn", par=4),
        golf("hole", line(0.002), "way/10", name="Hole 2"),
        golf("hole", line(0.004), "way/11", name="10 and 18"),
        golf("hole", line(0.006), "way/12"),
        golf("tee", square(0.02), "way/13"),
        golf("fairway", square(0.0098, 0.001), "way/14"),
        golf("rough", square(0.0094, 0.0008), "way/15"),
    )


def test_golf_tags_become_our_kinds(tagged: Path) -> None:
    survey = read(tagged)
    assert survey.rows["kind"].to_dict() == {
        "way/2": "green",
        "way/3": "practice",
        "way/4": "water",
        "way/5": "water",
        "way/13": "tee",
        "way/14": "fairway",
        "way/15": "rough",
    }
    assert survey.rows.loc["way/2", "label"] == "Green 1"
    assert sorted(codes(survey)) == ["bad-row", "features-skipped", "path-without-width"]
    skipped = next(f.message for f in survey.findings if f.code == "features-skipped")
    for words in ("7 features", "4 hole", "1 cartpath", "1 71", "1 no golf tag"):
        assert words in skipped


def test_holes_take_their_number_from_ref_or_name(tagged: Path) -> None:
    rows = read(tagged, "holes").rows
    assert rows["number"].to_dict() == {"way/9": 1, "way/10": 2, "way/11": None, "way/12": None}
    assert rows.loc["way/9", "par"] == 4
    assert rows.loc["way/11", "label"] == "10 and 18"


@pytest.mark.parametrize("wanted", ["Far Links", "way/1"])
def test_only_what_lies_mostly_within_an_outline(tagged: Path, wanted: str) -> None:
    survey = read(tagged, within=wanted)
    assert survey.rows.index.tolist() == ["way/2", "way/3", "way/4", "way/5", "way/15"]
    crossing = next(f.message for f in survey.findings if f.code == "crosses-outline")
    assert "2 features cross" in crossing
    assert "1 that lie mostly inside were taken, 1 were left aside" in crossing


def test_an_outline_that_is_not_there(tagged: Path) -> None:
    with pytest.raises(UserError, match=r"no outline named 'Far Link'. Names like it: Far Links"):
        read(tagged, within="Far Link")
    with pytest.raises(UserError, match="no outline named 'zz'"):
        read(tagged, within="zz")


def test_two_outlines_of_one_name_need_the_id(tmp_path: Path) -> None:
    path = write_json(
        tmp_path / "a.geojson",
        feature(square(0), "way/1", name="Links", golf=None),
        feature(square(1), "way/2", name="Links", golf="green"),
    )
    with pytest.raises(UserError, match="2 outlines named 'Links'"):
        read(path, within="Links")


def test_golf_tags_say_nothing_of_heads(tagged: Path) -> None:
    with pytest.raises(UserError, match="tell areas and holes, not heads"):
        read(tagged, "heads")
