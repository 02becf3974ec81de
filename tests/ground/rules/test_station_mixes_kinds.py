"""`station-mixes-kinds`: stations whose heads water several kinds of ground."""

from __future__ import annotations

from shapely.geometry import Point, box

from nightwater.ground.rules import station_mixes_kinds as rule


def test_mixed_kinds(make, small, codes, only):
    small["heads"]["F2"]["geometry"] = Point(70, 20)
    finding = only(codes(make(small)), "station-mixes-kinds")
    assert "fairway and rough" in finding.message


def test_two_areas_of_one_kind_are_no_mixture(small, told):
    small["areas"]["fairway"]["geometry"] = box(40, -15, 70, 15)
    small["areas"]["more"] = {"kind": "fairway", "geometry": box(70, -15, 250, 15)}
    assert told(rule, small) == []
