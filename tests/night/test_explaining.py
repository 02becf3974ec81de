"""The parts of a station's sentence: what acted, what made minutes whole, why not by the map."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pandas as pd
import pytest

from nightwater.findings import UserError
from nightwater.night.document import night_from_document, night_to_document
from nightwater.night.explaining import (
    Whole,
    explained,
    explained_night,
    why_not_by_map,
    with_reasons,
)
from nightwater.night.hand_changes import ActingHold, ActingTrim
from nightwater.night.holds import holds_by_subject
from nightwater.night.plan import LeftOut, Run, StationSum

from .test_document import small_night, station_sum

NIGHT = date(2025, 7, 10)
TRIM = ActingTrim("stations:S1", 1.1, 2.0, NIGHT, "dry knoll", "Ines")
FITTED: dict[str, Any] = {"multiplier_name": "fitted", "footprint_need_mm": 6.4}


def fitted_sum(**changes: Any) -> StationSum:
    return station_sum(**(FITTED | changes))


def test_a_fitted_sum_tells_the_need_of_its_ground_and_not_why_by_rate() -> None:
    one = explained(fitted_sum(trims=(TRIM,), trim_reason="words", why_by_rate="x"), 22)
    assert (one.by_map, one.need_mm, one.ground_need_mm) == (True, 5.7, 6.4)
    assert (one.trims, one.trim_words, one.why_by_rate) == ((TRIM,), "", "")
    assert (one.given_min, one.asked_min, one.left_out) == (22, 22, None)


def test_a_sum_by_rate_tells_why_and_no_need_of_ground() -> None:
    one = explained(station_sum(footprint_need_mm=6.4, why_by_rate="no pattern"), 22)
    assert not one.by_map
    assert math.isnan(one.ground_need_mm)
    assert (one.why_by_rate, one.rate_mm_h, one.multiplier) == ("no pattern", 18.4, 1.191)


def test_an_older_plan_keeps_its_trims_as_words() -> None:
    assert explained(station_sum(trim_reason="course × 0.9"), 22).trim_words == "course × 0.9"


@pytest.mark.parametrize(
    ("exact", "extra", "run", "whole"),
    [
        (22.0, 0.0, 22, Whole.AS_IS),
        (22.04, 0.0, 22, Whole.AS_IS),
        (22.1, 0.0, 22, Whole.ROUNDED),
        (21.5, 0.0, 22, Whole.ROUNDED),
        (20.0, 2.0, 22, Whole.AS_IS),
        (20.3, 2.0, 22, Whole.ROUNDED),
        (3.2, 0.0, 6, Whole.FLOOR),
        (70.0, 0.0, 60, Whole.LONGEST),
        (55.0, 10.0, 60, Whole.LONGEST),
    ],
)
def test_what_made_the_minutes_whole(exact: float, extra: float, run: int, whole: Whole) -> None:
    one = explained(station_sum(exact_min=exact, extra_min=extra, run_min=run), run)
    assert one.whole is whole
    assert one.exact_min == pytest.approx(exact + extra)


def test_trimmed_to_nothing_leaves_the_words_of_the_trim_to_the_trim() -> None:
    none = {"run_min": 0, "why_none": "trimmed to nothing: course × 0 (Ines)"}
    assert explained(station_sum(**none, trims=(TRIM,)), 0).why_none == "trimmed to nothing"
    assert explained(station_sum(**none), 0).why_none == none["why_none"]


def test_a_night_gives_the_minutes_of_all_cycles_and_what_is_left_out() -> None:
    second = station_sum(station="S2", run_min=9)
    night = small_night(sums=(station_sum(), second, station_sum(station="S3")))
    found = explained_night(night)
    assert {name: one.given_min for name, one in found.items()} == {"S1": 22, "S2": 0, "S3": 0}
    assert found["S2"].left_out == LeftOut("S2", 9, "The night is full.")
    assert found["S1"].left_out is None
    assert list(explained_night(night, {"S2"})) == ["S2"]
    twice = replace(night, runs=(*night.runs, Run("S3", 100, 4, 1, 1)))
    assert explained_night(twice)["S3"].given_min == 4


@pytest.mark.parametrize(
    ("heads", "words"),
    [
        (["A"], ""),
        (["A", "X"], "the pattern of head X is not known"),
        (["X", "Y"], "the patterns of heads X, Y are not known"),
        (["V", "W", "X", "Y", "A"], "the patterns of heads V, W, X and 1 more are not known"),
    ],
)
def test_why_a_station_is_not_by_the_map(heads: list[str], words: str) -> None:
    assert why_not_by_map(heads, {"A"}) == words


def test_reasons_go_to_sums_by_rate_and_patches_to_those_by_the_map() -> None:
    patch = replace(TRIM, subject="map", extra_min=0.0, share=0.4)
    sums = [fitted_sum(trims=(TRIM,)), station_sum(station="S2"), station_sum(station="S3")]
    by_map, by_rate, third = with_reasons(
        sums, {"S1": "a", "S2": "b"}, {"S1": (patch,), "S2": (patch,)}
    )
    assert (by_map.trims, by_map.why_by_rate) == ((TRIM, patch), "")
    assert (by_rate.trims, by_rate.why_by_rate) == ((), "b")
    assert third == sums[2]


def test_a_hold_is_kept_with_its_end_beside_its_words() -> None:
    row = {"subject": "areas:A1", "cause": "event", "reason": "final", "author": "Ines"}
    window = small_night().window
    holds = pd.DataFrame([{**row, "start": "2025-07-10T20:00:00Z", "end": "2025-07-12T12:00:00Z"}])
    held = holds_by_subject(holds, window)["areas:A1"][0]
    until = datetime(2025, 7, 12, 12, tzinfo=UTC)
    assert held.reason == "held (event): final, Ines"
    assert held.hold == ActingHold("event", until, "final", "Ines")


HELD = LeftOut(
    "S2",
    9,
    "held (event): final, Ines",
    ActingHold("event", datetime(2025, 7, 12, 12, tzinfo=UTC), "final", "Ines"),
)


def test_trims_holds_and_reasons_survive_json() -> None:
    sums = (station_sum(trims=(TRIM, replace(TRIM, subject="map", share=0.25)), why_by_rate="why"),)
    night = small_night(sums=sums, left_out=(HELD,))
    document = json.loads(json.dumps(night_to_document(night), allow_nan=False))
    assert night_from_document(document) == night
    assert document["sums"][0]["trims"][0]["last_night"] == "2025-07-10"
    assert document["left_out"][0]["hold"]["until"] == "2025-07-12T12:00:00+00:00"


def test_a_document_from_before_reads_without_them() -> None:
    document = night_to_document(small_night())
    for row in document["sums"]:
        del row["trims"], row["why_by_rate"]
    for row in document["left_out"]:
        del row["hold"]
    assert night_from_document(document) == small_night()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"last_night": "soon"}, "last_night"),
        ({"factor": "much"}, "not a number"),
        ({"author": 3}, "not a text"),
        ({"fctor": 1}, "did you mean 'factor'"),
    ],
)
def test_a_trim_that_cannot_be_read_is_refused(wrong: dict[str, Any], words: str) -> None:
    document = night_to_document(small_night(sums=(station_sum(trims=(TRIM,)),)))
    document["sums"][0]["trims"][0] |= wrong
    with pytest.raises(UserError, match=words):
        night_from_document(document)


@pytest.mark.parametrize(
    "wrong", [{"until": "2025-07-12"}, {"until": None}, {"cause": 1}, {"untl": "x"}]
)
def test_a_hold_that_cannot_be_read_is_refused(wrong: dict[str, Any]) -> None:
    document = night_to_document(small_night(left_out=(HELD,)))
    document["left_out"][0]["hold"] |= wrong
    with pytest.raises(UserError, match=r"hold|text"):
        night_from_document(document)
