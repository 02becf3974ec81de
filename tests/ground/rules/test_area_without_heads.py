"""`area-without-heads`: turf that no head waters, on a course whose heads are surveyed."""

from __future__ import annotations

import pytest
from shapely.geometry import box

from nightwater.ground.rules import area_without_heads as rule


def test_turf_without_heads(make, small, codes):
    small["areas"]["lawn"] = {"kind": "grounds", "geometry": box(0, 50, 10, 60)}
    found = codes(make(small))
    assert "areas:lawn" in {f.subject for f in found["area-without-heads"]}


@pytest.mark.parametrize("kind", ["native", "bunker", "water"])
def test_dry_ground_needs_no_head(small, subjects, kind):
    before = subjects(rule, small)
    small["areas"]["dry"] = {"kind": kind, "geometry": box(0, 50, 10, 60)}
    assert subjects(rule, small) == before


def test_a_course_without_heads_is_asked_for_none(small, told):
    del small["heads"]
    assert told(rule, small) == []


def test_a_head_aimed_at_it_waters_it(small, subjects):
    """G1 stands outside the green, west of it, and is aimed east."""
    assert "areas:green" not in subjects(rule, small)
    del small["heads"]["G1"], small["heads"]["G2"]
    assert "areas:green" in subjects(rule, small)
