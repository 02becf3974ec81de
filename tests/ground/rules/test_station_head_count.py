"""`station-head-count`: stations whose list says another number of heads than the record."""

from __future__ import annotations

from nightwater.ground.rules import station_head_count as rule


def test_head_count(make, small, codes, only):
    small["stations"]["S1"]["heads_listed"] = 3
    finding = only(codes(make(small)), "station-head-count")
    assert "lists 3 heads" in finding.message
    assert "has 2: F1, F2" in finding.message


def test_too_many_heads_are_told_as_well(small, told):
    small["stations"]["S1"]["heads_listed"] = 1
    (found,) = told(rule, small)
    assert "lists 1 heads; the record has 2" in found.message


def test_a_station_without_heads_is_another_rules(small, told):
    small["stations"]["S9"] = {"label": "spare", "heads_listed": 2}
    assert told(rule, small) == []


def test_no_listed_number_is_not_judged(small, told):
    small["stations"]["S1"]["heads_listed"] = None
    assert told(rule, small) == []
