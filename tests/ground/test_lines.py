"""Lines of play guessed on drawn holes, and the middle of a long piece of turf."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, box

from nightwater.ground.lines import propose_lines
from nightwater.ground.medial import medial_points
from nightwater.ground.perimeters import with_new
from nightwater.ground.play import area_holes, backward_lines
from nightwater.ground.record import ground_from


def course(areas, holes=None):
    frames = {"areas": pd.DataFrame.from_dict(areas, orient="index")}
    if holes:
        frames["holes"] = pd.DataFrame.from_dict(holes, orient="index")
    return ground_from("EPSG:32612", frames)


def straight(name="", hole=None, dx=0.0):
    """A hole played north: two tees, a fairway 34 m wide, a green."""
    areas = {
        f"{name}back": {"kind": "tee", "geometry": box(-5, -10, 5, 10)},
        f"{name}front": {"kind": "tee", "geometry": box(8, 25, 16, 40)},
        f"{name}fairway": {"kind": "fairway", "geometry": box(-17, 130, 17, 330)},
        f"{name}green": {"kind": "green", "geometry": Point(0, 360).buffer(13)},
    }
    for area in areas.values():
        area["geometry"] = affinity.translate(area["geometry"], dx)
        area["hole"] = hole
    return areas


def off_m(rows, truth, row=0):
    """Mean distance of a true line from the proposed one."""
    line = rows["geometry"].iloc[row]
    steps = np.arange(0, truth.length, 5.0)
    return np.mean([line.distance(truth.interpolate(step)) for step in steps])


def test_a_straight_hole_runs_from_the_back_tee_to_the_middle_of_the_green():
    rows = propose_lines(course(straight()))
    line = rows["geometry"].iloc[0].geoms[0]
    assert line.coords[0] == pytest.approx((0, 0))
    assert line.coords[-1] == pytest.approx((0, 360), abs=0.1)
    assert off_m(rows, LineString([(0, 0), (0, 360)])) < 1.0
    assert rows.index[0] == "green-line"
    assert rows["evidence"].iloc[0] == "guessed"
    assert rows["confidence"].iloc[0] <= 0.3


def test_a_dogleg_goes_round_its_corner():
    areas = straight()
    bend = LineString([(0, 130), (0, 260), (150, 260)])
    areas["fairway"]["geometry"] = bend.buffer(16, cap_style="flat")
    areas["green"]["geometry"] = Point(190, 260).buffer(13)
    rows = propose_lines(course(areas))
    truth = LineString([(0, 0), (0, 260), (190, 260)])
    assert off_m(rows, truth) < 5.0
    assert rows["geometry"].iloc[0].length == pytest.approx(truth.length, rel=0.06)


def test_declared_holes_are_named_and_surer():
    rows = propose_lines(course(straight("a-", "07") | straight("b-", "practice loop", 200)))
    assert list(rows.index) == ["07", "practice loop"]
    assert rows.loc["07", "number"] == 7
    assert rows.loc["07", "label"] == "Hole 7"
    assert pd.isna(rows.loc["practice loop", "number"])
    assert (rows["confidence"] > 0.5).all()
    assert rows.loc["07", "reasons"] == (
        "its areas name hole 07; 2 tees, 1 fairways and green a-green"
    )


def test_neighbouring_holes_are_kept_apart():
    areas = straight("a-") | straight("b-", dx=90)
    rows = propose_lines(course(areas))
    assert list(rows.index) == ["a-green-line", "b-green-line"]
    for row, x in enumerate((0, 90)):
        assert off_m(rows, LineString([(x, 0), (x, 360)]), row) < 1.0


def test_a_tee_beside_the_green_belongs_to_the_next_hole():
    areas = straight() | {"next": {"kind": "tee", "geometry": box(30, 330, 40, 350)}}
    rows = propose_lines(course(areas))
    assert "2 tees" in rows["reasons"].iloc[0]
    assert off_m(rows, LineString([(0, 0), (0, 360)])) < 1.0


def test_a_short_hole_needs_no_fairway():
    areas = {
        "tee": {"kind": "tee", "geometry": box(-5, -5, 5, 5)},
        "green": {"kind": "green", "geometry": Point(0, 150).buffer(13)},
    }
    rows = propose_lines(course(areas))
    assert rows["geometry"].iloc[0].length == pytest.approx(150, abs=0.1)
    assert rows["confidence"].iloc[0] == pytest.approx(0.21)


@pytest.mark.parametrize("away", [30, 320])
def test_a_green_too_near_or_too_far_from_every_tee_gets_none(away):
    areas = {
        "tee": {"kind": "tee", "geometry": box(-5, -5, 5, 5)},
        "green": {"kind": "green", "geometry": Point(0, away).buffer(13)},
    }
    assert propose_lines(course(areas)).empty


def test_a_declared_hole_without_tees_begins_at_its_fairway():
    areas = {name: row for name, row in straight("", "4").items() if row["kind"] != "tee"}
    rows = propose_lines(course(areas))
    line = rows["geometry"].iloc[0].geoms[0]
    assert line.coords[0][1] == pytest.approx(130)
    assert rows["confidence"].iloc[0] < 0.6


def test_holes_with_a_line_are_left_alone():
    truth = {"H1": {"number": 1, "geometry": LineString([(0, 0), (0, 360)])}}
    assert propose_lines(course(straight(), truth)).empty
    both = straight("a-") | straight("b-", dx=400)
    rows = propose_lines(course(both, truth))
    assert list(rows.index) == ["b-green-line"]


@pytest.mark.parametrize("areas", [{}, {"g": {"kind": "green", "geometry": Point(0, 0).buffer(9)}}])
def test_without_tees_or_greens_nothing_is_guessed(areas):
    ground = course(areas) if areas else ground_from("EPSG:32612", {})
    assert propose_lines(ground).empty


def test_an_area_without_a_shape_makes_no_hole():
    areas = straight("", "3")
    areas["green"]["geometry"] = None
    assert propose_lines(course(areas)).empty


def test_accepted_lines_give_areas_their_holes():
    ground = course(straight("a-") | straight("b-", dx=90))
    rows = propose_lines(ground)
    after = with_new(ground, "holes", rows)
    assert list(after.holes["evidence"]) == ["guessed", "guessed"]
    assert not backward_lines(after).any()
    holes = area_holes(after)
    assert set(holes[[name for name in holes.index if name.startswith("a-")]]) == {"a-green-line"}
    assert set(holes[[name for name in holes.index if name.startswith("b-")]]) == {"b-green-line"}
    assert propose_lines(after).empty


def test_the_result_is_the_same_every_time():
    ground = course(straight("a-") | straight("b-", dx=90))
    one, other = propose_lines(ground), propose_lines(ground)
    assert [shape.wkt for shape in one["geometry"]] == [shape.wkt for shape in other["geometry"]]


def test_the_middle_of_a_strip_is_its_middle():
    strip = box(0, 0, 20, 300)
    points = medial_points(strip, Point(10, -50), Point(10, 350))
    assert points[:, 0] == pytest.approx(10, abs=1.0)
    assert (np.diff(points[:, 1]) > 0).all() if len(points) > 1 else True


def test_the_middle_of_a_bent_strip_bends():
    bend = LineString([(0, 0), (0, 200), (200, 200)])
    points = medial_points(bend.buffer(15), Point(0, -60), Point(260, 200))
    assert max(bend.distance(Point(point)) for point in points) < 8
    line = LineString([(0, -60), *points, (260, 200)])
    assert line.distance(Point(0, 200)) < 8


def test_the_middle_starts_where_the_start_is():
    strip = box(0, 0, 20, 300)
    up = medial_points(strip.union(box(20, 200, 60, 220)), Point(10, -50), Point(10, 350))
    down = medial_points(strip.union(box(20, 200, 60, 220)), Point(10, 350), Point(10, -50))
    assert up[0, 1] < up[-1, 1]
    assert down[0, 1] > down[-1, 1]


def test_tiny_empty_and_broken_turf():
    nothing = medial_points(shapely.Polygon(), Point(0, 0), Point(1, 1))
    assert nothing.shape == (0, 2)
    speck = medial_points(box(0, 0, 1, 1), Point(0, -5), Point(0, 5))
    assert speck == pytest.approx(np.array([[0.5, 0.5]]))
    parts = shapely.union_all([box(0, 0, 20, 100), box(0, 300, 20, 400)])
    near = medial_points(parts, Point(10, -10), Point(10, 450))
    assert (near[:, 1] <= 101).all()
