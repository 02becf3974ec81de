"""Older files are brought up to date beside a copy; newer ones are refused."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import pytest
from alembic import command

from nightwater.findings import ConflictError, UserError
from nightwater.ground.changes import Changes
from nightwater.ground.settings import Settings
from nightwater.store import migrate
from nightwater.store.connection import connect
from nightwater.store.course_file import CourseFile
from nightwater.store.schema import METADATA

VERSIONS = Path(migrate.__file__).parent / "migrations" / "versions"
NEW_IMAGE_COLUMNS = (
    "picture", "width_px", "height_px", "transform_kind", "control_points", "placed_by", "placed",
)  # fmt: skip
NEW_NOZZLE_COLUMNS = ("profile", "leg", "performance", "trajectory_deg", "height_m")
NEW_HEAD_COLUMNS = ("measured_radius_m", "tilt_deg", "tilt_towards_deg")
NEW_ENDING_COLUMNS = ("meant_until", "ended", "ended_by", "ended_why")
NEW_HYDRAULIC_COLUMNS = {
    "heads": ("regulated",),
    "pipes": ("start_elevation_m", "end_elevation_m"),
    "pumps": (
        "curve", "efficiency_curve", "variable_speed", "max_starts_h", "elevation_m", "source",
    ),
    "sources": ("level_m", "pressure_kpa"),
    "trims": NEW_ENDING_COLUMNS,
    "holds": NEW_ENDING_COLUMNS,
}  # fmt: skip
RULE = (
    "The tables that the migrations make are not those of ground/tables.py. Released schemas "
    "stay as they are: add a migration to store/migrations/versions that makes the difference."
)


def schema(path: Path) -> dict[str, str]:
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL "
            "AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'alembic%'"
        )
        return {name: re.sub(r"\s+", " ", sql).strip() for name, sql in rows}


def migrated(path: Path, version: str) -> Path:
    """An empty database brought to a version by the migrations alone."""
    engine = connect(path)
    with engine.connect() as connection:
        command.upgrade(migrate._config(connection), version)
        connection.commit()
    engine.dispose()
    return path


def test_the_migrations_make_what_the_declaration_says(tmp_path: Path) -> None:
    engine = connect(tmp_path / "declared.db")
    with engine.begin() as connection:
        METADATA.create_all(connection)
    engine.dispose()
    by_steps = schema(migrated(tmp_path / "steps.db", "head"))
    assert by_steps == schema(tmp_path / "declared.db"), RULE


def test_versions_follow_one_another() -> None:
    names = sorted(path.stem[:4] for path in VERSIONS.glob("0*.py"))
    assert names == [f"{number:04d}" for number in range(1, len(names) + 1)]
    assert migrate.newest_version() == names[-1]


@pytest.fixture
def old_course(
    course_path: Path, new_heads: Callable[..., Changes], now: datetime, settings: Settings
) -> Path:
    """A file of the first version with rows in it."""
    with CourseFile.open(course_path) as file:
        file.accept(new_heads(7), "Pilar", "survey", now)
        night = file.save_night(date(2026, 7, 14), {"runs": []}, now)
        file.approve_night(night, "Ines", now)
    with closing(sqlite3.connect(course_path)) as connection:
        for name in ("commands_night", "samples_night", "weather_step_time"):
            connection.execute(f"DROP INDEX {name}")
        connection.execute(
            "ALTER TABLE holds ADD COLUMN keeps_debt BOOLEAN CHECK (keeps_debt IN (0, 1))"
        )
        connection.execute("DROP TABLE column_matches")
        connection.execute("DELETE FROM gpkg_contents WHERE table_name = 'column_matches'")
        connection.execute("DROP TABLE dismissals")
        connection.execute("DELETE FROM gpkg_contents WHERE table_name = 'dismissals'")
        connection.execute("DROP TABLE image_tiles")
        connection.execute("DROP TABLE photos")
        connection.execute("DROP TABLE photo_contents")
        connection.execute("DELETE FROM gpkg_contents WHERE table_name = 'photos'")
        for name in NEW_IMAGE_COLUMNS:
            connection.execute(f"ALTER TABLE images DROP COLUMN {name}")
        without_spray(connection)
        connection.execute("UPDATE alembic_version SET version_num = '0001'")
        connection.commit()
    return course_path


def without_spray(connection: sqlite3.Connection) -> None:
    """Take away what the versions since that with audits and trims on the map brought."""
    for table, names in NEW_HYDRAULIC_COLUMNS.items():
        for name in names:
            connection.execute(f"ALTER TABLE {table} DROP COLUMN {name}")
    for table, names in (("nozzles", NEW_NOZZLE_COLUMNS), ("heads", NEW_HEAD_COLUMNS)):
        for name in names:
            connection.execute(f"ALTER TABLE {table} DROP COLUMN {name}")
    connection.execute("ALTER TABLE trims DROP COLUMN geom")
    connection.execute("DELETE FROM gpkg_geometry_columns WHERE table_name IN ('trims', 'cans')")
    connection.execute(
        "UPDATE gpkg_contents SET data_type = 'attributes' WHERE table_name = 'trims'"
    )
    for table in ("audits", "cans"):
        connection.execute(f"DROP TABLE {table}")
        connection.execute(f"DELETE FROM gpkg_contents WHERE table_name = '{table}'")


def listed(path: Path) -> set[tuple[str, str, str]]:
    """What a GeoPackage says that it holds."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT table_name, data_type, description FROM gpkg_contents")
        return set(rows)


