"""Ines holds what must stay dry, sees what that keeps back, and ends a hold early."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from nightwater.desk.course import Course, open_course
from nightwater.desk.holding import (
    HoldState,
    HoldWish,
    add_hold,
    around_head,
    end_hold,
    held_subject,
    holds_listed,
    subject_words,
)
from nightwater.desk.planning import plan
from nightwater.findings import NotFoundError, UserError

NIGHT = date(2026, 7, 14)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
EVENING, MORNING = "2026-07-14T18:00", "2026-07-15T09:00"


@pytest.fixture
def course(built_course: Path, tmp_path: Path) -> Iterator[Course]:
    copy = tmp_path / "held.gpkg"
    shutil.copy(built_course, copy)
    with open_course(copy) as opened:
        yield opened


def hold(course: Course, subject: str, start: str = EVENING, end: str = MORNING) -> str:
    wish = HoldWish(subject, "event", start, end, "wedding")
    return add_hold(course, wish, who="Ines")


def listed(course: Course, now: datetime = NOW) -> dict[str, HoldState]:
    return {one.id: one.state for one in holds_listed(course, NIGHT, now)}


def test_a_hold_is_kept_in_utc_and_told_in_words(course: Course) -> None:
    identity = hold(course, "holes:1")
    (one,) = holds_listed(course, NIGHT, NOW)
    assert (one.id, one.subject, one.cause, one.reason) == (
        identity, "holes:H1", "event", "wedding",
    )  # fmt: skip
    assert one.words == "hole 1"
    assert one.start == datetime(2026, 7, 15, 0, tzinfo=UTC)  # 18:00 in Denver
    assert (one.author, one.ended, one.state) == ("Ines", "", HoldState.COMING)


def test_holds_end_by_themselves(course: Course) -> None:
    identity = hold(course, "kind:green")
    states = [listed(course, datetime(2026, 7, day, 6, tzinfo=UTC))[identity] for day in (14, 15)]
    assert states == [HoldState.COMING, HoldState.ON]
    assert listed(course, datetime(2026, 7, 15, 15, tzinfo=UTC))[identity] is HoldState.OVER


def test_the_list_tells_what_is_kept_back_tonight_and_was_before(course: Course) -> None:
    identity = hold(course, "kind:green")
    planned = plan(course, NIGHT, who="Ines", now=NOW).plan
    (one,) = holds_listed(course, NIGHT, NOW)
    owed = {item.station: item.owed_min for item in planned.left_out}
    flows = {item.station: item.flow_l_s for item in planned.sums}
    assert sorted(owed) == ["S-G0", "S-G1", "S-G2", "S-G3"]
    assert one.id == identity
    assert (one.tonight.stations, one.tonight.minutes) == (4, sum(owed.values()))
    litres = sum(60 * flows[name] * minutes for name, minutes in owed.items())
    assert one.tonight.litres == pytest.approx(litres)
    assert one.before.litres == 0
    course.file.approve_night(f"{NIGHT}-1", "Ines", NOW)
    (later,) = holds_listed(course, date(2026, 7, 15), NOW)
    assert (later.tonight.litres, later.before.litres) == (0, pytest.approx(litres))


def test_ending_early_keeps_the_hold_with_who_and_why(course: Course) -> None:
    identity = hold(course, "course")
    evening = datetime(2026, 7, 15, 1, 30, tzinfo=UTC)
    end_hold(course, identity, "called off", who="Tomas", now=evening)
    (one,) = holds_listed(course, NIGHT, evening)
    assert (one.state, one.end, one.reason) == (HoldState.ENDED, evening, "wedding")
    assert one.ended == (
        "Tomas, 2026-07-14 19:30 (it was to last until 2026-07-15 09:00): called off"
    )
    with pytest.raises(UserError, match="over already"):
        end_hold(course, identity, "again", who="Tomas", now=evening)


def test_ending_needs_a_reason_and_a_hold(course: Course) -> None:
    identity = hold(course, "course")
    with pytest.raises(UserError, match="Say why"):
        end_hold(course, identity, "  ", who="Tomas", now=NOW)
    with pytest.raises(NotFoundError, match="no hold 'x'"):
        end_hold(course, "x", "called off", who="Tomas", now=NOW)
    assert listed(course)[identity] is HoldState.COMING


def test_a_circle_around_a_head_holds_its_neighbours(course: Course) -> None:
    # Heads stand 20 m apart along the row, and the next row 28 m or more away.
    subject = around_head(course, "H-F003", 21.0)
    hold(course, subject)
    planned = plan(course, NIGHT, who="Ines", now=NOW).plan
    assert {item.station for item in planned.left_out} == {"S-F002", "S-F003", "S-F004"}
    assert not [f for f in planned.findings if f.severity == "error"]
    assert subject_words(course, subject).startswith("21 m around ")


@pytest.mark.parametrize(
    ("subject", "match"),
    [
        ("point:1,2", "is no circle"),
        ("point:1,2,0", "is no circle"),
        ("point:1,2,3000", "up to 2000 m"),
        ("kind:gren", "Did you mean green"),
        ("heads:H-F00", "Did you mean"),
        ("trees:1", "heads:ID, controllers:ID"),
    ],
)
def test_what_holds_nothing_is_refused(course: Course, subject: str, match: str) -> None:
    with pytest.raises(UserError, match=match):
        held_subject(course, subject)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"cause": "party"}, "no cause"),
        ({"end": EVENING}, "not after"),
        ({"start": "soon"}, "is not a time"),
        ({"reason": " "}, "needs a reason"),
    ],
)
def test_a_wish_that_cannot_be_is_refused(
    course: Course, change: dict[str, str], match: str
) -> None:
    values = {"subject": "course", "cause": "rain", "start": EVENING, "end": MORNING}
    wish = HoldWish(**({"reason": "storm"} | values | change))
    with pytest.raises(UserError, match=match):
        add_hold(course, wish, who="Ines")
    assert listed(course) == {}


def test_no_circle_lies_around_nothing(course: Course) -> None:
    with pytest.raises(UserError, match="no row 'nowhere'"):
        around_head(course, "nowhere", 10.0)
    with pytest.raises(UserError, match="radius must be above 0"):
        around_head(course, "H-F003", 0.0)
