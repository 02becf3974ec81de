"""`head-in-no-area`: heads with no watered area at hand."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, box

from nightwater.findings import Severity
from nightwater.ground.rules import head_in_no_area as rule


def test_in_no_area(make, small, codes):
    small["heads"]["R1"]["geometry"] = Point(60, 70)
    found = codes(make(small))
    assert found["head-in-no-area"][0].subject == "heads:R1"
    assert found["head-in-no-area"][0].severity is Severity.WARNING


@pytest.mark.parametrize(("y", "told_of"), [(59.0, []), (61.0, ["heads:R1"])])
def test_its_throw_of_20_m_is_how_far_it_looks(small, subjects, y, told_of):
    """The rough ends at y = 40."""
    small["heads"]["R1"]["geometry"] = Point(60, y)
    assert subjects(rule, small) == told_of


def test_water_is_no_watered_area(small, subjects):
    small["areas"]["pond"] = {"kind": "water", "geometry": box(50, 65, 70, 75)}
    small["heads"]["R1"]["geometry"] = Point(60, 70)
    assert subjects(rule, small) == ["heads:R1"]
