"""`throw-on-hard-ground`: heads that throw onto a path or against a building.

Drawn: the rough with a straight path or wall; R1 stands at (30, 30) and throws 20 m.

    ▒▒▒▒▒▒▒▒▒   path or building, y > 30 + d
    ────R1───   d metres away: share of the circle beyond the chord

    share beyond a chord at d of a circle of r: (acos(d/r) − (d/r)·√(1 − (d/r)²)) / π
"""

from __future__ import annotations

from math import acos, pi, sqrt

import pytest
from shapely.geometry import box

from nightwater.findings import Severity
from nightwater.ground.rules import arc_off_turf, throw_off_turf
from nightwater.ground.rules import throw_on_hard_ground as rule

THROW_M = 20.0


def beyond(away_m):
    """Share of a circle of 20 m beyond a chord."""
    part = away_m / THROW_M
    return (acos(part) - part * sqrt(1 - part**2)) / pi


def hard(small, away_m, kind):
    small["areas"]["hard"] = {"kind": kind, "geometry": box(-60, 30 + away_m, 260, 90)}
    return small


@pytest.mark.parametrize(
    ("kind", "away_m", "found"),
    [("path", 9.0, True), ("path", 10.5, False), ("building", 16.0, True), ("building", 18, False)],
)
def test_a_fifth_on_a_path_or_what_reaches_a_wall(small, subjects, kind, away_m, found):
    """20 % lie beyond a chord at 9.8 m, 3 % at 17.0 m."""
    assert (beyond(away_m) > rule.MOST_SHARE[kind]) is found
    told_of = ["heads:R1", "heads:R2"] if found else []
    assert subjects(rule, hard(small, away_m, kind)) == told_of


def test_the_message_says_how_much_of_what_and_warns_of_people(small, told):
    found = told(rule, hard(small, 0.0, "path"))[0]
    assert found.severity is Severity.WARNING
    assert found.code == "throw-on-hard-ground"
    assert "throws 50% of its water on a path." in found.message
    assert "while people pass" in found.fix


def test_a_cart_path_through_the_circle_is_silent(small, told):
    """2.5 m wide through the middle: 2.5 · 40 of 400 π m², 8 %."""
    small["areas"]["hard"] = {"kind": "path", "geometry": box(-60, 28.75, 260, 31.25)}
    assert told(rule, small) == []


def test_a_half_circle_into_it_is_told_and_away_from_it_silent(small, told):
    for name in ("R1", "R2"):
        small["heads"][name] |= {"arc_deg": 180.0, "bearing_deg": 180.0}
    hard(small, 0.5, "building")
    assert told(rule, small) == []
    small["heads"]["R1"]["bearing_deg"] = 0.0
    (found,) = told(rule, small)
    assert found.subject == "heads:R1"
    assert "on a building." in found.message


def test_an_arc_into_a_path_is_an_arc_off_turf_too(small, subjects):
    """A path drawn upon the rough is no turf, so a turn to the south finds far more."""
    small["areas"]["rough"]["geometry"] = box(-60, -40, 260, 90)
    small["heads"]["R1"] |= {"arc_deg": 90.0, "bearing_deg": 0.0}
    assert subjects(arc_off_turf, small) == []
    assert subjects(arc_off_turf, hard(small, 0.0, "path")) == ["heads:R1"]


def test_sand_and_water_are_left_to_their_own_rule(small, told):
    assert told(rule, hard(small, 0.0, "bunker")) == []
    assert len(told(throw_off_turf, small)) == 2
