"""Trims and holds as fields of a night's document: there and back, and what is refused."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from nightwater.night.hand_changes import (
    HOLD_KEYS,
    TRIM_KEYS,
    ActingHold,
    ActingTrim,
    hold_from_row,
    hold_to_row,
    trim_to_row,
    trims_from_rows,
)
from nightwater.night.reading import DocumentReader

TRIM = ActingTrim("map", 1.2, 0.0, date(2026, 7, 17), "dry knoll", "Ines", 0.42)
HOLD = ActingHold(
    "frost", datetime(2026, 7, 17, 6, tzinfo=timezone(timedelta(hours=-6))), "rime", "Pilar"
)


def trim_row(**changes: Any) -> dict[str, Any]:
    return trim_to_row(asdict(TRIM)) | changes


def hold_row(**changes: Any) -> dict[str, Any]:
    row = hold_to_row(HOLD)
    assert row is not None
    return row | changes


def test_the_keys_are_the_fields() -> None:
    assert tuple(trim_row()) == TRIM_KEYS
    assert tuple(hold_row()) == HOLD_KEYS


def test_a_trim_goes_there_and_back() -> None:
    reader = DocumentReader("document")
    rows = json.loads(json.dumps([trim_row(), trim_row(subject="course", share=1.0)]))
    first, second = trims_from_rows(reader, {"trims": rows}, "sums[1]")
    assert first == TRIM
    assert (second.subject, second.share) == ("course", 1.0)
    assert reader.faults == []


def test_a_sum_without_trims_has_none() -> None:
    reader = DocumentReader("document")
    assert trims_from_rows(reader, {}, "sums[1]") == ()
    assert trims_from_rows(reader, {"trims": []}, "sums[1]") == ()
    assert reader.faults == []


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"last_night": "Friday"}, "sums[1] trims[1] 'last_night' is 'Friday', not a date"),
        ({"last_night": None}, "'last_night' is None, not a date"),
        ({"factor": "x"}, "trims[1] 'factor' is 'x', not a number"),
        ({"extra_min": True}, "'extra_min' is True, not a number"),
        ({"share": "all"}, "'share' is 'all', not a number"),
        ({"subject": 4}, "'subject' is 4, not a text"),
        ({"reason": None}, "'reason' is None, not a text"),
    ],
)
def test_a_fault_of_a_trim_says_where_and_what(changes: dict[str, Any], fault: str) -> None:
    reader = DocumentReader("document")
    trims_from_rows(reader, {"trims": [trim_row(**changes)]}, "sums[1]")
    (told,) = reader.faults
    assert fault in told


@pytest.mark.parametrize("key", TRIM_KEYS)
def test_a_trim_that_lacks_a_field_is_a_fault(key: str) -> None:
    reader, row = DocumentReader("document"), trim_row()
    del row[key]
    assert trims_from_rows(reader, {"trims": [row]}, "sums[1]") == ()
    assert reader.faults == [f"trims[1] lacks '{key}'"]


def test_a_hold_goes_there_and_back_with_its_offset() -> None:
    reader = DocumentReader("document")
    row = json.loads(json.dumps(hold_row()))
    assert row["until"] == "2026-07-17T06:00:00-06:00"
    found = hold_from_row(reader, row, "left_out[1]")
    assert found == HOLD
    assert found is not None
    assert found.until == datetime(2026, 7, 17, 12, tzinfo=UTC)
    assert reader.faults == []


def test_no_hold_is_null_and_back() -> None:
    reader = DocumentReader("document")
    assert hold_to_row(None) is None
    assert hold_from_row(reader, None, "left_out[1]") is None
    assert reader.faults == []


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        ("held", "left_out[1] 'hold' is not an object"),
        (hold_row(until="2026-07-17T06:00"), "has no offset from UTC"),
        (hold_row(until=5), "left_out[1] hold 'until' is 5, not an instant"),
        (hold_row(author=None), "left_out[1] 'author' is None, not a text"),
        (hold_row(end="x"), "unknown key 'end'"),
    ],
)
def test_a_fault_of_a_hold_says_where_and_what(value: Any, fault: str) -> None:
    reader = DocumentReader("document")
    hold_from_row(reader, value, "left_out[1]")
    (told,) = reader.faults
    assert fault in told
