"""Findings are plain values with a stable order of fields."""

from __future__ import annotations

import dataclasses

import pytest

from nightwater.findings import Finding, Severity, error, has_errors, note, warning


def test_a_finding_is_a_row_of_plain_text() -> None:
    found = error("no-flow", "stations:S1", "Station S1 has no flow.", "Enter its flow.")
    assert list(found.as_row()) == ["severity", "code", "subject", "message", "fix"]
    assert found.as_row()["severity"] == "error"
    assert all(type(value) is str for value in found.as_row().values())


def test_only_errors_count_as_errors() -> None:
    doubts = [warning("a", "x:1", "m", "f"), note("b", "x:2", "m", "f")]
    assert not has_errors(doubts)
    assert has_errors([*doubts, error("c", "x:3", "m", "f")])
    assert not has_errors([])


def test_a_finding_cannot_be_changed_and_equals_its_twin() -> None:
    one, twin = note("b", "x:2", "m", "f"), Finding(Severity.NOTE, "b", "x:2", "m", "f")
    assert one == twin
    assert len({one, twin}) == 1
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.code = "other"  # type: ignore[misc]