def test_an_older_file_lists_its_new_tables_as_a_new_one_does(
    old_course: Path,
) -> None:
    CourseFile.open(old_course).close()
    names = {name for name, _, _ in listed(old_course)}
    assert {"column_matches", "dismissals", "photos"} <= names


def test_an_older_file_is_copied_and_brought_up_to_date(old_course: Path) -> None:
    with closing(sqlite3.connect(old_course)) as connection:
        before = list(connection.iterdump())
    with CourseFile.open(old_course) as file:
        assert file.copied_to is not None
        copy = file.copied_to
        assert len(file.ground().heads) == 7
        assert file.nights()["state"].tolist() == ["approved"]
        assert len(file.revisions()) == 1
    assert copy == old_course.with_name("course.before-0001-update.gpkg")
    assert {"commands_night", "samples_night", "weather_step_time"} <= set(schema(old_course))
    with closing(sqlite3.connect(copy)) as connection:
        assert list(connection.iterdump()) == before


def test_a_new_table_is_listed_in_an_older_file_as_in_a_new_one(
    old_course: Path, tmp_path: Path, settings: Settings
) -> None:
    CourseFile.create(tmp_path / "new.gpkg", settings).close()
    CourseFile.open(old_course).close()
    listed = "SELECT * FROM gpkg_contents WHERE table_name = 'dismissals'"
    rows = []
    for path in (old_course, tmp_path / "new.gpkg"):
        with closing(sqlite3.connect(path)) as connection:
            rows.append(connection.execute(listed).fetchall())
    assert len(rows[0]) == 1
    assert rows[0] == rows[1]
    with CourseFile.open(old_course) as file:
        assert file.running("dismissals").empty


