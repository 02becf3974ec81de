"""What stands beside a trim or hold that somebody ended early."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from nightwater.desk.course import Course, open_course
from nightwater.desk.ending import end_early, ended_words
from nightwater.desk.exceptions import TrimWish, add_trim, end_exception, exceptions
from nightwater.desk.holding import HoldWish, add_hold
from nightwater.findings import UserError

NOW = datetime(2026, 7, 15, 21, tzinfo=UTC)  # 15:00 in Denver
ZONE = ZoneInfo("America/Denver")


@pytest.fixture
def course(built_course: Path, tmp_path: Path) -> Iterator[Course]:
    copy = tmp_path / "ended.gpkg"
    shutil.copy(built_course, copy)
    with open_course(copy) as opened:
        yield opened


def held(course: Course) -> str:
    wish = HoldWish("course", "event", "2026-07-15T12:00", "2026-07-16T06:00", "wedding")
    return add_hold(course, wish, who="Ines")


def test_nothing_is_told_of_what_nobody_ended(course: Course) -> None:
    name = held(course)
    row = course.file.running("holds").loc[name]
    assert ended_words(row, ZONE) == ""
    assert [one["ended"] for one in exceptions(course)] == [""]


def test_a_hold_keeps_its_reason_and_its_old_end(course: Course) -> None:
    name = held(course)
    end_exception(course, name, who="Tomas", now=NOW)
    row = course.file.running("holds").loc[name]
    assert (row["reason"], row["end"], row["meant_until"]) == (
        "wedding", "2026-07-15T21:00:00Z", "2026-07-16T12:00:00Z",
    )  # fmt: skip
    assert ended_words(row, ZONE) == (
        "Tomas, 2026-07-15 15:00 (it was to last until 2026-07-16 06:00)"
    )


def test_words_like_an_end_in_a_reason_end_nothing(course: Course) -> None:
    wish = HoldWish("course", "other", "2026-07-15T12:00", "2026-07-16T06:00", "x — ended early by")
    add_hold(course, wish, who="Ines")
    assert [one["ended"] for one in exceptions(course)] == [""]


def test_what_is_over_is_not_ended_again(course: Course) -> None:
    wish = TrimWish("kind:rough", 0.8, 0.0, date(2026, 7, 1), date(2026, 7, 5), "let it go")
    add_trim(course, wish, who="Ines")
    name = str(course.file.running("trims").index[0])
    with pytest.raises(UserError, match="The trim on kind:rough is over already"):
        end_early(course, "trims", name, "2026-07-14", who="Tomas", why="", now=NOW)
    assert course.file.running("trims").loc[name, "last_night"] == "2026-07-05"
