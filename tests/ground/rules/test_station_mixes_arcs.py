"""`station-mixes-arcs`: stations whose heads wet several arcs."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import station_mixes_arcs as rule


def test_mixed_arcs(make, small, codes):
    small["heads"]["F2"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
    found = codes(make(small))
    assert found["station-mixes-arcs"][0].severity is Severity.NOTE


def test_arcs_are_named_from_narrow_to_wide(small, told):
    small["heads"]["F1"] |= {"arc_deg": 90.0, "bearing_deg": 0.0}
    (found,) = told(rule, small)
    assert found.subject == "stations:S1"
    assert "several arcs: 90° and 360°" in found.message


def test_a_missing_arc_is_a_full_circle(small, told):
    small["heads"]["F2"]["arc_deg"] = None
    assert told(rule, small) == []


def test_matched_nozzles_may_wet_several_arcs(small, told):
    small["heads"]["F2"] |= {"nozzle": "small", "arc_deg": 180.0, "bearing_deg": 0.0}
    assert told(rule, small) == []


def test_one_nozzle_waters_a_half_circle_twice_as_fast(small, told):
    small["heads"]["F2"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
    (found,) = told(rule, small)
    assert found.message.endswith("arcs: 180° and 360°. They water 17.7 to 35.4 mm/h.")
