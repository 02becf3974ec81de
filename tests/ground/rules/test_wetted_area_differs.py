"""`wetted-area-differs`: areas whose declared wetted ground is not what their heads answer for."""

from __future__ import annotations

from nightwater.ground.rules import wetted_area_differs as rule


def test_wetted_ground_declared(make, small, codes, only):
    cell = 2 * 20.0 * 17.3
    small["areas"]["fairway"]["wetted_m2"] = cell * 1.05
    assert codes(make(small)) == {}
    small["areas"]["fairway"]["wetted_m2"] = cell * 1.2
    finding = only(codes(make(small)), "wetted-area-differs")
    assert "692 m²" in finding.message


def test_half_circles_answer_for_half_the_ground(make, small, codes):
    small["areas"]["green"]["wetted_m2"] = 2 * 20.0 * 17.3 / 2
    assert codes(make(small)) == {}


def test_an_area_with_a_head_of_unknown_spacing_is_not_judged(small, told):
    small["areas"]["fairway"]["wetted_m2"] = 5000.0
    small["heads"]["F1"]["row_m"] = None
    assert told(rule, small) == []


def test_an_area_that_declares_nothing_is_not_judged(small, told):
    assert told(rule, small) == []
