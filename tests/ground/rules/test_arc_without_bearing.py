"""`arc-without-bearing`: part circles that nobody knows the direction of."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import arc_without_bearing as rule


def test_an_unstated_arc_counts_as_a_full_circle(make, small, codes):
    small["heads"]["R1"]["arc_deg"] = None
    assert codes(make(small)) == {}


def test_arc_without_bearing(make, small, codes, only):
    small["heads"]["R1"]["arc_deg"] = 180.0
    assert only(codes(make(small)), "arc-without-bearing").severity is Severity.NOTE


def test_each_part_circle_is_told_once(small, told):
    small["heads"]["R1"]["arc_deg"] = 180.0
    small["heads"]["R2"]["arc_deg"] = 90.0
    found = told(rule, small)
    assert [f.subject for f in found] == ["heads:R1", "heads:R2"]
    assert "wets 90°" in found[1].message


def test_a_bearing_of_north_is_a_bearing(small, told):
    small["heads"]["R1"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
    assert told(rule, small) == []
