"""What each exported file is like for the program that opens it, and what is refused."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import geopandas as gpd
import openpyxl  # type: ignore[import-untyped]
import pandas as pd
import pyogrio
import pytest
import shapely
from pyproj import Transformer
from shapely.geometry import MultiLineString, MultiPolygon, Point, Polygon

from nightwater.findings import UserError
from nightwater.ground.record import Ground, conform, ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store.opening import check_course_file
from nightwater.survey.csv_out import csv_files, exact_wkt, zipped
from nightwater.survey.export_rows import export_tables, inside_unit
from nightwater.survey.geojson_out import geojson_bytes
from nightwater.survey.geopackage_out import geopackage_bytes
from nightwater.survey.kml_out import ID_FIELD, is_record_kml, kml_bytes
from nightwater.survey.long_shapes import with_joined_shapes
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.workbook_out import MAX_CELL_TEXT, workbook_bytes

CRS = "EPSG:32612"
KML = "{http://www.opengis.net/kml/2.2}"
MAKERS: dict[str, Callable[[Ground], bytes]] = {
    "r.gpkg": geopackage_bytes,
    "r.geojson": geojson_bytes,
    "r.zip": lambda ground: zipped(csv_files(ground)),
}


def rows(**columns: Any) -> pd.DataFrame:
    ids = columns.pop("ids")
    return pd.DataFrame(columns, index=pd.Index(ids, dtype=object), dtype=object)


def ring(x: float, y: float, points: int) -> Any:
    return shapely.buffer(Point(x, y), 30.0, quad_segs=points // 4)


@pytest.fixture
def ground() -> Ground:
    heads = rows(
        ids=["007", "H2"],
        label=["=1+1", "zwölf, „links“"],
        arc_deg=[180.0, None],
        geometry=[Point(413_000.1, 4_340_000.2), Point(413_010.3, 4_340_000.7)],
    )
    areas = rows(
        ids=["A1"],
        kind=["green"],
        geometry=[MultiPolygon([Polygon([(413_000, 4_340_000), (413_020, 4_340_000),
                                         (413_020, 4_340_030)])])],
    )  # fmt: skip
    valves = rows(
        ids=["V1", "V2", "V3"],
        kind=["drain"] * 3,
        open=[True, None, False],
        geometry=[Point(413_001, 4_340_001), None, Point(413_002, 4_340_001)],
    )
    sources = rows(ids=["S1"], period_start=["2026-04-01"], allocation_m3=[1e6], geometry=[None])
    pipes = rows(
        ids=["P1"],
        diameter_mm=[80.4164],
        installed_year=[2008],
        geometry=[MultiLineString([[(413_000, 4_340_000), (413_050, 4_340_010)]])],
    )
    return ground_from(
        CRS, {"heads": heads, "areas": areas, "valves": valves, "sources": sources, "pipes": pipes}
    )


# --- what every format shares


def test_rows_come_in_the_order_of_the_declaration_with_the_id_first(ground: Ground) -> None:
    tables = {each.table.name: each for each in export_tables(ground)}
    assert list(tables) == list(GROUND_TABLES)
    assert tables["heads"].header == ("id", *TABLES["heads"].by_name)
    assert tables["heads"].rows[0]["id"] == "007"
    assert tables["heads"].rows[1]["arc_deg"] is None
    assert tables["nozzles"].shapes is None


@pytest.mark.parametrize(
    ("table", "column", "unit"),
    [
        ("heads", "spacing_m", "m"),
        ("pipes", "diameter_mm", "mm"),
        ("pumps", "set_pressure_kpa", "kPa"),
        ("areas", "slope_pct", "pct"),
        ("areas", "du_lq", ""),
        ("heads", "label", ""),
    ],
)
def test_a_column_tells_the_unit_it_is_written_in(table: str, column: str, unit: str) -> None:
    assert inside_unit(TABLES[table].by_name[column]) == unit


@pytest.mark.parametrize("name", list(MAKERS))
def test_the_same_record_gives_rows_that_change_nothing(
    ground: Ground, name: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(MAKERS[name](ground))
    for table in ("heads", "areas", "valves", "sources", "pipes"):
        survey = read_table(path, TABLES[table], CRS, ReadOptions(layer=table))
        proposal = propose(ground, TABLES[table], survey, complete=True)
        assert proposal.findings == ()
        assert len(survey.rows) == len(ground.table(table))
        assert len(to_changes(proposal, include_doubtful=True)) == 0


@pytest.mark.parametrize("name", list(MAKERS))
def test_a_file_of_many_tables_asks_for_one(ground: Ground, name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(MAKERS[name](ground))
    with pytest.raises(UserError, match="Name one with --layer: holes, areas"):
        read_table(path, TABLES["heads"], CRS, ReadOptions())
    with pytest.raises(UserError, match=r"has no (layer|table) 'heds'"):
        read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heds"))


@pytest.mark.parametrize("name", list(MAKERS))
def test_an_edit_in_an_exported_file_is_the_only_change(
    ground: Ground, name: str, tmp_path: Path
) -> None:
    edited = ground.heads.assign(label=["seven", "zwölf, „links“"])
    path = tmp_path / name
    path.write_bytes(MAKERS[name](ground.with_table("heads", edited)))
    survey = read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heads"))
    proposal = propose(ground, TABLES["heads"], survey, complete=True)
    assert {key: dict(c.columns) for key, c in proposal.changed.items()} == {
        "007": {"label": ("=1+1", "seven")}
    }


# --- GeoPackage


def test_a_geopackage_has_a_layer_for_each_table_in_the_records_system(
    ground: Ground, tmp_path: Path
) -> None:
    path = tmp_path / "r.gpkg"
    path.write_bytes(geopackage_bytes(ground))
    layers = dict(pyogrio.list_layers(path))
    assert set(layers) == set(GROUND_TABLES)
    assert (layers["areas"], layers["heads"], layers["nozzles"]) == ("MultiPolygon", "Point", None)
    heads = gpd.read_file(path, layer="heads")
    assert heads.crs.to_epsg() == 32612
    assert heads["id"].tolist() == ["007", "H2"]
    with sqlite3.connect(path) as connection:
        told = connection.execute(
            "SELECT description FROM gpkg_contents WHERE table_name = 'heads'"
        ).fetchone()
    assert told == (TABLES["heads"].meaning,)


def test_an_exported_geopackage_is_not_taken_for_a_course(ground: Ground, tmp_path: Path) -> None:
    path = tmp_path / "r.gpkg"
    path.write_bytes(geopackage_bytes(ground))
    with pytest.raises(UserError, match="nightwater survey"):
        check_course_file(path)


# --- GeoJSON


def test_a_geojson_is_one_collection_that_map_programs_place_rightly(
    ground: Ground, tmp_path: Path
) -> None:
    path = tmp_path / "r.geojson"
    path.write_bytes(geojson_bytes(ground))
    frame = gpd.read_file(path)
    assert frame.crs.to_epsg() == 32612
    assert frame["table"].value_counts().to_dict() == {
        "valves": 3, "heads": 2, "areas": 1, "sources": 1, "pipes": 1,
    }  # fmt: skip
    assert frame[frame["id"] == "007"].geometry.iloc[0].equals(Point(413_000.1, 4_340_000.2))


@pytest.mark.parametrize(
    ("damage", "reason"),
    [
        (lambda d: d.update(features={}), "holds no features"),
        (lambda d: d.update(nightwater_tables=[]), "holds no features"),
        (lambda d: d.update(crs={"properties": {"name": "EPSG:1"}}), "coordinate system"),
        (lambda d: d.update(crs=7), "coordinate system"),
    ],
)
def test_a_mangled_geojson_is_refused_with_a_sentence(
    ground: Ground, tmp_path: Path, damage: Callable[[dict[str, Any]], None], reason: str
) -> None:
    document = json.loads(geojson_bytes(ground))
    damage(document)
    path = tmp_path / "r.geojson"
    path.write_text(json.dumps(document))
    with pytest.raises(UserError, match=reason):
        read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heads"))


def test_a_cut_geojson_is_refused_with_a_sentence(ground: Ground, tmp_path: Path) -> None:
    path = tmp_path / "r.geojson"
    path.write_bytes(geojson_bytes(ground)[:-40])
    with pytest.raises(UserError, match="cannot be read as a map layer"):
        read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heads"))


@pytest.mark.parametrize("geometry", [{"type": "Point"}, {"type": "x"}, 7, [], {"type": "Point",
                         "coordinates": ["a", "b"]}])  # fmt: skip
def test_a_broken_geometry_is_a_bad_row_even_where_a_place_may_lack(
    ground: Ground, tmp_path: Path, geometry: Any
) -> None:
    document = json.loads(geojson_bytes(ground))
    next(f for f in document["features"] if f["properties"]["id"] == "V1")["geometry"] = geometry
    path = tmp_path / "r.geojson"
    path.write_text(json.dumps(document))
    survey = read_table(path, TABLES["valves"], CRS, ReadOptions(layer="valves"))
    assert [finding.code for finding in survey.findings] == ["bad-row"]
    assert list(survey.rows.index) == ["V2", "V3"]


# --- text tables


def test_text_tables_hold_every_column_and_say_their_system_beside(ground: Ground) -> None:
    files = csv_files(ground)
    assert {name.removesuffix(".csv") for name in files if name.endswith(".csv")} == {
        *GROUND_TABLES
    }
    assert "nozzles.prj" not in files
    assert b'AUTHORITY["EPSG","32612"]' in files["heads.prj"]
    table = list(csv.reader(io.StringIO(files["heads.csv"].decode())))
    assert table[0] == ["id", *TABLES["heads"].by_name, "wkt"]
    assert table[1][:2] == ["007", "=1+1"]
    assert table[1][-1] == "POINT (413000.1 4340000.2)"
    valves = list(csv.DictReader(io.StringIO(files["valves.csv"].decode())))
    assert [row["open"] for row in valves] == ["yes", "", "no"]


def test_a_system_beside_a_table_must_agree_with_what_a_person_says(
    ground: Ground, tmp_path: Path
) -> None:
    for name, content in csv_files(ground).items():
        (tmp_path / name).write_bytes(content)
    path = tmp_path / "heads.csv"
    assert len(read_table(path, TABLES["heads"], CRS, ReadOptions(crs=CRS)).rows) == 2
    with pytest.raises(UserError, match="declares WGS 84 / UTM zone 12N, not EPSG:32613"):
        read_table(path, TABLES["heads"], CRS, ReadOptions(crs="EPSG:32613"))
    (tmp_path / "heads.prj").write_text("somewhere")
    with pytest.raises(UserError, match=r"heads\.prj names no known coordinate system"):
        read_table(path, TABLES["heads"], CRS, ReadOptions())
    (tmp_path / "heads.prj").unlink()
    with pytest.raises(UserError, match="--crs"):
        read_table(path, TABLES["heads"], CRS, ReadOptions())


@pytest.mark.parametrize("wkt", ["", "POINT EMPTY", "POINT (1", "somewhere"])
def test_only_an_empty_cell_says_that_a_valve_has_no_place(tmp_path: Path, wkt: str) -> None:
    path = tmp_path / "valves.csv"
    path.write_text(f'id,kind,wkt\nV1,drain,"{wkt}"\n')
    survey = read_table(path, TABLES["valves"], CRS, ReadOptions(crs=CRS))
    assert [f.code for f in survey.findings] == ([] if wkt == "" else ["bad-row"])


def test_a_head_without_a_place_stays_a_bad_row(tmp_path: Path) -> None:
    path = tmp_path / "heads.csv"
    path.write_text('id,wkt\nH1,""\nH2,POINT (1 2)\n')
    survey = read_table(path, TABLES["heads"], CRS, ReadOptions(crs=CRS))
    assert [f.code for f in survey.findings] == ["bad-row"]


def test_the_same_files_zip_to_the_same_bytes(ground: Ground) -> None:
    assert zipped(csv_files(ground)) == zipped(csv_files(ground))


def test_a_broken_or_bloated_archive_is_refused_with_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "r.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("heads.csv", b"id\n" + b"0" * (201 * 1024 * 1024))
    with pytest.raises(UserError, match="more than 210 MB"):
        read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heads"))
    content = bytearray(zipped({"heads.csv": b"id,label\n" + bytes(range(48, 123)) * 40}))
    content[45:55] = b"\x00" * 10
    path.write_bytes(content)
    with pytest.raises(UserError, match="cannot be read as an archive"):
        read_table(path, TABLES["heads"], CRS, ReadOptions(layer="heads"))


def test_a_path_inside_an_archive_never_leaves_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "r.zip"
    path.write_bytes(zipped({"../../escaped.csv": b"id,label\nN1,a\n"}))
    survey = read_table(path, TABLES["controllers"], CRS, ReadOptions())
    assert survey.rows["label"].tolist() == ["a"]
    assert not (tmp_path.parents[1] / "escaped.csv").exists()


# --- workbook


def test_a_workbook_keeps_labels_as_text_and_dates_as_dates(ground: Ground) -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(ground)))
    assert book.sheetnames == [*GROUND_TABLES, "about"]
    heads = book["heads"]
    assert [cell.value for cell in heads[1]][:2] == ["id", "label"]
    assert (heads["A2"].value, heads["A2"].data_type) == ("007", "s")
    assert (heads["B2"].value, heads["B2"].data_type) == ("=1+1", "s")
    header = [cell.value for cell in book["sources"][1]]
    assert book["sources"][2][header.index("period_start")].value == datetime(2026, 4, 1)
    about = {(r[0], r[1]): r[2:] for r in book["about"].iter_rows(values_only=True)}
    assert about["pipes", "diameter_mm"] == ("number", "mm", "Inside diameter.")
    assert len(about) == 2 + sum(len(TABLES[name].columns) for name in GROUND_TABLES)


def test_a_shape_longer_than_a_cell_goes_on_in_the_next_column(ground: Ground) -> None:
    long = MultiPolygon([ring(413_000.0, 4_340_000.0, 2400)])
    text = exact_wkt(long)
    assert text is not None
    assert len(text) > 2 * MAX_CELL_TEXT
    areas = pd.DataFrame(
        {"kind": ["green", "tee"], "geometry": [long, ground.areas.geometry["A1"]]},
        index=pd.Index(["L", "S"], dtype=object),
    )
    big = ground.with_table("areas", areas)
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_bytes(big)))["areas"]
    header, *found = [list(row) for row in sheet.iter_rows(values_only=True)]
    assert header[-3:] == ["wkt", "wkt_2", "wkt_3"]
    assert max(len(str(cell)) for row in found for cell in row) <= MAX_CELL_TEXT
    cells = with_joined_shapes(pd.DataFrame(found, columns=header, dtype=object))
    assert [shapely.from_wkt(wkt) for wkt in cells["wkt"]] == list(big.areas.geometry)
    assert list(cells.columns)[-1] == "wkt"


def test_only_pieces_of_a_shape_are_joined() -> None:
    cells = pd.DataFrame({"wkt_2": ["x"], "label": ["y"]})
    assert with_joined_shapes(cells) is cells
    plain = pd.DataFrame({"wkt": ["POINT (1 2)", None], "wkt_x": ["a", "b"]})
    assert with_joined_shapes(plain) is plain


def test_a_text_longer_than_a_cell_is_refused_by_name(ground: Ground) -> None:
    images = rows(ids=["I1"], transform=["1" * (MAX_CELL_TEXT + 1)])
    with pytest.raises(UserError, match="transform of images:I1 has 32,768 characters"):
        workbook_bytes(ground.with_table("images", conform(images, TABLES["images"], CRS)))


# --- KML


def placemarks(ground: Ground, folder: str) -> list[ElementTree.Element]:
    root = ElementTree.fromstring(kml_bytes(ground))
    found = [f for f in root.iter(f"{KML}Folder") if f.findtext(f"{KML}name") == folder]
    return found[0].findall(f"{KML}Placemark")


def test_a_kml_has_a_folder_for_each_table_and_data_for_every_known_value(ground: Ground) -> None:
    root = ElementTree.fromstring(kml_bytes(ground))
    assert [f.findtext(f"{KML}name") for f in root.iter(f"{KML}Folder")] == list(GROUND_TABLES)
    first = placemarks(ground, "heads")[0]
    data = {d.get("name"): d.text for d in first.iter(f"{KML}SimpleData")}
    assert data == {ID_FIELD: "007", "label": "=1+1", "arc_deg": "180.0"}
    assert first.findtext(f"{KML}name") == "=1+1"
    lon, lat = map(float, (first.findtext(f".//{KML}coordinates") or "").split(","))
    assert (lon, lat) == pytest.approx(
        Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(413_000.1, 4_340_000.2),
        abs=1e-9,
    )
    assert -112.1 < lon < -112.0


def test_a_kml_of_ours_is_known_by_its_schemas(ground: Ground) -> None:
    assert is_record_kml(kml_bytes(ground))
    assert not is_record_kml(b"<kml><Document><name>nightwater</name></Document></kml>")


def test_a_kml_says_the_unit_of_every_number(ground: Ground) -> None:
    root = ElementTree.fromstring(kml_bytes(ground))
    fields = {
        (schema.get("name"), field.get("name")): field.findtext(f"{KML}displayName")
        for schema in root.iter(f"{KML}Schema")
        for field in schema.iter(f"{KML}SimpleField")
    }
    assert fields["pipes", "diameter_mm"] == "diameter_mm [mm]"
    assert fields["heads", "label"] == "label"


def test_a_row_without_place_is_a_placemark_without_geometry(ground: Ground) -> None:
    second = placemarks(ground, "valves")[1]
    assert second.find(f".//{KML}coordinates") is None
    assert second.findtext(f"{KML}name") == "V2"


def test_holes_in_areas_are_inner_boundaries(ground: Ground) -> None:
    outline = shapely.box(413_000, 4_340_000, 413_050, 4_340_050)
    hole = shapely.box(413_010, 4_340_010, 413_020, 4_340_020)
    areas = rows(ids=["A"], kind=["rough"], geometry=[MultiPolygon([outline - hole])])
    drawn = placemarks(ground.with_table("areas", areas), "areas")[0]
    assert len(drawn.findall(f".//{KML}innerBoundaryIs")) == 1
    assert len(drawn.findall(f".//{KML}outerBoundaryIs")) == 1


@pytest.mark.parametrize("make", [kml_bytes, workbook_bytes])
@pytest.mark.parametrize("sign", ["\x07", "\x00", "\r", "\ufffe"])
def test_a_character_no_xml_can_hold_is_refused_by_name(
    ground: Ground, make: Callable[[Ground], bytes], sign: str
) -> None:
    heads = ground.heads.assign(label=["ok", f"a{sign}b"])
    with pytest.raises(UserError, match=r"label of heads:H2 holds a control character"):
        make(ground.with_table("heads", heads))
