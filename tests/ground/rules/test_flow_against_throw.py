"""`flow-against-throw`: nozzles whose flow and throw no sprinkler has together.

Drawn: 1.7 L/s over a circle of 20 m (1,257 m²) is 4.9 mm/h, as large rotors do.
"""

from __future__ import annotations

import pytest

from nightwater.findings import Severity
from nightwater.ground.rules import flow_against_throw as rule


def test_a_rotor_and_a_spray_are_sound(small, told):
    small["nozzles"]["spray"] = {"pressure_kpa": 200.0, "flow_l_s": 0.1, "radius_m": 3.7}
    assert told(rule, small) == []


def test_gallons_a_minute_taken_for_litres_a_second(small, told):
    """27 gpm are 1.7 L/s; 27 L/s on that circle were 77 mm/h."""
    small["nozzles"]["N"]["flow_l_s"] = 27.0
    (found,) = told(rule, small)
    assert found.subject == "nozzles:N"
    assert found.severity is Severity.WARNING
    assert "27 L/s over a throw of 20 m: 77 mm/h" in found.message


def test_feet_taken_for_metres(small, told):
    """66 ft are 20 m; 1.7 L/s over a circle of 66 m are 0.45 mm/h."""
    small["nozzles"]["N"]["radius_m"] = 66.0
    assert "0.45 mm/h" in told(rule, small)[0].message


@pytest.mark.parametrize(
    ("flow", "told_of"),
    [(0.17, ["nozzles:N"]), (0.18, []), (17.4, []), (17.5, ["nozzles:N"])],
)
def test_half_to_fifty_millimetres_an_hour(small, subjects, flow, told_of):
    """1,256.6 m² × 0.5 mm/h is 0.1745 L/s, × 50 mm/h is 17.45 L/s."""
    small["nozzles"]["N"]["flow_l_s"] = flow
    assert subjects(rule, small) == told_of


@pytest.mark.parametrize("column", ["flow_l_s", "radius_m"])
def test_what_is_missing_is_another_rules(small, told, column):
    small["nozzles"]["N"][column] = None
    assert told(rule, small) == []


def test_a_flow_of_zero_is_another_rules(small, told):
    small["nozzles"]["N"]["flow_l_s"] = 0.0
    assert told(rule, small) == []
