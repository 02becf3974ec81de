"""`areas-overlap`: areas of one kind drawn on each other."""

from __future__ import annotations

from shapely.geometry import Point, box

from nightwater.ground.rules import areas_overlap as rule


def test_overlap_of_one_kind(make, small, codes):
    small["areas"]["again"] = {"kind": "fairway", "geometry": box(40, -15, 100, 15)}
    small["heads"]["X"] = small["heads"]["F1"] | {"geometry": Point(90, 10), "label": "X"}
    found = codes(make(small))
    finding = found["areas-overlap"][0]
    assert finding.subject == "areas:fairway"
    assert "1,800 m² (100% of the smaller)" in finding.message


def test_a_sliver_along_an_edge_is_no_overlap(make, small, codes):
    small["areas"]["next"] = {"kind": "rough", "geometry": box(259.5, -40, 300, 40)}
    assert "areas-overlap" not in codes(make(small))


def test_a_green_inside_a_fairway_is_no_overlap(make, small, codes):
    assert "areas-overlap" not in codes(make(small))


def test_two_kinds_may_lie_on_each_other(small, told):
    small["areas"]["again"] = {"kind": "approach", "geometry": box(40, -15, 100, 15)}
    assert told(rule, small) == []


def test_each_pair_is_told_once(small, subjects):
    for name in ("two", "three"):
        small["areas"][name] = {"kind": "fairway", "geometry": box(40, -15, 250, 15)}
    assert subjects(rule, small) == ["areas:fairway", "areas:fairway", "areas:two"]
