"""The record is read once and read again when the file changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from nightwater.desk.course import open_course
from nightwater.findings import UserError
from nightwater.web.reading import CourseReader

NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


def rename(path: Path, name: str) -> None:
    with open_course(path) as course:
        site = replace(course.settings.site, name=name)
        course.file.save_settings(replace(course.settings, site=site), "Ines", "a test", NOW)


def test_the_record_is_kept_between_requests(small_course: Path) -> None:
    reader = CourseReader(small_course)
    with reader.open() as first:
        ground = first.ground
    with reader.open() as second:
        assert second.ground is ground
        assert second.file is not first.file
        assert len(second.file.running("weather")) > 0


def test_a_change_from_elsewhere_is_seen_at_once(small_course: Path) -> None:
    reader = CourseReader(small_course)
    with reader.open() as course:
        assert course.settings.site.name == "Small Links"
    rename(small_course, "Other Links")
    with reader.open() as course:
        assert course.settings.site.name == "Other Links"


def test_what_was_worked_out_is_forgotten_when_the_file_changes(small_course: Path) -> None:
    reader, made = CourseReader(small_course), []

    def value() -> int:
        made.append(1)
        return len(made)

    with reader.open():
        assert [reader.remembered("x", value) for _ in range(3)] == [1, 1, 1]
    rename(small_course, "Other Links")
    with reader.open():
        assert reader.remembered("x", value) == 2


def test_whether_something_is_at_hand_can_be_asked(small_course: Path) -> None:
    reader = CourseReader(small_course)
    assert not reader.knows("x")
    with reader.open():
        assert not reader.knows("x")
        reader.remembered("x", lambda: 7)
        assert reader.knows("x")
        assert not reader.knows("y")
    rename(small_course, "Other Links")
    assert not reader.knows("x")


def test_a_course_that_is_gone_is_told(tmp_path: Path) -> None:
    with pytest.raises(UserError), CourseReader(tmp_path / "none.gpkg").open():
        pass
