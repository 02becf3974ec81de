"""`output-twice`: stations that share one output of one controller."""

from __future__ import annotations

from nightwater.ground.rules import output_twice as rule


def test_output_twice(make, small, codes, only):
    small["stations"]["S2"]["output"] = 1
    finding = only(codes(make(small)), "output-twice")
    assert "S1, S2" in finding.message


def test_same_output_of_two_paths_is_sound(make, small, codes):
    small["controllers"]["B"] = {"label": "Path B"}
    small["stations"]["S2"] |= {"output": 1, "controller": "B"}
    assert codes(make(small)) == {}


def test_a_station_without_output_shares_none(small, told):
    for name in ("S1", "S2"):
        small["stations"][name]["output"] = None
    assert told(rule, small) == []
