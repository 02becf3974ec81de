"""`station-mixes-nozzles`: stations whose heads carry several nozzles."""

from __future__ import annotations

from nightwater.ground.rules import station_mixes_nozzles as rule


def test_mixed_nozzles(make, small, codes):
    small["heads"]["F2"]["nozzle"] = "small"
    found = codes(make(small))
    assert "N and small" in found["station-mixes-nozzles"][0].message


def test_a_missing_nozzle_is_another_rules(small, told):
    small["heads"]["F2"]["nozzle"] = None
    assert told(rule, small) == []


def test_the_rates_are_told(small, told):
    """1.7 and 0.9 L/s on 20 × 17.3 m."""
    small["heads"]["F2"]["nozzle"] = "small"
    (found,) = told(rule, small)
    assert found.message.endswith("nozzles: N and small. They water 9.4 to 17.7 mm/h.")


def test_a_half_nozzle_on_a_half_circle_is_matched(small, told):
    """0.9 L/s on 180° is 18.7 mm/h beside 17.7: one run time suits both."""
    small["heads"]["F2"] |= {"nozzle": "small", "arc_deg": 180.0, "bearing_deg": 0.0}
    assert told(rule, small) == []


def test_unknown_rates_match_nothing(small, told):
    small["heads"]["F2"] |= {"nozzle": "small", "row_m": None}
    (found,) = told(rule, small)
    assert "mm/h" not in found.message
