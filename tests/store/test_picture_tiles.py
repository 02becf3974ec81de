"""Tiles are kept with the row that names them, or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.store.course_file import CourseFile
from nightwater.store.picture_tiles import Tile

TILES: list[Tile] = [
    (level, column, row, bytes([level, column, row])) for level in (0, 1) for column in (0, 1, 2)
    for row in (0, 1)
]  # fmt: skip


def image_row(identity: str = "aerial", **values: object) -> Changes:
    return Changes((RowChange("images", identity, None, {"picture": "abc", **values}),))


def keep(course: CourseFile, now: datetime, tiles: object = TILES, **values: object) -> str:
    return course.accept_picture(
        "abc", tiles, image_row(**values), who="Pilar", why="flight", now=now  # type: ignore[arg-type]
    )  # fmt: skip


def test_a_block_of_tiles_comes_back(course: CourseFile, now: datetime) -> None:
    keep(course, now)
    found = course.tiles("abc", 1, (1, 0), (2, 1))
    assert sorted(found) == [
        (1, 0, b"\x01\x01\x00"),
        (1, 1, b"\x01\x01\x01"),
        (2, 0, b"\x01\x02\x00"),
        (2, 1, b"\x01\x02\x01"),
    ]
    assert course.tiles("abc", 7, (0, 0), (9, 9)) == []
    assert course.tiles("other", 0, (0, 0), (9, 9)) == []


def test_the_row_and_its_revision_are_kept_with_them(course: CourseFile, now: datetime) -> None:
    revision = keep(course, now, label="May")
    assert course.ground().images.loc["aerial", "label"] == "May"
    assert course.revisions().index.tolist() == [revision]


def test_a_row_that_may_not_stand_takes_the_tiles_with_it(
    course: CourseFile, now: datetime
) -> None:
    with pytest.raises(UserError, match="width_px"):
        keep(course, now, width_px=0)
    assert course.tiles("abc", 0, (0, 0), (9, 9)) == []


def test_tiles_that_break_off_leave_nothing(course: CourseFile, now: datetime) -> None:
    def breaking() -> Iterator[Tile]:
        yield TILES[0]
        raise UserError("The picture ends early.")

    with pytest.raises(UserError, match="ends early"):
        keep(course, now, breaking())
    assert course.tiles("abc", 0, (0, 0), (9, 9)) == []
    assert len(course.ground().images) == 0


def test_a_picture_is_written_once(course: CourseFile, now: datetime) -> None:
    keep(course, now)

    def never() -> Iterator[Tile]:
        raise AssertionError("the tiles are there already")
        yield TILES[0]

    course.accept_picture("abc", never(), image_row("second"), who="A", why="b", now=now)
    assert course.ground().images.index.tolist() == ["aerial", "second"]


def test_a_backup_holds_the_tiles(course: CourseFile, now: datetime, tmp_path: Path) -> None:
    keep(course, now)
    course.backup(tmp_path / "copy.gpkg")
    with CourseFile.open(tmp_path / "copy.gpkg") as copy:
        assert len(copy.tiles("abc", 0, (0, 0), (9, 9))) == 6
