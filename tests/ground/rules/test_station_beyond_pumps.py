"""`station-beyond-pumps`: stations that flow more than all pumps can lift."""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import station_beyond_pumps as rule


@pytest.fixture
def pumped(small):
    """Two pumps of 1.75 L/s; the fairway's pair takes 3.4."""
    small["pumps"] = {
        name: {"capacity_l_s": 1.75, "geometry": Point(0, -30)} for name in ("P1", "P2")
    }
    return small


def test_pumps_that_just_suffice(pumped, told):
    assert told(rule, pumped) == []


def test_a_station_beyond_them(pumped, told):
    pumped["pumps"]["P2"]["capacity_l_s"] = 1.6
    (found,) = told(rule, pumped)
    assert found.subject == "stations:S1"
    assert "flow 3.4 L/s; all pumps together lift 3.4 L/s" in found.message


def test_without_pumps_nothing_is_known(small, told):
    assert told(rule, small) == []


def test_an_unknown_capacity_leaves_it_open(pumped, told):
    pumped["pumps"]["P1"]["capacity_l_s"] = None
    pumped["pumps"]["P2"]["capacity_l_s"] = 0.5
    assert told(rule, pumped) == []
