"""`heads-in-one-spot`: two heads that stand in one spot and throw alike: one survey too many."""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import heads_in_one_spot as rule


def test_one_head_surveyed_twice(make, small, codes):
    small["heads"]["copy"] = small["heads"]["R1"] | {"label": "copy"}
    small["heads"]["copy"]["geometry"] = Point(60.2, 30.2)
    finding = codes(make(small))["heads-in-one-spot"][0]
    assert finding.subject == "heads:copy"
    assert "0.28 m" in finding.message


def test_back_to_back_heads_are_two(make, small, codes):
    small["heads"]["R1"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
    small["heads"]["R2"] |= {"arc_deg": 180.0, "bearing_deg": 180.0}
    small["heads"]["R2"]["geometry"] = Point(60.2, 30.2)
    assert "heads-in-one-spot" not in codes(make(small))


@pytest.mark.parametrize(("x", "told_of"), [(60.49, ["heads:R2"]), (60.51, [])])
def test_half_a_metre_is_one_spot(small, subjects, x, told_of):
    small["heads"]["R2"]["geometry"] = Point(x, 30)
    assert subjects(rule, small) == told_of


def test_bearings_are_compared_across_north(small, subjects):
    small["heads"]["R1"] |= {"arc_deg": 180.0, "bearing_deg": 350.0}
    small["heads"]["R2"] |= {"arc_deg": 180.0, "bearing_deg": 10.0}
    small["heads"]["R2"]["geometry"] = Point(60.2, 30.2)
    assert subjects(rule, small) == ["heads:R2"]
