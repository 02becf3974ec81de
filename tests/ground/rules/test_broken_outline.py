"""`broken-outline`: outlines that cross themselves."""

from __future__ import annotations

from shapely.geometry import Polygon

from nightwater.ground.rules import broken_outline as rule


def test_broken_outline(make, small, codes):
    bow = Polygon([(40, -15), (250, 15), (250, -15), (40, 15)])
    small["areas"]["fairway"]["geometry"] = bow
    found = codes(make(small))
    assert found["broken-outline"][0].subject == "areas:fairway"


def test_the_rest_of_the_check_goes_on(small, codes, make):
    """The bow's halves are mended, so the heads on them still have their area."""
    bow = Polygon([(40, -15), (250, 15), (250, -15), (40, 15)])
    small["areas"]["fairway"]["geometry"] = bow
    assert "head-in-no-area" not in codes(make(small))


def test_a_missing_outline_is_another_rules(small, told):
    small["areas"]["fairway"]["geometry"] = None
    assert told(rule, small) == []
