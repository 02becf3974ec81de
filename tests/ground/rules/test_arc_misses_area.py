"""`arc-misses-area`: heads whose throw does not reach the area they are declared to water.

Drawn: G1 stands 5 m west of the green, declared to water it, and throws 20 m.

    G1 ►  ▓▓ green ▓▓       bearing 90° hits it, 270° does not
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import arc_misses_area as rule


@pytest.fixture
def declared(small):
    small["heads"]["G1"]["area"] = "green"
    return small


def test_aimed_at_it(declared, told):
    assert told(rule, declared) == []


def test_aimed_away_from_it(declared, told):
    declared["heads"]["G1"]["bearing_deg"] = 270.0
    (found,) = told(rule, declared)
    assert found.subject == "heads:G1"
    assert "is declared to water green, and 0% of its sector lies on it" in found.message


def test_too_far_away_for_its_full_circle(declared, told):
    declared["heads"]["G1"] |= {"arc_deg": 360.0, "geometry": Point(195, 0)}
    assert [f.subject for f in told(rule, declared)] == ["heads:G1"]


def test_geometry_is_never_asked_twice(small, told):
    """A head whose area was found by its sector cannot miss it."""
    small["heads"]["G1"]["bearing_deg"] = 270.0
    assert told(rule, small) == []


def test_without_bearing_or_outline_nothing_is_known(declared, told):
    declared["heads"]["G1"]["bearing_deg"] = None
    assert told(rule, declared) == []
    declared["heads"]["G1"]["bearing_deg"] = 270.0
    declared["areas"]["green"]["geometry"] = None
    assert told(rule, declared) == []
