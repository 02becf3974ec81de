"""`hole-without-tee`: holes that have no tee."""

from __future__ import annotations

from shapely.geometry import box

from nightwater.ground.rules import hole_without_tee as rule


def test_hole_without_tee(make, small, codes, only):
    del small["areas"]["tee 4"]
    assert only(codes(make(small)), "hole-without-tee").subject == "holes:H4"


def test_a_course_without_tees_is_asked_for_none(small, told):
    small["areas"] = {k: v for k, v in small["areas"].items() if not k.startswith("tee")}
    assert told(rule, small) == []


def test_a_tee_at_the_far_end_is_none(small, subjects):
    small["areas"]["tee 4"]["geometry"] = box(160, 475, 180, 485)
    assert subjects(rule, small) == ["holes:H4"]
