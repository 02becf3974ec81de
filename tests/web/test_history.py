"""Everybody reads who changed what; Tomas takes a change back."""

from __future__ import annotations

import re
from typing import Any

import pytest


@pytest.fixture
def changed(served: Any) -> Any:
    """The course with one change of Ines on top."""
    from nightwater.desk.course import open_course
    from nightwater.desk.proposing import accept_ground

    with open_course(served.path) as course:
        accept_ground(
            course,
            lambda ground: ground.with_table("heads", ground.heads.assign(label="same")),
            "Ines",
            "labels by mistake",
            served.clock(),
        )
    return served


def revisions(served: Any) -> Any:
    from nightwater.store.course_file import CourseFile

    with CourseFile.open(served.path) as file:
        return file.revisions()


def test_the_newest_stands_first_with_who_and_why(changed: Any) -> None:
    page = changed.who("Vera").get("/history").text
    first = re.search(r"<tbody><tr>(.*?)</tr>", page, re.S)
    assert first is not None
    assert "Ines" in first.group(1)
    assert "labels by mistake" in first.group(1)
    assert f"{len(revisions(changed))} accepted changes" in page


def test_a_change_is_taken_back_as_a_new_one(changed: Any) -> None:
    last = str(revisions(changed).index[-1])
    answer = changed.who("Tomas").post("/history/undo", revision=last)
    assert (answer.status_code, answer.headers["location"]) == (303, "/history")
    after = revisions(changed).iloc[-1]
    assert (after["who"], after["undoes"]) == ("Tomas", last)
    page = changed.who("Tomas").get("/history").text
    assert f"taken back by {revisions(changed).index[-1]}" in page


def test_what_later_work_builds_on_stays(changed: Any) -> None:
    rows = revisions(changed)
    of_heads = next(str(key) for key, row in rows.iterrows() if "heads" in row["summary"])
    answer = changed.who("Tomas").post("/history/undo", revision=of_heads)
    assert answer.status_code == 409
    assert "cannot be undone" in answer.text
    assert len(revisions(changed)) == len(rows)


def test_a_revision_that_is_none_is_not_found(changed: Any) -> None:
    assert changed.who("Tomas").post("/history/undo", revision="999").status_code == 404


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_others_read_and_learn_why_they_may_not(changed: Any, name: str) -> None:
    page = changed.who(name).get("/history").text
    assert "may change the record; your role is" in page
    assert "Take back" not in page
    last = str(revisions(changed).index[-1])
    assert changed.who(name).post("/history/undo", revision=last).status_code == 403
