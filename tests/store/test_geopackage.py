"""The course file is a GeoPackage that other programs open."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
from pyproj import CRS

from nightwater.ground.changes import Changes
from nightwater.ground.columns import Kind
from nightwater.ground.settings import Settings
from nightwater.ground.tables import TABLES
from nightwater.store.course_file import CourseFile

BuildHeads = Callable[..., Changes]


def ask(path: Path, query: str, *values: object) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(query, values).fetchall()


def test_header_says_geopackage_1_3(course_path: Path) -> None:
    content = course_path.read_bytes()
    assert content[68:72] == b"GPKG"  # application id, SQLite file format 1.3
    assert int.from_bytes(content[60:64], "big") == 10300  # user version


def test_the_file_is_sound_and_its_links_hold(course_path: Path) -> None:
    assert ask(course_path, "PRAGMA integrity_check") == [("ok",)]
    assert ask(course_path, "PRAGMA foreign_key_check") == []


def test_required_systems_are_listed(course_path: Path) -> None:
    rows = ask(course_path, "SELECT srs_id, organization FROM gpkg_spatial_ref_sys ORDER BY 1")
    assert rows == [(-1, "NONE"), (0, "NONE"), (4326, "EPSG"), (32612, "EPSG")]
    text = ask(course_path, "SELECT definition FROM gpkg_spatial_ref_sys WHERE srs_id = 32612")
    assert CRS.from_wkt(str(text[0][0])).equals(CRS.from_epsg(32612), ignore_axis_order=True)


def test_every_table_is_registered_with_its_kind_and_system(course_path: Path) -> None:
    listed = {
        name: (kind, srs)
        for name, kind, srs in ask(
            course_path, "SELECT table_name, data_type, srs_id FROM gpkg_contents"
        )
    }
    assert set(listed) == {*TABLES, "settings", "revisions"}
    for name, table in TABLES.items():
        expected = ("attributes", None) if table.shape is None else ("features", 32612)
        assert listed[name] == expected


def test_geometry_columns_name_the_type_that_the_record_declares(course_path: Path) -> None:
    rows = ask(
        course_path, "SELECT table_name, geometry_type_name, z, m FROM gpkg_geometry_columns"
    )
    expected = {(t.name, t.shape.value.upper(), 0, 0) for t in TABLES.values() if t.shape}
    assert set(rows) == expected


def test_every_column_of_the_record_is_a_column_of_the_file(course_path: Path) -> None:
    types = {Kind.NUMBER: "DOUBLE", Kind.INTEGER: "INTEGER", Kind.YES_NO: "BOOLEAN"}
    types |= {Kind.DATE: "DATE"}
    for table in TABLES.values():
        info = ask(course_path, f"PRAGMA table_info('{table.name}')")
        held = {row[1]: (row[2], bool(row[3])) for row in info}
        assert held.pop("fid") == ("INTEGER", True)
        assert held.pop("id") == ("TEXT", True)
        held.pop("geom", None)
        assert held == {c.name: (types.get(c.kind, "TEXT"), c.required) for c in table.columns}


def test_extent_and_time_follow_what_is_accepted(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    revision = course.accept(new_heads(11), "Pilar", "survey", now)
    query = (
        "SELECT min_x, min_y, max_x, max_y, last_change FROM gpkg_contents "
        "WHERE table_name = 'heads'"
    )
    assert ask(course.path, query) == [
        (413_000.0, 4_340_000.0, 413_200.0, 4_340_000.0, "2026-07-14T21:00:00.000Z")
    ]
    course.undo(revision, "Pilar", "wrong course", now)
    assert ask(course.path, query)[0][:4] == (None, None, None, None)


def test_other_programs_read_the_layers(
    course: CourseFile, new_heads: BuildHeads, one_area: Changes, now: datetime
) -> None:
    course.accept(new_heads(3), "Pilar", "survey", now)
    course.accept(one_area, "Pilar", "survey", now)
    layers = dict(pyogrio.list_layers(course.path).tolist())
    expected = {name: t.shape.value if t.shape else None for name, t in TABLES.items()}
    assert layers == {**expected, "settings": None, "revisions": None}
    heads = gpd.read_file(course.path, layer="heads")
    assert heads.crs.to_epsg() == 32612
    assert heads["id"].tolist() == ["H0000", "H0001", "H0002"]
    assert [point.x for point in heads.geometry] == [413_000.0, 413_020.0, 413_040.0]
    areas = gpd.read_file(course.path, layer="areas")
    assert areas.geometry.area.tolist() == [5000.0]
    assert areas.loc[0, "kind"] == "green"
    revisions = pyogrio.read_dataframe(course.path, layer="revisions", read_geometry=False)
    assert revisions["summary"].tolist() == ["heads: 3 added", "areas: 1 added"]


def test_a_window_query_of_another_program_finds_what_lies_in_it(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(10), "Pilar", "survey", now)
    found = gpd.read_file(
        course.path, layer="heads", bbox=(413_035.0, 4_339_000.0, 413_065.0, 4_341_000.0)
    )
    assert found["id"].tolist() == ["H0002", "H0003"]


@pytest.mark.skipif(shutil.which("ogrinfo") is None, reason="ogrinfo (GDAL) is not installed")
@pytest.mark.parametrize("layer", sorted(TABLES))
def test_ogrinfo_opens_every_layer_without_a_warning(
    course: CourseFile, new_heads: BuildHeads, now: datetime, layer: str
) -> None:
    course.accept(new_heads(3), "Pilar", "survey", now)
    said = subprocess.run(
        ["ogrinfo", "-ro", "-al", str(course.path), layer],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "CPL_DEBUG": "OFF"},
    )
    assert said.stderr == ""
    count = 3 if layer == "heads" else 0
    assert f"Feature Count: {count}" in said.stdout
    if TABLES[layer].shape is not None:
        assert 'ID["EPSG",32612]' in said.stdout


def test_rows_that_another_program_added_are_read(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(2), "Pilar", "survey", now)
    theirs = gpd.read_file(course.path, layer="heads").iloc[:1].assign(id="FOREIGN")
    pyogrio.write_dataframe(theirs, course.path, layer="heads", append=True)
    heads = course.ground().heads
    assert heads.index.tolist() == ["H0000", "H0001", "FOREIGN"]
    assert heads.geometry["FOREIGN"].equals(heads.geometry["H0000"])


def test_a_system_without_a_code_is_kept_in_full(tmp_path: Path, settings: Settings) -> None:
    own = "+proj=tmerc +lat_0=39.2 +lon_0=-112 +k=1 +x_0=5000 +y_0=5000 +ellps=GRS80 +units=m"
    text = CRS.from_user_input(own).to_wkt()
    path = tmp_path / "own.gpkg"
    with CourseFile.create(path, replace(settings, site=replace(settings.site, crs=text))) as file:
        assert CRS.from_user_input(file.ground().crs).equals(CRS.from_user_input(own))
    layer = gpd.read_file(path, layer="heads")
    assert "Transverse Mercator" in layer.crs.to_wkt()
