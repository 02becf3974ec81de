"""`without-geometry`: rows of a mapped table that stand nowhere."""

from __future__ import annotations

from shapely.geometry import Polygon

from nightwater.ground.rules import without_geometry as rule


def test_without_place(make, small, codes):
    small["heads"]["R1"]["geometry"] = None
    found = codes(make(small))
    assert found["without-geometry"][0].subject == "heads:R1"


def test_an_empty_place_is_none(small, subjects):
    small["areas"]["green"]["geometry"] = Polygon()
    small["holes"]["H4"]["geometry"] = None
    assert subjects(rule, small) == ["areas:green"]


def test_tables_without_a_map_are_not_asked(small, told):
    assert told(rule, small) == []
