"""Pump curves out of the record: forms, speeds, efficiency, faults."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.pipes.pump_curves import pump_curve

from .nets import curve


def test_one_point_makes_the_usual_parabola() -> None:
    """EPANET 2.2 User Manual, section 3.1: 133 % of the head at no flow, twice the flow at none."""
    one = curve(capacity_l_s=40.0, head_m=60.0)
    assert float(one.head_m(0)) == pytest.approx(80)
    assert float(one.head_m(40)) == pytest.approx(60)
    assert one.most_flow_l_s == pytest.approx(80)
    assert float(one.head_m(80)) == pytest.approx(0, abs=1e-9)
    assert np.isnan(one.head_m(81))


def test_three_points_make_a_power_law_through_all_of_them() -> None:
    three = curve(curve="0:104 126:92 220:63")
    assert three.head_m([0, 126, 220]) == pytest.approx([104, 92, 63])
    # A and C of H = A − B Q^C, by the manual's own rule
    power = np.log((104 - 63) / (104 - 92)) / np.log(220 / 126)
    assert three.power == pytest.approx(power)


def test_more_points_are_joined_by_lines() -> None:
    four = curve(curve="0:80; 20:75; 40:60; 60:30")
    assert four.head_m([10, 30, 60]) == pytest.approx([77.5, 67.5, 30])
    assert np.isnan(four.head_m(60.5))
    assert four.flow_at_head_l_s([80, 67.5, 30, 90]) == pytest.approx([0, 30, 60, 0])


@pytest.mark.parametrize("points", ["", "0:80 40:60 60:35", "0:80 20:75 40:60 60:30"])
@given(flow=st.floats(1, 55))
def test_flow_at_the_head_of_a_flow_is_that_flow(points, flow) -> None:
    one = curve(curve=points, capacity_l_s=40.0, head_m=60.0)
    assert float(one.flow_at_head_l_s(one.head_m(flow))) == pytest.approx(flow, rel=1e-6)


@given(flow=st.floats(1, 39), share=st.floats(0.3, 1.0))
def test_the_speed_of_a_point_of_a_slower_curve_is_that_speed(flow, share) -> None:
    """Affinity laws: flow goes with speed, head with its square."""
    one = curve(capacity_l_s=40.0, head_m=60.0)
    head = one.head_m(flow * share, share)
    assert float(head) == pytest.approx(share**2 * float(one.head_m(flow)))
    assert float(one.speed(flow * share, head)) == pytest.approx(share, abs=1e-6)


def test_no_speed_gives_more_than_full_speed() -> None:
    one = curve(capacity_l_s=40.0, head_m=60.0)
    assert np.isnan(one.speed(40.0, 60.1))
    assert np.isnan(one.speed(-1.0, 10.0))
    assert np.isnan(one.speed(np.nan, 10.0))


def test_efficiency_by_table_by_number_and_by_custom() -> None:
    table = curve(capacity_l_s=40.0, head_m=60.0, efficiency_curve="0:0.2 40:0.8 60:0.7")
    assert table.efficiency_at([20, 40, 100]) == pytest.approx([0.5, 0.8, 0.7])
    assert float(table.efficiency_at(20, 0.5)) == pytest.approx(0.8)  # the like point
    assert np.isnan(table.efficiency_at(np.nan))
    assert float(curve(capacity_l_s=40, head_m=60, pump_efficiency=0.7).efficiency_at(9)) == 0.7
    assert float(curve(capacity_l_s=40, head_m=60).efficiency_at(9)) == 0.75


def test_without_curve_or_duty_there_is_none() -> None:
    assert pump_curve("P", {"capacity_l_s": 40.0}) is None
    assert pump_curve("P", {"capacity_l_s": 40.0, "head_m": np.nan, "curve": "  "}) is None


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"curve": "0:80 20"}, "number:number"),
        ({"curve": "0:80 20:90"}, "does not fall"),
        ({"curve": "0:80 20:-1"}, "negative"),
        ({"curve": "20:80 20:70"}, "a flow twice"),
        ({"curve": "0:80 20:70", "efficiency_curve": "0:0.5 20:78"}, "above 0 and up to 1"),
    ],
)
def test_faults_name_the_pump_and_the_column(row, says) -> None:
    with pytest.raises(UserError, match=says) as told:
        pump_curve("P-7", row)
    assert "pump P-7" in str(told.value)


def test_three_points_not_from_no_flow_are_joined_by_lines() -> None:
    three = curve(curve="10:80 40:60 60:35")
    assert np.isnan(three.slope)
    assert float(three.head_m(25)) == pytest.approx(70)
