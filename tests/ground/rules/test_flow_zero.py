"""`flow-zero`: nozzles and heads whose flow is given as nothing."""

from __future__ import annotations

import pytest

from nightwater.findings import Severity
from nightwater.ground.rules import flow_zero as rule


@pytest.mark.parametrize("flow", [0.0, -1.7])
def test_a_nozzle_that_gives_nothing(small, told, flow):
    small["nozzles"]["N"]["flow_l_s"] = flow
    (found,) = told(rule, small)
    assert found.subject == "nozzles:N"
    assert found.severity is Severity.ERROR
    assert f"Nozzle N has a flow of {flow:g} L/s" in found.message


def test_a_head_measured_as_nothing(small, told):
    small["heads"]["R1"]["measured_flow_l_s"] = 0.0
    (found,) = told(rule, small)
    assert found.subject == "heads:R1"
    assert "Head tag 60 30 has a flow of 0 L/s" in found.message


def test_a_missing_flow_is_another_rules(small, told):
    small["nozzles"]["N"]["flow_l_s"] = None
    assert told(rule, small) == []


def test_a_small_flow_is_a_flow(small, told):
    small["nozzles"]["N"]["flow_l_s"] = 0.01
    assert told(rule, small) == []
