"""The table of remembered columns, in new files and in older ones."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from nightwater.store.course_file import CourseFile


def contents(path: Path) -> tuple[object, ...]:
    with closing(sqlite3.connect(path)) as connection:
        row = connection.execute(
            "SELECT identifier, data_type, description, srs_id FROM gpkg_contents "
            "WHERE table_name = 'column_matches'"
        ).fetchone()
    return tuple(row)


def test_an_older_file_gets_the_table_as_a_new_one_has_it(course_path: Path) -> None:
    new = contents(course_path)
    with closing(sqlite3.connect(course_path)) as connection:
        connection.execute("DROP TABLE column_matches")
        connection.execute("DELETE FROM gpkg_contents WHERE table_name = 'column_matches'")
        connection.execute("UPDATE alembic_version SET version_num = '0003'")
        connection.commit()
    with CourseFile.open(course_path) as file:
        assert file.copied_to is not None
        assert file.running("column_matches").empty
    assert contents(course_path) == new
