"""Making a course file, opening it, and refusing what is not one."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import Point

from nightwater.findings import NotFoundError, UserError
from nightwater.ground.changes import Changes
from nightwater.ground.settings import Settings
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store.course_file import CourseFile


def test_a_new_course_has_its_settings_and_empty_tables(
    course: CourseFile, settings: Settings
) -> None:
    assert course.settings() == settings
    ground = course.ground()
    assert ground.crs == "EPSG:32612"
    for name in GROUND_TABLES:
        assert ground.table(name).empty
        assert [c for c in ground.table(name).columns if c != "geometry"] == list(
            TABLES[name].by_name
        )
    assert course.revisions().empty
    assert course.nights().empty
    assert course.copied_to is None


def test_an_existing_file_is_never_overwritten(course_path: Path, settings: Settings) -> None:
    before = course_path.read_bytes()
    with pytest.raises(UserError, match="exists already"):
        CourseFile.create(course_path, settings)
    assert course_path.read_bytes() == before


def test_names_that_cannot_be_made_are_refused(tmp_path: Path, settings: Settings) -> None:
    with pytest.raises(UserError, match=r"ends in \.gpkg"):
        CourseFile.create(tmp_path / "course.db", settings)
    with pytest.raises(UserError, match="There is no folder"):
        CourseFile.create(tmp_path / "no" / "course.gpkg", settings)


@pytest.mark.parametrize(
    ("crs", "words"),
    [("EPSG:4326", "metres"), ("EPSG:2263", "metres"), ("EPSG:0", "no coordinate system")],
)
def test_a_system_that_is_not_in_metres_leaves_no_file(
    tmp_path: Path, settings: Settings, crs: str, words: str
) -> None:
    wrong = replace(settings, site=replace(settings.site, crs=crs))
    with pytest.raises(UserError, match=words):
        CourseFile.create(tmp_path / "course.gpkg", wrong)
    assert list(tmp_path.iterdir()) == []


def test_creating_leaves_only_the_file(tmp_path: Path, settings: Settings) -> None:
    CourseFile.create(tmp_path / "course.gpkg", settings).close()
    assert [path.name for path in tmp_path.iterdir()] == ["course.gpkg"]


def test_a_missing_file_is_not_found(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="nightwater new"):
        CourseFile.open(tmp_path / "none.gpkg")
    assert list(tmp_path.iterdir()) == []


def write_text(path: Path) -> None:
    path.write_text("this is no database")


def write_nothing(path: Path) -> None:
    path.write_bytes(b"")


def write_plain_database(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE heads (id TEXT)")
        connection.commit()


def write_other_geopackage(path: Path) -> None:
    points = gpd.GeoDataFrame({"id": ["a"]}, geometry=[Point(0, 0)], crs="EPSG:32612")
    points.to_file(path, layer="heads", driver="GPKG")


def write_torn_file(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\x00" + b"\x5a" * 4000)


@pytest.mark.parametrize(
    ("write", "words"),
    [
        (write_text, "no SQLite database"),
        (write_nothing, "no SQLite database"),
        (write_plain_database, "not a course file"),
        (write_other_geopackage, "nightwater survey"),
        (write_torn_file, "Restore a backup"),
    ],
)
def test_what_is_not_a_course_file_is_refused_and_left_alone(
    tmp_path: Path, write: Callable[[Path], None], words: str
) -> None:
    path = tmp_path / "strange.gpkg"
    write(path)
    before = path.read_bytes()
    with pytest.raises(UserError, match=words):
        CourseFile.open(path)
    assert path.read_bytes() == before


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="not a course file"):
        CourseFile.open(tmp_path)


def test_a_file_that_is_damaged_later_says_so(
    course_path: Path, new_heads: Callable[..., Changes], now: datetime
) -> None:
    with CourseFile.open(course_path) as file:
        file.accept(new_heads(500), "Pilar", "survey", now)
    content = bytearray(course_path.read_bytes())
    content[8192:-4096] = b"\xff" * (len(content) - 8192 - 4096)
    course_path.write_bytes(bytes(content))
    with pytest.raises(UserError, match=r"[Rr]estore a backup"), CourseFile.open(course_path) as f:
        f.ground()


def test_names_with_signs_of_an_address_open(tmp_path: Path, settings: Settings) -> None:
    path = tmp_path / "club #1 100% ?.gpkg"
    with CourseFile.create(path, settings) as file:
        assert file.settings() == settings
    with CourseFile.open(path) as file:
        file.backup(tmp_path / "copy %20.gpkg")


def test_closing_leaves_one_file(course_path: Path, now: datetime, one_area: Changes) -> None:
    with CourseFile.open(course_path) as file:
        file.accept(one_area, "Pilar", "survey", now)
    assert [path.name for path in course_path.parent.iterdir()] == ["course.gpkg"]
