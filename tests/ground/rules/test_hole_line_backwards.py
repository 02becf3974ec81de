"""`hole-line-backwards`: lines of play that were drawn from the green to the tee."""

from __future__ import annotations

from shapely.geometry import LineString

from nightwater.ground.rules import hole_line_backwards as rule


def test_line_drawn_backwards(make, small, codes, only):
    small["holes"]["H4"]["geometry"] = LineString([(200, 480), (0, 480)])
    assert only(codes(make(small)), "hole-line-backwards").subject == "holes:H4"


def test_a_line_of_the_right_way_is_silent(small, told):
    assert told(rule, small) == []
