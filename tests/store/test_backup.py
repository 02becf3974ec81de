"""A complete copy while others work."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.ground.changes import Changes
from nightwater.store.course_file import CourseFile


def test_a_copy_holds_everything_in_one_file(
    course: CourseFile, new_heads: Callable[..., Changes], now: datetime, tmp_path: Path
) -> None:
    course.accept(new_heads(20), "Pilar", "survey", now)
    course.save_night(date(2026, 7, 14), {"runs": []}, now)
    folder = tmp_path / "safe"
    folder.mkdir()
    course.backup(folder / "copy.gpkg")
    assert [path.name for path in folder.iterdir()] == ["copy.gpkg"]
    with CourseFile.open(folder / "copy.gpkg") as copy:
        assert copy.ground().heads.equals(course.ground().heads)
        assert copy.nights().equals(course.nights())
        assert copy.revisions().equals(course.revisions())


def test_a_copy_taken_during_a_write_holds_what_was_saved_before(
    course: CourseFile, new_heads: Callable[..., Changes], now: datetime, tmp_path: Path
) -> None:
    course.accept(new_heads(2), "Pilar", "survey", now)
    with closing(sqlite3.connect(course.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("DELETE FROM heads")
        course.backup(tmp_path / "copy.gpkg")
        other.execute("COMMIT")
    with CourseFile.open(tmp_path / "copy.gpkg") as copy:
        assert len(copy.ground().heads) == 2
    assert course.ground().heads.empty


def test_an_older_copy_is_replaced_only_by_a_whole_one(
    course: CourseFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "copy.gpkg"
    target.write_text("last week's copy")

    def failing(_path: Path) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("nightwater.store.backup._flushed", failing)
    with pytest.raises(UserError, match="no space left"):
        course.backup(target)
    assert target.read_text() == "last week's copy"
    monkeypatch.undo()
    course.backup(target)
    CourseFile.open(target).close()
    assert sorted(p.name for p in tmp_path.glob("*copy*")) == ["copy.gpkg"]


def test_a_copy_over_itself_or_nowhere_is_refused(course: CourseFile, tmp_path: Path) -> None:
    with pytest.raises(UserError, match="another name"):
        course.backup(course.path)
    link = tmp_path / "link.gpkg"
    link.symlink_to(course.path)
    with pytest.raises(UserError, match="another name"):
        course.backup(link)
    with pytest.raises(UserError, match="no folder"):
        course.backup(tmp_path / "none" / "copy.gpkg")
