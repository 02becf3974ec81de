"""`unknown-link`: values that name a row of another table that is not there."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import unknown_link as rule


def test_unknown_link_with_the_nearest_name(make, small, codes):
    small["heads"]["R1"]["nozzle"] = "smal"
    found = codes(make(small))
    finding = found["unknown-link"][0]
    assert finding.severity is Severity.ERROR
    assert "Did you mean 'small'?" in finding.fix


def test_no_name_is_near(small, told):
    small["heads"]["R1"]["nozzle"] = "xyz"
    (found,) = told(rule, small)
    assert found.fix == "Correct it, or survey nozzles first."


def test_an_empty_link_leads_nowhere_and_is_silent(small, told):
    small["heads"]["R1"] |= {"nozzle": None, "station": None, "area": None}
    assert told(rule, small) == []


def test_every_table_with_links_is_looked_at(small, subjects):
    small["areas"]["green"]["hole"] = "H99"
    small["stations"]["S1"]["controller"] = "Z"
    assert subjects(rule, small) == ["areas:green", "stations:S1"]
