"""`lateral-overloaded`: laterals that cannot carry the heads of one station at once.

Two heads of 1.7 L/s draw 3.4 L/s; a bore of 54.6 mm passes 3.57 L/s at 1.524 m/s.
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.ground.settings import NightRules
from nightwater.pipes.rules import lateral_overloaded as rule


def test_two_heads_just_pass(laid_out, told):
    assert told(rule, laid_out) == []


def test_a_third_is_too_much(laid_out, told):
    laid_out["heads"]["h3"] = laid_out["heads"]["h2"] | {"geometry": Point(100, -30)}
    (found,) = told(rule, laid_out)
    assert found.subject == "stations:S1"
    assert found.severity is Severity.WARNING
    assert "station 1-1 draw 5.10 L/s through lateral L" in found.message
    assert "allows 3.57 L/s" in found.message


def test_heads_of_two_stations_need_not_run_together(laid_out, told):
    laid_out["stations"]["S2"] = {"label": "1-2"}
    laid_out["heads"]["h3"] = laid_out["heads"]["h2"] | {"station": "S2"}
    assert told(rule, laid_out) == []


@pytest.mark.parametrize(("velocity", "is_told"), [(1.46, False), (1.44, True)])
def test_the_course_sets_the_limit(laid_out, told, velocity, is_told):
    """3.4 L/s in 54.6 mm is 1.452 m/s; half a per cent is left for rounding."""
    assert bool(told(rule, laid_out, NightRules(max_velocity_m_s=velocity))) is is_told


def test_a_pipes_own_limit_wins(laid_out, told):
    laid_out["pipes"]["L"]["max_velocity_m_s"] = 1.0
    assert "allows 2.34 L/s" in told(rule, laid_out)[0].message


def test_a_main_is_the_planners_to_keep(laid_out, told):
    laid_out["pipes"]["M1"]["diameter_mm"] = 40.0
    assert told(rule, laid_out) == []


def test_a_pipe_of_unknown_kind_is_taken_for_a_lateral(laid_out, told):
    laid_out["pipes"]["L"] |= {"kind": None, "diameter_mm": 40.0}
    assert [f.subject for f in told(rule, laid_out)] == ["stations:S1"]


def test_the_worst_lateral_is_named(laid_out, told, add):
    laid_out["pipes"]["L"] |= {"diameter_mm": 50.0}
    laid_out["pipes"]["N"] = add("lateral", (100, -40), (100, -80), bore=20.0)
    laid_out["heads"]["h2"]["geometry"] = Point(100, -80)
    assert "lateral N" in told(rule, laid_out)[0].message


def test_unknown_flow_and_bore_are_other_rules(laid_out, told):
    laid_out["pipes"]["L"]["diameter_mm"] = 0.0
    assert told(rule, laid_out) == []
    laid_out["pipes"]["L"]["diameter_mm"] = 20.0
    laid_out["nozzles"]["N"]["flow_l_s"] = None
    assert told(rule, laid_out) == []
