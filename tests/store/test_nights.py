"""Editions of nights: drafts, the approved one, and what may still change on it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import date, datetime, timedelta

import pytest

from nightwater.findings import NotFoundError, UserError
from nightwater.store.course_file import CourseFile

NIGHT = date(2026, 7, 14)
PLAN = {"night": "2026-07-14", "runs": [{"station": "S1", "run_min": 12}]}


def test_a_night_is_saved_as_the_next_draft_edition_of_its_date(
    course: CourseFile, now: datetime
) -> None:
    made = [course.save_night(NIGHT, PLAN, now) for _ in range(2)]
    made.append(course.save_night(NIGHT + timedelta(days=1), PLAN, now))
    assert made == ["2026-07-14-1", "2026-07-14-2", "2026-07-15-1"]
    rows = course.nights()
    assert rows["edition"].tolist() == [1, 2, 1]
    assert set(rows["state"]) == {"draft"}
    assert rows["made"].tolist() == ["2026-07-14T21:00:00Z"] * 3
    assert json.loads(rows.loc[made[0], "plan"]) == PLAN


def test_approving_freezes_and_replaces_the_earlier_edition(
    course: CourseFile, now: datetime
) -> None:
    first, second = (course.save_night(NIGHT, PLAN, now) for _ in range(2))
    other = course.save_night(NIGHT + timedelta(days=1), PLAN, now)
    course.approve_night(other, "Ines", now)
    course.approve_night(first, "Ines", now)
    course.approve_night(second, "Quill", now + timedelta(hours=1))
    rows = course.nights()
    assert rows["state"].to_dict() == {first: "replaced", second: "approved", other: "approved"}
    assert rows.loc[first, ["approved_by", "approved"]].tolist() == ["Ines", "2026-07-14T21:00:00Z"]
    assert rows.loc[second, ["approved_by", "approved"]].tolist() == [
        "Quill",
        "2026-07-14T22:00:00Z",
    ]


@pytest.mark.parametrize("state", ["approved", "replaced"])
def test_only_a_draft_can_be_approved(course: CourseFile, now: datetime, state: str) -> None:
    night = course.save_night(NIGHT, PLAN, now)
    course.approve_night(night, "Ines", now)
    if state == "replaced":
        course.approve_night(course.save_night(NIGHT, PLAN, now), "Ines", now)
    before = course.nights()
    with pytest.raises(UserError, match=f"is {state} already"):
        course.approve_night(night, "Ines", now)
    assert course.nights().equals(before)


def test_nobody_approves_nothing(course: CourseFile, now: datetime) -> None:
    with pytest.raises(UserError, match="who approves"):
        course.approve_night(course.save_night(NIGHT, PLAN, now), " ", now)
    with pytest.raises(NotFoundError, match="no night 'x'"):
        course.approve_night("x", "Ines", now)


CHANGES = [
    "UPDATE nights SET plan = '{}'",
    "UPDATE nights SET night = '2026-07-20'",
    "UPDATE nights SET edition = 7",
    "UPDATE nights SET id = 'other'",
    "UPDATE nights SET made = '2026-07-01T00:00:00Z'",
    "UPDATE nights SET approved_by = 'somebody else'",
    "UPDATE nights SET approved = '2026-07-01T00:00:00Z'",
    "UPDATE nights SET state = 'draft'",
]


@pytest.mark.parametrize("change", CHANGES)
def test_no_program_changes_an_approved_night(
    course: CourseFile, now: datetime, change: str
) -> None:
    night = course.save_night(NIGHT, PLAN, now)
    course.approve_night(night, "Ines", now)
    with (
        closing(sqlite3.connect(course.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="approved night is not changed"),
    ):
        connection.execute(change)
    assert json.loads(course.nights().loc[night, "plan"]) == PLAN


def test_a_replaced_night_stays_replaced_and_none_is_removed(
    course: CourseFile, now: datetime
) -> None:
    for _ in range(2):
        course.approve_night(course.save_night(NIGHT, PLAN, now), "Ines", now)
    with closing(sqlite3.connect(course.path)) as connection:
        with pytest.raises(sqlite3.IntegrityError, match="not changed"):
            connection.execute("UPDATE nights SET state = 'approved' WHERE edition = 1")
        with pytest.raises(sqlite3.IntegrityError, match="not removed"):
            connection.execute("DELETE FROM nights WHERE edition = 1")


def test_a_draft_may_go(course: CourseFile, now: datetime) -> None:
    course.save_night(NIGHT, PLAN, now)
    with closing(sqlite3.connect(course.path)) as connection:
        connection.execute("DELETE FROM nights")
        connection.commit()
    assert course.nights().empty


def test_the_proof_is_kept_beside_the_plan(course: CourseFile, now: datetime) -> None:
    night = course.save_night(NIGHT, PLAN, now)
    with pytest.raises(UserError, match="draft"):
        course.save_proof(night, {"green": 3})
    course.approve_night(night, "Ines", now)
    course.save_proof(night, {"green": 3})
    course.save_proof(night, {"green": 4, "words": "naß"})
    row = course.nights().loc[night]
    assert json.loads(row["proof"]) == {"green": 4, "words": "naß"}
    assert json.loads(row["plan"]) == PLAN
    with pytest.raises(NotFoundError):
        course.save_proof("x", {})


def test_a_document_that_is_no_json_is_refused(course: CourseFile, now: datetime) -> None:
    with pytest.raises(UserError, match="JSON"):
        course.save_night(NIGHT, {"flow": float("nan")}, now)
    assert course.nights().empty
