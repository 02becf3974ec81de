"""`label-twice`: labels that more than one row of a table carries, whatever their case."""

from __future__ import annotations

from nightwater.ground.rules import label_twice as rule


def test_label_twice_whatever_its_case(make, small, codes, only):
    small["heads"]["R1"]["label"] = "07-R-01"
    small["heads"]["R2"]["label"] = " 07-r-01"
    finding = only(codes(make(small)), "label-twice")
    assert "R1, R2" in finding.message


def test_no_label_is_no_common_label(small, told):
    for name in ("R1", "R2"):
        small["heads"][name]["label"] = None
    assert told(rule, small) == []


def test_a_head_and_a_station_may_be_called_alike(small, told):
    small["heads"]["R1"]["label"] = small["stations"]["S2"]["label"]
    assert told(rule, small) == []
