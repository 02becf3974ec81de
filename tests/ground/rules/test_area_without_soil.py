"""`area-without-soil`: watered areas that name no soil."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from nightwater.findings import Severity
from nightwater.ground.rules import area_without_soil as rule


def test_each_area_says_it(small, told):
    assert told(rule, small) == []


def test_one_area_does_not(small, told):
    small["areas"]["green"]["soil"] = None
    (found,) = told(rule, small)
    assert found.subject == "areas:green"
    assert found.severity is Severity.NOTE
    assert found.message == "green (green) names no soil."
    assert "loam is assumed" in found.fix


def test_none_says_it_and_that_is_told_once(small, told):
    for row in small["areas"].values():
        row["soil"] = None
    (found,) = told(rule, small)
    assert found.subject == "areas:*"
    assert found.message == "None of the 20 watered areas names its soil."


@pytest.mark.parametrize("kind", ["bunker", "water", "native"])
def test_dry_ground_needs_none(small, told, kind):
    small["areas"]["dry"] = {"kind": kind, "soil": None, "geometry": box(0, 50, 10, 60)}
    assert told(rule, small) == []


def test_a_single_area_is_called_by_its_name(small, subjects):
    small["areas"] = {"green": small["areas"]["green"] | {"soil": None}}
    assert subjects(rule, small) == ["areas:green"]
