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
