"""`hole-without-green`: holes that have no green."""

from __future__ import annotations

from shapely.geometry import box

from nightwater.findings import Severity
from nightwater.ground.rules import hole_without_green as rule


def test_a_hole_whose_green_is_gone(small, told):
    del small["areas"]["green 4"]
    (found,) = told(rule, small)
    assert found.subject == "holes:H4"
    assert found.severity is Severity.NOTE
    assert "No green was found for H4" in found.message


def test_a_declared_green_far_away_counts(small, told):
    small["areas"]["green 4"] |= {"hole": "H4", "geometry": box(900, 900, 920, 920)}
    assert told(rule, small) == []


def test_a_course_without_greens_is_asked_for_none(small, told):
    small["areas"] = {k: v for k, v in small["areas"].items() if not k.startswith("green")}
    assert told(rule, small) == []
