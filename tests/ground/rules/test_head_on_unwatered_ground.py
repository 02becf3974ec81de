"""`head-on-unwatered-ground`: heads declared to water ground that is not watered."""

from __future__ import annotations

from shapely.geometry import Point

from nightwater.ground.rules import head_on_unwatered_ground as rule


def test_declared_to_water_sand(make, small, codes):
    small["heads"]["R1"]["area"] = "bunker"
    finding = codes(make(small))["head-on-unwatered-ground"][0]
    assert "bunker ground" in finding.message


def test_a_head_that_stands_in_sand_waters_the_turf_around(small, told):
    small["heads"]["R1"]["geometry"] = Point(155, 15)
    assert told(rule, small) == []
