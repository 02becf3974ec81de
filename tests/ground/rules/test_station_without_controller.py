"""`station-without-controller`: stations that name no controller or path."""

from __future__ import annotations

from nightwater.findings import Severity
from nightwater.ground.rules import station_without_controller as rule


def test_without_controller(make, small, codes, only):
    small["stations"]["S2"]["controller"] = None
    assert only(codes(make(small)), "station-without-controller").severity is Severity.NOTE


def test_each_station_is_told(small, subjects):
    for row in small["stations"].values():
        row["controller"] = None
    assert subjects(rule, small) == [f"stations:S{number}" for number in range(1, 7)]