def narrowed(path: Path) -> Path:
    """A file in which areas cannot be paths or buildings yet, with one area in it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO areas (id, kind) VALUES ('pond', 'water')")
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET sql = replace(sql, ?, '') WHERE name = 'areas'",
            (", 'path', 'building'",),
        )
        connection.execute("PRAGMA writable_schema = RESET")
        without_spray(connection)
        connection.execute("UPDATE alembic_version SET version_num = '0007'")
        connection.commit()
    return path


def add_area(path: Path, kind: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO areas (id, kind) VALUES (?, ?)", (kind, kind))
        connection.commit()


def test_an_older_file_takes_paths_and_buildings_after_the_update(course_path: Path) -> None:
    narrowed(course_path)
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        add_area(course_path, "path")
    CourseFile.open(course_path).close()
    add_area(course_path, "path")
    add_area(course_path, "building")
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        add_area(course_path, "lawn")
    with closing(sqlite3.connect(course_path)) as connection:
        kinds = {kind for (kind,) in connection.execute("SELECT kind FROM areas")}
        assert kinds == {"water", "path", "building"}
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    (told,) = (words for name, _, words in listed(course_path) if name == "areas")
    assert "path or building" in told


def test_a_file_that_is_up_to_date_is_not_copied(old_course: Path) -> None:
    CourseFile.open(old_course).close()
    with CourseFile.open(old_course) as file:
        assert file.copied_to is None
    assert len(list(old_course.parent.iterdir())) == 2


def test_an_earlier_copy_is_never_overwritten(old_course: Path) -> None:
    earlier = old_course.with_name("course.before-0001-update.gpkg")
    earlier.write_text("keep me")
    with CourseFile.open(old_course) as file:
        assert file.copied_to == old_course.with_name("course.before-0001-update-2.gpkg")
    assert earlier.read_text() == "keep me"


def test_a_migration_that_fails_leaves_the_older_file(
    old_course: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = schema(old_course)

    def failing(*_arguments: object) -> None:
        raise RuntimeError("a bug in a migration")

    monkeypatch.setattr("alembic.op.create_index", failing)
    with pytest.raises(RuntimeError):
        CourseFile.open(old_course)
    assert schema(old_course) == before
    with closing(sqlite3.connect(old_course)) as connection:
        assert connection.execute("SELECT * FROM alembic_version").fetchall() == [("0001",)]


def test_a_newer_file_is_refused_and_left_alone(course_path: Path) -> None:
    with closing(sqlite3.connect(course_path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
    before = course_path.read_bytes()
    with pytest.raises(UserError, match=r"newer nightwater \(version 9999.*Update nightwater"):
        CourseFile.open(course_path)
    assert course_path.read_bytes() == before
    assert [path.name for path in course_path.parent.iterdir()] == ["course.gpkg"]


def test_a_file_that_says_no_version_is_refused(course_path: Path) -> None:
    with closing(sqlite3.connect(course_path)) as connection:
        connection.execute("DELETE FROM alembic_version")
        connection.commit()
    with pytest.raises(UserError, match="says no version"):
        CourseFile.open(course_path)


def test_a_migration_waits_for_nobody_for_ever(old_course: Path) -> None:
    with closing(sqlite3.connect(old_course, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(ConflictError, match="Another program"):
            CourseFile.open(old_course, wait_s=0.05)
        other.execute("ROLLBACK")
    CourseFile.open(old_course).close()


def test_spray_columns_and_tables_come_to_an_older_file_as_in_a_new_one(
    old_course: Path, tmp_path: Path, settings: Settings
) -> None:
    CourseFile.create(tmp_path / "new.gpkg", settings).close()
    with CourseFile.open(old_course) as file:
        assert len(file.ground().heads) == 7
        assert file.ground().heads["tilt_deg"].isna().all()
        assert file.running("cans").empty
        assert file.running("trims").geometry.empty
    questions = (
        "SELECT table_name, data_type, description, srs_id IS NULL FROM gpkg_contents ORDER BY 1",
        "SELECT * FROM gpkg_geometry_columns ORDER BY 1",
    )
    for question in questions:
        answers = []
        for path in (old_course, tmp_path / "new.gpkg"):
            with closing(sqlite3.connect(path)) as connection:
                answers.append(connection.execute(question).fetchall())
        assert answers[0] == answers[1]


def test_hydraulic_columns_come_to_an_older_file_with_its_rows(old_course: Path) -> None:
    with CourseFile.open(old_course) as file:
        ground = file.ground()
        running = {table: file.running(table) for table in ("trims", "holds")}
    assert len(ground.heads) == 7
    for table, names in NEW_HYDRAULIC_COLUMNS.items():
        rows = running[table] if table in running else ground.table(table)
        assert rows[list(names)].isna().all().all()
