"""The sentence of a station: every part in words, in both systems of units."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from nightwater.desk.station_words import station_sentence, trim_sentence
from nightwater.night.explaining import Explained, Whole
from nightwater.night.hand_changes import ActingHold, ActingTrim
from nightwater.night.plan import LeftOut
from nightwater.units import UnitSystem

ZONE = "America/Denver"
FRIDAY = date(2026, 7, 17)
KNOLL = ActingTrim("stations:S1", 1.1, 0.0, FRIDAY, "dry knoll", "A. Superintendent")
MAP = Explained(
    given_min=24, asked_min=24, by_map=True, why_by_rate="", need_mm=7.1, ground_need_mm=6.4,
    rate_mm_h=16.0, multiplier=0.8, trims=(KNOLL,), trim_words="", exact_min=24.0,
    whole=Whole.AS_IS, why_none="", left_out=None,
)  # fmt: skip
HOLD = ActingHold("event", datetime(2026, 7, 18, 12, tzinfo=UTC), "club final", "Ines")


def said(units: UnitSystem = UnitSystem.METRIC, **changes: Any) -> str:
    return station_sentence(replace(MAP, **changes), units, ZONE)


def test_minutes_by_the_map_in_metric_and_us_units() -> None:
    assert said() == (
        "24 min by the map: area need 7.1 mm, the ground its heads wet averages 6.4 mm; trim of "
        "this station +10 % until Fri 17 Jul 2026 by A. Superintendent: dry knoll."
    )
    in_us = said(UnitSystem.US)
    assert "area need 0.28 in, the ground its heads wet averages 0.25 in;" in in_us
    assert " mm" not in in_us


def test_minutes_by_rate_say_why_the_map_does_not_lead() -> None:
    words = {"by_map": False, "why_by_rate": "the pattern of head H3 is not known", "trims": ()}
    assert said(**words, multiplier=1.25) == (
        "24 min by rate: area need 7.1 mm at 16.0 mm/h, × 1.25 for unevenness; not by the map, "
        "as the pattern of head H3 is not known."
    )
    assert "at 0.63 in/h" in said(UnitSystem.US, **words)


@pytest.mark.parametrize(
    ("whole", "words"),
    [
        (Whole.ROUNDED, "rounded from 23.6 min"),
        (Whole.FLOOR, "raised from 23.6 min, so that heads turn often enough to be even"),
        (Whole.LONGEST, "cut from 23.6 min to the longest run allowed"),
    ],
)
def test_what_made_the_minutes_whole_is_said(whole: Whole, words: str) -> None:
    assert said(whole=whole, exact_min=23.6).endswith(f"dry knoll; {words}.")
    assert "23.6" not in said(exact_min=23.6)


def test_a_night_too_full_leaves_it_out_with_the_reason() -> None:
    left = LeftOut("S1", 24, "the pump is full between 22:00 and 05:00: a plan may use 90 L/s")
    words = said(given_min=0, left_out=left)
    assert words.startswith("0 of 24 min by the map: area need")
    assert words.endswith(
        "left out tonight, as the pump is full between 22:00 and 05:00: a plan may use 90 L/s; "
        "24 min stay owed."
    )


def test_a_hold_is_named_with_its_end_in_local_time_its_author_and_reason() -> None:
    left = LeftOut("S1", 24, "held (event): club final, Ines", HOLD)
    words = said(given_min=0, left_out=left)
    assert words.endswith(
        "held until Sat 18 Jul 2026, 06:00, by Ines (event): club final; 24 min stay owed."
    )
    assert "left out" not in words


def test_a_hold_of_an_older_plan_keeps_its_words() -> None:
    old = LeftOut("S1", 24, "held (event): club final, Ines")
    assert "left out tonight, as held (event): club final, Ines;" in said(given_min=0, left_out=old)


def test_a_station_that_asks_nothing_says_why_in_the_readers_units() -> None:
    none = {"asked_min": 0, "given_min": 0, "trims": ()}
    why = "need 1.27 mm is under 2 mm; it stays in the account for another night"
    assert said(**none, why_none=why).startswith("0 min: need 1.3 mm is under 2.0 mm; it stays")
    assert "need 0.05 in is under 0.08 in;" in said(UnitSystem.US, **none, why_none=why)
    assert said(**none, why_none="it needs no water") == "0 min: it needs no water."


def test_trimmed_to_nothing_names_the_trim() -> None:
    gone = replace(KNOLL, factor=0.0, reason="rebuilt")
    words = said(asked_min=0, given_min=0, why_none="trimmed to nothing", trims=(gone,))
    assert words == (
        "0 min: trimmed to nothing; trim of this station −100 % until Fri 17 Jul 2026 by "
        "A. Superintendent: rebuilt."
    )


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"subject": "course"}, "trim of the whole course +10 % until"),
        ({"subject": "kind:green"}, "trim of all green areas +10 % until"),
        ({"subject": "areas:A1"}, "trim of its area +10 % until"),
        ({"subject": "holes:H7", "factor": 0.85}, "trim of its hole −15 % until"),
        ({"factor": 1.0, "extra_min": 3.0}, "trim of this station +3 min until"),
        ({"factor": 0.9, "extra_min": -2.0}, "trim of this station −10 % and −2 min until"),
        ({"factor": 1.0}, "trim of this station no change until"),
        (
            {"subject": "map", "share": 0.42},
            "trim of a drawn patch, in which 42 % of its water falls, +10 % until",
        ),
    ],
)
def test_every_trim_says_of_what_and_how_much(changes: dict[str, Any], words: str) -> None:
    told = trim_sentence(replace(KNOLL, **changes))
    assert told.startswith(words)
    assert told.endswith("Fri 17 Jul 2026 by A. Superintendent: dry knoll")


def test_all_trims_stand_in_the_sentence_and_those_of_an_older_plan_as_they_were() -> None:
    second = replace(KNOLL, subject="course", factor=0.9, reason="members' day", author="Pilar")
    both = said(trims=(KNOLL, second))
    assert both.index("dry knoll") < both.index("by Pilar: members' day")
    old = said(trims=(), trim_words="course × 0.9 + 0 min until 2026-07-17: firm (Ines)")
    assert "; trim course × 0.9 + 0 min until 2026-07-17: firm (Ines)." in old
