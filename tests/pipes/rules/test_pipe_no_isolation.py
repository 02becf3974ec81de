"""`pipe-no-isolation`: pipes that no valve parts from the pump.

P ══ M1 ══╦══ M2 ══ V     the only valve stands at the end
          │ L
"""

from __future__ import annotations

from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.pipes.rules import pipe_no_isolation as rule


def test_a_valve_at_the_pump_parts_it_all(laid_out, told):
    laid_out["valves"]["V0"] = {"kind": "isolation", "geometry": Point(0, 0)}
    assert told(rule, laid_out) == []


def test_all_pipes_before_the_first_valve_are_told_at_once(laid_out, told):
    (found,) = told(rule, laid_out)
    assert found.severity is Severity.NOTE
    assert found.subject == "pipes:M1"
    assert "M1" in found.message
    assert "M2" in found.message


def test_what_a_valve_parts_from_the_pump_is_not_told(laid_out, told):
    laid_out["valves"]["V1"] = {"kind": "isolation", "geometry": Point(120, 0)}
    laid_out["valves"]["V2"] = {"kind": "isolation", "geometry": Point(60, 0)}
    (found,) = told(rule, laid_out)
    assert "M1" in found.message
    assert "M2" not in found.message


def test_without_isolation_valves_nothing_is_told(laid_out, told):
    laid_out["valves"]["V"]["kind"] = "drain"
    assert told(rule, laid_out) == []


def test_without_a_feed_another_finding_tells_it(laid_out, told):
    del laid_out["pumps"]
    assert told(rule, laid_out) == []


def test_a_valve_beside_its_pipe_does_not_part_it(laid_out, told):
    laid_out["valves"]["V2"] = {"kind": "isolation", "geometry": Point(60, 3.5)}
    assert "M2" in told(rule, laid_out)[0].message
