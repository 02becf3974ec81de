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


def test_the_editor_reads_the_newest_revisions(changed: Any) -> None:
    """A revision that takes none back has nothing there, which JSON cannot write as no number."""
    last = str(revisions(changed).index[-1])
    tomas = changed.who("Tomas")
    tomas.post("/history/undo", revision=last)
    answer = tomas.get("/history/revisions.json")
    assert answer.status_code == 200
    told = answer.json()["revisions"]
    assert [line["revision"] for line in told] == list(map(str, revisions(changed).index[::-1]))
    assert (told[0]["who"], told[0]["undoes"]) == ("Tomas", last)
    assert (told[1]["undone_by"], told[1]["why"]) == (told[0]["revision"], "labels by mistake")
    assert (told[1]["undoes"], told[2]["undone_by"]) == (None, None)
    assert changed.who("Vera").get("/history/revisions.json").json() == answer.json()


def test_at_most_one_page_of_revisions_goes_to_the_editor(
    changed: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nightwater.web.history.routes.PER_PAGE", 1)
    told = changed.who("Tomas").get("/history/revisions.json").json()["revisions"]
    assert [line["why"] for line in told] == ["labels by mistake"]


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_others_read_and_learn_why_they_may_not(changed: Any, name: str) -> None:
    page = changed.who(name).get("/history").text
    assert "may change the record; your role is" in page
    assert "Take back" not in page
    last = str(revisions(changed).index[-1])
    assert changed.who(name).post("/history/undo", revision=last).status_code == 403
