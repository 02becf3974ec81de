"""`rate-implausible`: heads whose flow over their share of the ground is no sprinkler's rate."""

from __future__ import annotations

from shapely.geometry import Point

from nightwater.ground.rules import rate_implausible as rule


def test_rate_that_no_sprinkler_has(make, small, codes):
    """1.7 L/s on 15 m² is 408 mm/h."""
    small["heads"]["R1"] |= {"spacing_m": 5.0, "row_m": 3.0, "geometry": Point(60, 38)}
    finding = codes(make(small))["rate-implausible"][0]
    assert "408.0 mm/h" in finding.message
    assert "15 m²" in finding.message


def test_a_rate_too_small(small, told):
    """0.17 L/s on 346 m² is 1.8 mm/h."""
    small["nozzles"]["N"]["flow_l_s"] = 0.17
    small["heads"] = {"F1": small["heads"]["F1"]}
    (found,) = told(rule, small)
    assert "1.8 mm/h" in found.message


def test_a_half_circle_waters_twice_as_fast(small, told):
    """1.7 L/s on 346 m² is 17.7 mm/h; on an eighth of it 141.5."""
    small["heads"]["R1"] |= {"arc_deg": 45.0, "bearing_deg": 0.0}
    (found,) = told(rule, small)
    assert "141.5 mm/h" in found.message


def test_an_unknown_rate_is_not_judged(small, told):
    small["heads"]["R1"]["spacing_m"] = None
    assert told(rule, small) == []
