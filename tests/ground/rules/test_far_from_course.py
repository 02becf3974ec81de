"""`far-from-course`: geometry far outside everything else."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, box

from nightwater.ground.rules import far_from_course as rule


def test_far_from_course(make, small, codes):
    small["heads"]["R1"]["geometry"] = Point(413650, 4339450)
    found = codes(make(small))
    finding = found["far-from-course"][0]
    assert finding.subject == "heads:R1"
    assert "km" in finding.message


@pytest.mark.parametrize(("x", "told_of"), [(2900.0, []), (3300.0, ["heads:R1"])])
def test_three_kilometres_from_the_middle(small, subjects, x, told_of):
    """The middle of the drawing lies near x = 100."""
    small["heads"]["R1"]["geometry"] = Point(x, 30)
    assert subjects(rule, small) == told_of


def test_a_far_area_does_not_move_the_middle(small, subjects):
    small["areas"]["green"]["geometry"] = box(4e6, 4e6, 4e6 + 20, 4e6 + 20)
    assert subjects(rule, small) == ["areas:green"]
