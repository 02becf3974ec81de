"""Under which names a hold holds a station, and what stretch of the night it leaves."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from nightwater.night.holds import (
    Circle,
    Held,
    KeptBack,
    circle_of,
    free_minutes,
    holds_of,
    kept_back,
)

ONE = Held(100.0, 200.0, "held")


def test_holds_of_a_station_come_in_order_of_time() -> None:
    early, late = Held(0.0, 5.0, "a"), Held(7.0, 9.0, "b")
    by_subject = {"course": [late], "kind:green": [early], "kind:tee": [ONE]}
    assert holds_of({"course", "kind:green"}, by_subject) == [early, late]


@pytest.mark.parametrize(
    ("holds", "stretch"),
    [
        ([], (0, 480)),
        ([ONE], (200, 480)),
        ([Held(300.0, 480.0, "")], (0, 300)),
        ([Held(100.4, 380.6, "")], (0, 100)),
        ([ONE, Held(150.0, 420.0, "")], (0, 100)),
        ([Held(-10.0, 500.0, "")], (0, 0)),
    ],
)
def test_the_longest_stretch_without_a_hold_is_left(
    holds: list[Held], stretch: tuple[int, int]
) -> None:
    first, last = free_minutes(0, 480, holds)
    assert (first, last) == stretch or first == last == stretch[1]


@pytest.mark.parametrize(
    ("subject", "circle"),
    [
        ("point:10.5,-20,30", Circle(10.5, -20.0, 30.0)),
        ("point:1,2,0", None),
        ("point:1,2,-5", None),
        ("point:1,2", None),
        ("point:1,2,nan", None),
        ("point:1,2,x", None),
        ("heads:1,2,3", None),
        ("course", None),
    ],
)
def test_a_circle_is_read_from_a_subject(subject: str, circle: Circle | None) -> None:
    assert circle_of(subject) == circle


def test_a_circle_holds_its_rim_and_is_written_to_the_decimetre() -> None:
    circle = Circle(0.0, 0.0, 5.0)
    assert circle.holds(3.0, 4.0)
    assert not circle.holds(3.0, 4.01)
    assert Circle(1.26, 2.0, 3.04).subject == "point:1.3,2.0,3.0"


NIGHT_LONG = ("2025-07-11T02:00:00Z", "2025-07-11T12:00:00Z")


def four(row_of: Any) -> Any:
    kinds = ("rough", "green", "rough", "green")
    return row_of(*((kind, 2, (10, 10) if kind == "green" else (20,)) for kind in kinds))


def test_what_holds_keep_back_is_counted_in_minutes_and_litres(row_of: Any) -> None:
    course = four(row_of).held("kind:green", *NIGHT_LONG).held("stations:S0", *NIGHT_LONG)
    kept = kept_back(course.night(), course.ground, course.holds)
    # Two heads of 1.7 L/s for 20 minutes are 4,080 L a station.
    assert kept["D0"] == KeptBack(2, 40, pytest.approx(8160.0))
    assert kept["D1"] == KeptBack(1, 20, pytest.approx(4080.0))


def test_a_station_under_two_holds_is_counted_once(row_of: Any) -> None:
    first = four(row_of).held("course", *NIGHT_LONG)
    both = first.held("kind:green", "2025-07-11T02:30:00Z", NIGHT_LONG[1], reason="paint")
    kept = kept_back(both.night(), both.ground, both.holds)
    assert (kept["D0"].stations, kept["D1"].stations) == (4, 0)


def test_a_hold_that_leaves_room_keeps_nothing_back(row_of: Any) -> None:
    course = four(row_of).held("course", "2025-07-11T03:00:00Z", "2025-07-11T04:00:00Z")
    kept = kept_back(course.night(), course.ground, course.holds)
    assert kept == {"D0": KeptBack(0, 0, 0.0)}


def test_a_hold_that_was_ended_early_since_still_counts_for_its_night(row_of: Any) -> None:
    course = four(row_of).held("kind:green", *NIGHT_LONG)
    since = course.holds.assign(end="2025-07-11T02:00:00Z", ended="2025-07-11T02:00:00Z")
    assert kept_back(course.night(), course.ground, since)["D0"].stations == 2


def test_unknown_flow_adds_minutes_and_no_litres(row_of: Any) -> None:
    course = four(row_of).held("stations:S0", *NIGHT_LONG)
    night = course.night()
    sums = tuple(replace(s, flow_l_s=math.nan) if s.station == "S0" else s for s in night.sums)
    kept = kept_back(replace(night, sums=sums), course.ground, course.holds)
    assert kept["D0"] == KeptBack(1, 20, 0.0)
