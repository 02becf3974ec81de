"""`measured-flow-differs`: heads whose measured flow is far from their nozzle's."""

from __future__ import annotations

import pytest

from nightwater.ground.rules import measured_flow_differs as rule


@pytest.mark.parametrize(("flow", "told"), [(1.9, False), (1.5, False), (2.0, True), (1.4, True)])
def test_measured_flow_far_from_the_nozzles(make, small, codes, flow, told):
    small["heads"]["R1"]["measured_flow_l_s"] = flow
    found = codes(make(small))
    assert ("measured-flow-differs" in found) is told


def test_the_message_says_by_how_much(small, told):
    small["heads"]["R1"]["measured_flow_l_s"] = 2.04
    (found,) = told(rule, small)
    assert found.subject == "heads:R1"
    assert "measured at 2.04 L/s, +20% against its nozzle's 1.70 L/s" in found.message
