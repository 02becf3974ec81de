"""`arc-off-turf`: part circles that point away from turf.

Drawn: the rough ends in the north at y = 40; a head on that edge throws 20 m.

    y 40 ════ E ════   edge of all turf; bearing 180° is inwards, 0° outwards
              ▼
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point, box

from nightwater.findings import Severity
from nightwater.ground.rules import arc_off_turf as rule


@pytest.fixture
def edge(small):
    small["heads"]["E"] = small["heads"]["R1"] | {
        "geometry": Point(0, 40),
        "label": "edge",
        "arc_deg": 180.0,
        "bearing_deg": 180.0,
    }
    return small


def test_inwards_is_silent(edge, told):
    assert told(rule, edge) == []


def test_outwards_is_told_with_the_better_bearing(edge, told):
    edge["heads"]["E"]["bearing_deg"] = 0.0
    (found,) = told(rule, edge)
    assert found.subject == "heads:E"
    assert found.severity is Severity.WARNING
    assert "edge points to 0° with 0% of its sector on turf; towards 180°" in found.message
    assert "were 100%" in found.message


@pytest.mark.parametrize(
    ("bearing", "is_told"), [(90.0, False), (55.0, True), (305.0, True), (240.0, False)]
)
def test_a_third_on_turf_is_enough(edge, told, bearing, is_told):
    """Along the edge half of a half circle is on turf; 35° farther out it is 0.31."""
    edge["heads"]["E"]["bearing_deg"] = bearing
    assert bool(told(rule, edge)) is is_told


def test_turf_nowhere_near_leaves_nothing_to_turn_to(edge, told):
    edge["heads"]["E"] |= {"geometry": Point(0, 59), "bearing_deg": 0.0}
    assert told(rule, edge) == []


def test_water_drawn_upon_the_rough_is_no_turf(edge, told):
    edge["areas"]["pond"] = {"kind": "water", "geometry": box(-60, 0, 60, 40)}
    edge["areas"]["beyond"] = {"kind": "rough", "geometry": box(-60, 40, 60, 80)}
    (found,) = told(rule, edge)
    assert "towards 0°" in found.message


def test_full_circles_and_blind_ones_are_not_asked(edge, told):
    edge["heads"]["E"] |= {"bearing_deg": None}
    assert told(rule, edge) == []
    edge["heads"]["E"] |= {"arc_deg": 360.0, "bearing_deg": 0.0}
    assert told(rule, edge) == []


def test_a_narrow_sector_is_rounded_to_one_ray(edge, told):
    edge["heads"]["E"] |= {"arc_deg": 10.0, "bearing_deg": 0.0}
    assert [f.subject for f in told(rule, edge)] == ["heads:E"]
