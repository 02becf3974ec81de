"""`head-without-flow`: heads whose flow nobody can tell."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import head_without_flow as rule


def test_without_nozzle(make, small, codes, only):
    small["heads"]["R1"]["nozzle"] = None
    finding = only(codes(make(small)), "head-without-flow")
    assert finding.severity is Severity.ERROR
    assert "no nozzle" in finding.message


def test_measured_flow_stands_in_for_a_nozzle(make, small, codes):
    small["heads"]["R1"] |= {"nozzle": None, "measured_flow_l_s": 1.7}
    assert codes(make(small)) == {}


def test_nozzle_without_flow(make, small, codes):
    small["nozzles"]["N"]["flow_l_s"] = None
    found = codes(make(small))
    assert len(found["head-without-flow"]) == 6
    assert "a nozzle without flow" in found["head-without-flow"][0].message
    assert found["value-missing"][0].subject == "nozzles:N"


def test_each_says_what_it_lacks(small, told):
    small["nozzles"]["bare"] = {"pressure_kpa": 480.0, "radius_m": 20.0}
    small["heads"]["R1"]["nozzle"] = "bare"
    small["heads"]["R2"]["nozzle"] = None
    first, second = told(rule, small)
    assert "has a nozzle without flow" in first.message
    assert "has no nozzle" in second.message
