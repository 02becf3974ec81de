"""`hole-number-twice`: numbers that several holes carry."""

from __future__ import annotations

from nightwater.ground.checks import check_ground
from nightwater.ground.rules import hole_number_twice as rule


def test_number_twice_and_left_out(make, small):
    small["holes"]["H9"]["number"] = 8
    found = {finding.code: finding for finding in check_ground(make(small))}
    assert "H8, H9" in found["hole-number-twice"].message
    assert found["hole-number-left-out"].subject == "holes:9"


def test_holes_without_number_are_not_alike(small, told):
    for hole in ("H8", "H9"):
        small["holes"][hole]["number"] = None
    assert told(rule, small) == []


def test_three_of_one_number_are_one_finding(small, told):
    for hole in ("H7", "H9"):
        small["holes"][hole]["number"] = 8
    (found,) = told(rule, small)
    assert found.subject == "holes:H7"
    assert "3 holes carry the number 8: H7, H8, H9" in found.message
