"""Each rule: silent on a sound record, telling when its one thing is spoiled."""

from __future__ import annotations

from nightwater.ground.checks import RULES, check_ground
from nightwater.ground.record import ground_from


def only(found, code):
    """The one finding of a code, and nothing else was found."""
    assert list(found) == [code], found
    (finding,) = found[code]
    assert finding.fix.endswith((".", "?"))
    return finding


def test_a_sound_record_is_silent(make, small, codes):
    assert codes(make(small)) == {}


def test_nothing_surveyed_is_silent():
    assert check_ground(ground_from("EPSG:32612", {})) == []


def test_areas_alone_are_silent_about_heads(make, small, codes):
    """A course surveyed only as areas and holes is told nothing about missing heads."""
    del small["heads"], small["stations"], small["nozzles"], small["controllers"]
    assert codes(make(small)) == {}


def test_every_rule_stands_once():
    assert len(set(RULES)) == len(RULES)
