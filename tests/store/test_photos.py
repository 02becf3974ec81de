"""Photos are kept with their row, or not at all, and are never changed or removed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest

from nightwater.findings import UserError
from nightwater.store.course_file import CourseFile

CONTENTS = {"whole": b"large", "small": b"little"}


def row(now: datetime, identity: str = "p1", **values: object) -> pd.DataFrame:
    known = {
        "subject": "heads:H1", "text": "worn", "author": "Pilar", "time": now,
        "digest": "abc", "width_px": 20, "height_px": 10,
    }  # fmt: skip
    return pd.DataFrame([known | values], index=pd.Index([identity], name="id"))


def test_a_photo_comes_back_with_its_files(course: CourseFile, now: datetime) -> None:
    course.keep_photo(row(now), CONTENTS)
    kept = course.running("photos", subject="heads:H1").loc["p1"]
    assert (kept["text"], kept["author"], kept["width_px"]) == ("worn", "Pilar", 20)
    assert course.photo_content("abc", "whole") == b"large"
    assert course.photo_content("abc", "small") == b"little"
    assert course.photo_content("abc", "huge") is None
    assert course.photo_content("other", "whole") is None


def test_the_same_pixels_are_kept_once(
    course: CourseFile, course_path: Path, now: datetime
) -> None:
    course.keep_photo(row(now), CONTENTS)
    course.keep_photo(row(now, "p2", subject="heads:H2"), CONTENTS)
    assert course.running("photos").index.tolist() == ["p1", "p2"]
    with closing(sqlite3.connect(course_path)) as connection:
        assert connection.execute("SELECT count(*) FROM photo_contents").fetchone() == (2,)


def test_a_row_that_may_not_stand_takes_the_files_with_it(
    course: CourseFile, now: datetime
) -> None:
    with pytest.raises(UserError):
        course.keep_photo(row(now, text=None), CONTENTS)
    assert course.photo_content("abc", "whole") is None
    with pytest.raises(UserError):
        course.keep_photo(row(now), {"huge": b"x"} | CONTENTS)
    assert course.running("photos").empty


def withdrawal(now: datetime, **values: object) -> pd.DataFrame:
    known = {"withdrawn_by": "Tomas", "withdrawn": now, "withdrawn_why": "another head"}
    return pd.DataFrame([known | values], index=pd.Index(["p1"], name="id"))


def test_a_photo_is_withdrawn_once(course: CourseFile, now: datetime) -> None:
    course.keep_photo(row(now), CONTENTS)
    course.append("photos", withdrawal(now))
    with pytest.raises(UserError, match="withdrawn once"):
        course.append("photos", withdrawal(now, withdrawn_by="Ines"))
    assert course.running("photos").loc["p1", "withdrawn_by"] == "Tomas"
    assert course.photo_content("abc", "whole") == b"large"


@pytest.mark.parametrize(
    "change", [{"text": "fine"}, {"author": "Vera"}, {"digest": "x"}, {"subject": "heads:H2"}]
)
def test_what_was_recorded_is_not_changed(
    course: CourseFile, now: datetime, change: dict[str, str]
) -> None:
    course.keep_photo(row(now), CONTENTS)
    with pytest.raises(UserError, match="not changed"):
        course.append("photos", pd.DataFrame([change], index=pd.Index(["p1"], name="id")))
    with pytest.raises(UserError, match="not changed"):
        course.keep_photo(row(now, **change), CONTENTS)


def test_no_statement_removes_a_photo(course: CourseFile, course_path: Path, now: datetime) -> None:
    course.keep_photo(row(now), CONTENTS)
    with (
        closing(sqlite3.connect(course_path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="withdrawn, not removed"),
    ):
        connection.execute("DELETE FROM photos")
