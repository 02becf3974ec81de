"""`spacing-against-throw`: declared spacing that does not fit the throw."""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import spacing_against_throw as rule


def test_spacing_against_throw(make, small, codes, only):
    small["heads"]["R1"] |= {"spacing_m": 36.0, "row_m": 30.0}
    small["heads"]["R1"]["geometry"] = Point(55, 30)
    finding = only(codes(make(small)), "spacing-against-throw")
    assert "36.0 m" in finding.message
    assert "20.0 m" in finding.message


@pytest.mark.parametrize(
    ("spacing", "told_of"), [(9.9, ["heads:R1"]), (10.1, []), (33.9, []), (34.1, ["heads:R1"])]
)
def test_half_to_1_7_of_a_throw_of_20_m(small, subjects, spacing, told_of):
    small["heads"]["R1"]["spacing_m"] = spacing
    assert subjects(rule, small) == told_of


def test_an_unknown_throw_is_not_judged(small, told):
    small["heads"]["R1"] |= {"nozzle": None, "spacing_m": 39.0}
    assert told(rule, small) == []
