"""`hole-without-line`: holes without a line of play, or with one that is none."""

from __future__ import annotations

import pytest
from shapely.geometry import LineString, Point

from nightwater.findings import Severity
from nightwater.ground.rules import hole_without_line as rule


def test_every_hole_has_one(small, told):
    assert told(rule, small) == []


@pytest.mark.parametrize("line", [None, LineString(), Point(3, 4)])
def test_a_hole_without(small, told, line):
    small["holes"]["H4"]["geometry"] = line
    (found,) = told(rule, small)
    assert found.subject == "holes:H4"
    assert found.severity is Severity.WARNING
    assert found.message == "H4 has no line of play."


@pytest.mark.parametrize(("length", "told_of"), [(29.0, ["holes:H4"]), (31.0, [])])
def test_thirty_metres_are_the_least(small, subjects, length, told_of):
    small["holes"]["H4"]["geometry"] = LineString([(0, 480), (length, 480)])
    assert subjects(rule, small) == told_of


def test_a_short_line_is_told_with_its_length(small, told):
    small["holes"]["H4"]["geometry"] = LineString([(0, 480), (3, 484)])
    assert "is 5 m long; 30 m is the least" in told(rule, small)[0].message


def test_a_missing_line_is_told_by_this_rule_alone(small, codes, make):
    small["holes"]["H4"]["geometry"] = None
    assert "without-geometry" not in codes(make(small))
