"""`head-without-station`: heads that no station fires."""

from __future__ import annotations

from nightwater.ground.linked import Linked
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.rules import head_without_station as rule


def test_without_station(make, small, codes):
    small["heads"]["R1"]["station"] = None
    found = codes(make(small))
    assert found["head-without-station"][0].subject == "heads:R1"
    assert found["station-without-heads"][0].subject == "stations:S2"
    assert len(found) == 2


def test_a_list_that_names_the_head_is_enough(small, make):
    small["heads"]["R1"]["station"] = None
    small["stations"]["S2"]["heads"] = "R1"
    resolved, _ = resolve_station_lists(make(small))
    assert list(rule.find(Linked(resolved))) == []
