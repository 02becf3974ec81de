"""`station-flow-differs`: stations whose listed flow is not the sum of their heads."""

from __future__ import annotations

import pytest

from nightwater.ground.rules import station_flow_differs as rule


def test_pressure_moves_the_flow_a_station_is_checked_with(make, small, codes, only):
    """At a quarter of the pressure half the flow: the listed one no longer fits."""
    small["heads"]["R1"]["pressure_kpa"] = 120.0
    finding = only(codes(make(small)), "station-flow-differs")
    assert "0.85 L/s" in finding.message
    assert "-50%" in finding.message


@pytest.mark.parametrize(("flow", "told"), [(3.7, False), (3.1, False), (3.9, True), (2.9, True)])
def test_flow(make, small, codes, flow, told):
    small["stations"]["S1"]["flow_listed_l_s"] = flow
    assert ("station-flow-differs" in codes(make(small))) is told


def test_flow_of_a_station_with_an_unknown_head_is_not_judged(make, small, codes):
    small["heads"]["F1"]["nozzle"] = None
    assert list(codes(make(small))) == ["head-without-flow"]


def test_a_station_without_listed_flow_is_not_judged(small, told):
    small["stations"]["S1"]["flow_listed_l_s"] = None
    assert told(rule, small) == []
