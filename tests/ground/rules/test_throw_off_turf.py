"""`throw-off-turf`: heads that throw into a bunker or onto water.

Drawn: the rough with a pond whose bank is a straight line; a head throws 20 m.

    ~~~~~~~~~   pond, y > 30 + d
    ────R1───   d metres away: share of the circle beyond the chord
"""

from __future__ import annotations

import pytest
from shapely.geometry import box

from nightwater.findings import Severity
from nightwater.ground.rules import throw_off_turf as rule


def pond(small, away_m, kind="water"):
    small["areas"]["pond"] = {"kind": kind, "geometry": box(-60, 30 + away_m, 260, 90)}
    return small


@pytest.mark.parametrize(("away", "told_of"), [(4.0, ["heads:R1", "heads:R2"]), (5.5, [])])
def test_a_third_of_the_circle_is_too_much(small, subjects, away, told_of):
    """Beyond a chord 4 m from the middle lie 37 % of a circle of 20 m, at 5.5 m 33 %."""
    assert subjects(rule, pond(small, away)) == told_of


def test_the_message_says_how_much_of_what(small, told):
    found = told(rule, pond(small, 0.0))[0]
    assert found.severity is Severity.WARNING
    assert "throws 50% of its water on water ground" in found.message


def test_sand_is_told_as_well(small, told):
    assert "on bunker ground" in told(rule, pond(small, 0.0, "bunker"))[0].message


def test_a_half_circle_away_from_it_is_silent(small, told):
    for name in ("R1", "R2"):
        small["heads"][name] |= {"arc_deg": 180.0, "bearing_deg": 180.0}
    assert told(rule, pond(small, 0.0)) == []


def test_a_half_circle_into_it_is_told_with_all_of_it(small, told):
    small["heads"]["R1"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
    assert "throws 100% of its water" in told(rule, pond(small, 0.0))[0].message


def test_a_pond_drawn_twice_counts_once(small, subjects):
    small["areas"]["again"] = {"kind": "water", "geometry": box(-60, 40, 260, 90)}
    assert subjects(rule, pond(small, 10.0)) == []


def test_a_small_bunker_within_the_throw_is_silent(small, told):
    small["areas"]["trap"] = {"kind": "bunker", "geometry": box(55, 32, 65, 38)}
    assert told(rule, small) == []
