"""Perimeters around drawn greens: sizes by hand, nothing counted twice."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from nightwater.findings import UserError
from nightwater.ground.links import net_area_m2
from nightwater.ground.perimeters import propose_perimeters, with_new
from nightwater.ground.record import ground_from

RADIUS = 12.0


def disc(x, y, radius=RADIUS):
    return Point(x, y).buffer(radius, quad_segs=128)


def course(**areas):
    given = {"green": {"kind": "green", "label": "7 green", "geometry": disc(0, 0)}} | areas
    tables = {
        "areas": given,
        "holes": {"H7": {"number": 7, "geometry": LineString([(0, -300), (0, 0)])}},
    }
    frames = {name: pd.DataFrame.from_dict(rows, orient="index") for name, rows in tables.items()}
    return ground_from("EPSG:32612", frames)


@pytest.mark.parametrize(("inner", "outer"), [(0.0, 2.0), (0.0, 10.0), (2.0, 5.0)])
def test_a_ring_has_the_size_of_a_ring(inner, outer):
    rows, findings = propose_perimeters(course(), inner, outer)
    exact = np.pi * ((RADIUS + outer) ** 2 - (RADIUS + inner) ** 2)
    assert rows.area.iloc[0] == pytest.approx(exact, rel=0.01)
    assert findings == []


def test_it_is_a_guessed_area_of_the_greens_hole():
    rows, _ = propose_perimeters(course(), 0, 3)
    row = rows.iloc[0]
    assert rows.index[0] == "green-perimeter"
    assert row["label"] == "7 green perimeter"
    assert (row["kind"], row["hole"], row["evidence"]) == ("approach", "H7", "guessed")
    assert rows.crs == "EPSG:32612"


def test_another_kind_may_be_asked_for():
    rows, _ = propose_perimeters(course(), 0, 3, "fairway")
    assert rows["kind"].iloc[0] == "fairway"


@pytest.mark.parametrize("kind", ["fairway", "bunker", "water", "tee", "approach", "practice"])
def test_other_turf_sand_and_water_are_left_out(kind):
    taken = box(-100, -100, 0, 100)
    rows, _ = propose_perimeters(course(other={"kind": kind, "geometry": taken}), 0, 4)
    whole = np.pi * ((RADIUS + 4) ** 2 - RADIUS**2)
    assert rows.area.iloc[0] == pytest.approx(whole / 2, rel=0.01)
    assert shapely.intersection(rows.geometry.iloc[0], taken).area < 1e-6


@pytest.mark.parametrize("kind", ["rough", "native", "grounds"])
def test_rough_lies_beneath_and_gives_way(kind):
    ground = course(other={"kind": kind, "geometry": box(-100, -100, 100, 100)})
    rows, _ = propose_perimeters(ground, 0, 4)
    assert rows.area.iloc[0] == pytest.approx(np.pi * (16**2 - 12**2), rel=0.01)


def test_the_green_itself_is_never_part_of_it():
    rows, _ = propose_perimeters(course(), 0, 5)
    assert shapely.intersection(rows.geometry.iloc[0], disc(0, 0)).area < 1e-6


def test_where_two_rings_meet_the_ground_is_given_once():
    ground = course(second={"kind": "green", "geometry": disc(30, 0)})
    rows, _ = propose_perimeters(ground, 0, 8)
    one, other = rows.geometry
    assert shapely.intersection(one, other).area < 1e-6
    assert one.area > other.area
    both = shapely.union_all([disc(0, 0, 20), disc(30, 0, 20)])
    exact = both.area - 2 * np.pi * RADIUS**2
    assert one.area + other.area == pytest.approx(exact, rel=0.01)


def test_the_course_grows_by_the_ring_and_by_nothing_else():
    ground = course()
    rows, _ = propose_perimeters(ground, 0, 6)
    after = with_new(ground, "areas", rows)
    grown = net_area_m2(after).sum() - net_area_m2(ground).sum()
    assert grown == pytest.approx(rows.area.sum(), rel=1e-6)
    assert list(after.areas.index) == ["green", "green-perimeter"]
    assert list(ground.areas.index) == ["green"]


def test_a_green_without_room_is_told():
    ground = course(around={"kind": "approach", "geometry": disc(0, 0, 30)})
    rows, findings = propose_perimeters(ground, 0, 6)
    assert rows.empty
    assert [(f.code, f.subject) for f in findings] == [("perimeter-without-room", "areas:green")]


def test_a_second_perimeter_gets_an_id_of_its_own():
    ground = course()
    inner, _ = propose_perimeters(ground, 0, 2)
    once = with_new(ground, "areas", inner)
    outer, _ = propose_perimeters(once, 2, 6)
    assert list(outer.index) == ["green-perimeter-2"]
    twice = with_new(once, "areas", outer)
    assert net_area_m2(twice).sum() == pytest.approx(np.pi * 18**2, rel=0.01)


def test_accepting_one_twice_is_refused():
    ground = course()
    rows, _ = propose_perimeters(ground, 0, 2)
    once = with_new(ground, "areas", rows)
    with pytest.raises(UserError, match="green-perimeter is in areas already"):
        with_new(once, "areas", rows)


@pytest.mark.parametrize(("inner", "outer"), [(-1, 2), (2, 2), (5, 2), (0, 61), (0, float("nan"))])
def test_distances_out_of_order_are_refused(inner, outer):
    with pytest.raises(UserError, match="cannot be drawn"):
        propose_perimeters(course(), inner, outer)


def test_a_perimeter_is_turf():
    with pytest.raises(UserError, match="'bunker' is none of"):
        propose_perimeters(course(), 0, 2, "bunker")


def test_no_greens_no_perimeters():
    ground = course(green={"kind": "tee", "geometry": disc(0, 0)})
    rows, findings = propose_perimeters(ground, 0, 2)
    assert rows.empty
    assert findings == []
