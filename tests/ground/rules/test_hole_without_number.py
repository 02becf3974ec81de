"""`hole-without-number`: holes without a number on the card."""

from __future__ import annotations

from nightwater.ground.rules import hole_without_number as rule


def test_hole_without_number(make, small, codes, only):
    small["holes"]["H9"]["number"] = None
    assert only(codes(make(small)), "hole-without-number").subject == "holes:H9"


def test_numbered_holes_are_silent(small, told):
    assert told(rule, small) == []
