"""`value-missing`: required columns without a value."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import value_missing as rule


def test_area_without_kind(make, small, codes):
    small["areas"]["fairway"]["kind"] = None
    finding = codes(make(small))["value-missing"][0]
    assert finding.subject == "areas:fairway"
    assert finding.severity is Severity.ERROR


def test_the_fix_says_what_the_value_means(small, told):
    small["nozzles"]["N"]["radius_m"] = None
    (found,) = told(rule, small)
    assert found.subject == "nozzles:N"
    assert "N in nozzles has no radius_m." in found.message
    assert found.fix == "Enter it; it means: Throw at the reference pressure."
