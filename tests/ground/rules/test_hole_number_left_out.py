"""`hole-number-left-out`: numbers of the full nine or eighteen that no hole carries."""

from __future__ import annotations

from shapely.geometry import LineString

from nightwater.ground.checks import check_ground
from nightwater.ground.rules import hole_number_left_out as rule


def test_ten_holes_lack_the_rest_of_eighteen(make, small):
    small["holes"]["H10"] = {"number": 10, "geometry": LineString([(0, 9000), (9, 9000)])}
    found = [f.subject for f in check_ground(make(small)) if f.code == "hole-number-left-out"]
    assert found == [f"holes:{number}" for number in range(11, 19)]


def test_a_full_nine_is_silent(small, told):
    assert told(rule, small) == []


def test_no_hole_has_a_number(small, told):
    for hole in small["holes"].values():
        hole["number"] = None
    assert told(rule, small) == []


def test_the_gap_is_named(small, told):
    small["holes"]["H4"]["number"] = None
    (found,) = told(rule, small)
    assert found.subject == "holes:4"
    assert found.message == "No hole carries the number 4."
