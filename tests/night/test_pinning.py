"""A station is moved by hand; the rest stays, and a new plan goes around it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from nightwater.night.build import plan_night
from nightwater.night.document import night_from_document, night_to_document
from nightwater.night.pinning import can_move, moved, runs_of, unpinned
from nightwater.night.plan import Night, Pin
from nightwater.night.referee import referee

NIGHT = date(2025, 7, 10)


@pytest.fixture
def course(row_of: Any) -> Any:
    return row_of(("green", 2, (10, 10)), ("rough", 2, (20,)), ("tee", 2, (15,)), pump_l_s=7.0)


def starts(night: Night, station: str) -> list[int]:
    return [run.start_min for run in runs_of(night, station)]


def errors(course: Any, night: Night) -> list[str]:
    found = referee(night, course.ground, course.settings, course.holds)
    return [finding.code for finding in found if finding.severity == "error"]


def test_cycles_move_together_and_the_others_stay(course: Any) -> None:
    before = course.night()
    after = moved(before, "S0", 200, "Ines")
    first, second = starts(before, "S0")
    assert starts(after, "S0") == [200, 200 + second - first]
    for other in ("S1", "S2"):
        assert starts(after, other) == starts(before, other)
    assert after.pins == (Pin("S0", 200, "Ines"),)
    assert after.finish_min == 200 + second - first + 10
    assert errors(course, after) == []


def test_flow_follows_the_move_and_no_litre_is_lost(course: Any) -> None:
    before, after = course.night(), moved(course.night(), "S1", 300, "Ines")
    assert after.flow_l_s[300:320] == pytest.approx([3.4] * 20)
    assert after.flow_l_s[320] == 0
    assert after.volume_m3 == pytest.approx(before.volume_m3)


def test_the_referee_sees_a_move_that_overdraws_the_pump(course: Any) -> None:
    at = starts(course.night(), "S2")[0]
    crowded = moved(moved(course.night(), "S0", at, "Ines"), "S1", at, "Ines")
    # Three stations of 3.4 L/s at once, and the pump may give 7.
    assert "pump-overdrawn" in errors(course, crowded)


@pytest.mark.parametrize(
    ("station", "start", "reason"),
    [
        ("S1", -1, "before the night starts"),
        ("S1", 461, "end after the night"),
        ("S1", 460, None),
        ("S9", 10, "does not run"),
    ],
)
def test_a_start_that_cannot_be_is_told(
    course: Any, station: str, start: int, reason: str | None
) -> None:
    night = course.night()
    told = can_move(night, station, start)
    assert (told is None) if reason is None else (told is not None and reason in told)
    if reason is not None:
        with pytest.raises(ValueError, match=reason):
            moved(night, station, start, "Ines")


def test_a_second_pin_takes_the_place_of_the_first(course: Any) -> None:
    night = moved(moved(course.night(), "S1", 100, "Ines"), "S1", 120, "Tomas")
    assert night.pins == (Pin("S1", 120, "Tomas"),)
    assert unpinned(night, "S1").pins == ()
    assert starts(unpinned(night, "S1"), "S1") == [120]


def test_a_plan_keeps_its_pins_and_goes_around_them(course: Any) -> None:
    pins = (Pin("S1", 0, "Ines"), Pin("S2", 3, "Ines"))
    night = plan_night(course.ground, course.sums, course.settings, NIGHT, course.holds, pins=pins)
    assert (starts(night, "S1"), starts(night, "S2")) == ([0], [3])
    assert starts(night, "S0")[0] >= 10 or max(night.flow_l_s) <= 7.0
    assert errors(course, night) == []
    assert night.pins == pins
    # Pins can be lifted, so the bound is that of the free night.
    assert night.bound == course.night().bound


def test_pins_survive_the_document(course: Any) -> None:
    night = moved(course.night(), "S1", 100, "Ines")
    document = night_to_document(night)
    assert document["pins"][0]["start"] == "2025-07-10T22:40:00-06:00"
    assert night_from_document(document) == night
    del document["pins"]
    assert night_from_document(document).pins == ()


def test_a_pin_that_the_night_no_longer_holds_does_not_count(course: Any) -> None:
    late = (Pin("S1", 470, "Ines"),)
    night = plan_night(course.ground, course.sums, course.settings, NIGHT, course.holds, pins=late)
    assert starts(night, "S1") == starts(course.night(), "S1")
    assert errors(course, night) == []
