"""`head-beside-area`: heads that stand outside the area they are taken to water."""

from __future__ import annotations

from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.ground.rules import head_beside_area as rule


def test_beside_an_area(make, small, codes, only):
    small["heads"]["R1"]["geometry"] = Point(60, 45)
    found = codes(make(small))
    finding = only(found, "head-beside-area")
    assert finding.severity is Severity.NOTE
    assert "rough" in finding.message


def test_a_declared_area_settles_it(small, told):
    small["heads"]["R1"] |= {"geometry": Point(60, 45), "area": "rough"}
    assert told(rule, small) == []


def test_a_head_on_the_edge_stands_inside(small, told):
    small["heads"]["R1"]["geometry"] = Point(60, 40)
    assert told(rule, small) == []
