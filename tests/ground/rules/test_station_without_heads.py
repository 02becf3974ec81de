"""`station-without-heads`: stations that fire nothing the record knows."""

from __future__ import annotations

from nightwater.ground.rules import station_without_heads as rule


def test_without_heads(make, small, codes, only):
    small["stations"]["S9"] = {"label": "spare", "controller": "A", "output": 9}
    finding = only(codes(make(small)), "station-without-heads")
    assert finding.subject == "stations:S9"
    assert "spare" in finding.message


def test_every_head_on_another_station(small, subjects):
    small["heads"]["R2"]["station"] = "S2"
    assert subjects(rule, small) == ["stations:S3"]
