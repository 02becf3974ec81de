"""`area-without-hole`: playing ground of no hole."""

from __future__ import annotations

from shapely.geometry import box

from nightwater.ground.rules import area_without_hole as rule


def test_fairway_of_no_hole(make, small, codes):
    small["areas"]["lost"] = {"kind": "fairway", "geometry": box(0, -330, 50, -300)}
    found = codes(make(small))
    assert [f.subject for f in found["area-without-hole"]] == ["areas:lost"]


def test_spare_green_is_told_only_while_a_hole_lacks_one(make, small, codes):
    small["areas"]["practice"] = {"kind": "green", "geometry": box(260, 60, 280, 80)}
    assert "area-without-hole" not in codes(make(small))
    del small["areas"]["green 4"]
    found = codes(make(small))
    assert [f.subject for f in found["area-without-hole"]] == ["areas:practice"]
    assert [f.subject for f in found["hole-without-green"]] == ["holes:H4"]


def test_a_course_without_lines_is_asked_for_none(small, told):
    del small["holes"]
    assert told(rule, small) == []


def test_practice_ground_belongs_to_no_hole(small, told):
    small["areas"]["lost"] = {"kind": "practice", "geometry": box(0, -330, 50, -300)}
    assert told(rule, small) == []


def test_a_declared_hole_is_enough(small, told):
    small["areas"]["lost"] = {"kind": "fairway", "hole": "H1", "geometry": box(0, -330, 50, -300)}
    assert told(rule, small) == []
