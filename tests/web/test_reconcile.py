"""Tomas judges the matches of heads and station list, hole by hole."""

from __future__ import annotations

from typing import Any

import pytest


@pytest.fixture
def bare(served: Any) -> Any:
    """The course served, its heads without station and label, its list naming no heads."""
    from nightwater.desk.course import open_course
    from nightwater.desk.proposing import accept_ground

    with open_course(served.path) as course:
        accept_ground(
            course,
            lambda ground: ground.with_table(
                "heads", ground.heads.assign(station=None, label=None)
            ).with_table("stations", ground.stations.assign(heads=None)),
            "Ines",
            "survey without stations",
            served.clock(),
        )
    return served


def stations(served: Any) -> dict[str, Any]:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return {str(k): v for k, v in course.ground.heads["station"].items() if v is not None}


def test_a_whole_record_has_nothing_to_match(served: Any) -> None:
    page = served.who("Tomas").get("/reconcile").text
    assert "there is nothing to match" in page
    assert "/reconcile/accept" not in page


def test_each_hole_shows_its_matches_in_words_and_marks(bare: Any) -> None:
    page = bare.who("Tomas").get("/reconcile").text
    assert "Hole 1" in page
    assert 'href="/ground?subject=heads:H-F004#map"' in page
    assert page.count('class="verdict-mark verdict-') > 10
    assert "Accept" in page


def test_a_hole_is_accepted_as_a_revision_and_can_be_undone(bare: Any) -> None:
    assert stations(bare) == {}
    answer = bare.who("Tomas").post("/reconcile/accept", place="1")
    assert (answer.status_code, answer.headers["location"]) == (303, "/reconcile")
    after = stations(bare)
    assert after
    from nightwater.store.course_file import CourseFile

    with CourseFile.open(bare.path) as file:
        last = file.revisions().iloc[-1]
        assert (last["who"], "station list" in last["why"]) == ("Tomas", True)
        file.undo(str(file.revisions().index[-1]), "Tomas", "wrong", bare.clock())
    assert stations(bare) == {}


def test_a_place_that_is_none_changes_nothing(bare: Any) -> None:
    answer = bare.who("Tomas").post("/reconcile/accept", place="99")
    assert answer.status_code == 400
    assert "99" in answer.text
    assert stations(bare) == {}


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_others_read_and_learn_why_they_may_not_accept(bare: Any, name: str) -> None:
    page = bare.who(name).get("/reconcile").text
    assert "may change the record; your role is" in page
    assert "/reconcile/accept" not in page
    assert bare.who(name).post("/reconcile/accept", place="1").status_code == 403
    assert stations(bare) == {}


def test_a_strangers_form_is_refused(bare: Any) -> None:
    answer = bare.who("Tomas").post("/reconcile/accept", place="1", token="x")
    assert answer.status_code == 403
    assert stations(bare) == {}
