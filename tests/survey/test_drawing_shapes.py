"""Every entity kind as the shape it draws, with world coordinates, mirrored planes and holes."""

from __future__ import annotations

import itertools
import math

import ezdxf
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from nightwater.survey.drawing_curves import SAGITTA_M, BadShapeError, NoLengthError
from nightwater.survey.drawing_hatches import hatched_ground
from nightwater.survey.drawing_labels import LABEL_M, doubtful_labels, labels_near
from nightwater.survey.drawing_outlines import CLOSE_M, closed_outlines, drawn_twice
from nightwater.survey.drawing_shapes import encloses, marked_point, traced_line

MIRRORED = {"extrusion": (0, 0, -1)}  # a plane seen from below: x runs the other way


@pytest.fixture
def space():
    return ezdxf.new("R2010").modelspace()


def spots(shape):
    return [tuple(point) for point in shapely.get_coordinates(shape)]


def test_a_line_is_its_two_ends_in_metres(space):
    line = traced_line(space.add_line((0, 0), (100, 50)), 0.3048)
    assert spots(line) == [(0.0, 0.0), pytest.approx((30.48, 15.24))]
    assert not shapely.has_z(line)


def test_heights_are_kept_where_there_are_any(space):
    line = traced_line(space.add_line((0, 0, 3), (10, 0, 4)), 1.0)
    assert shapely.get_coordinates(line, include_z=True)[:, 2].tolist() == [3.0, 4.0]


def test_a_line_to_the_same_place_has_no_length(space):
    with pytest.raises(NoLengthError):
        traced_line(space.add_line((5, 5), (5, 5)), 1.0)


def test_an_arc_runs_counter_clockwise_from_its_first_angle(space):
    line = traced_line(space.add_arc((10, 0), 5, 350, 80), 1.0)
    first, last = spots(line)[0], spots(line)[-1]
    assert first == pytest.approx(
        (10 + 5 * math.cos(math.radians(350)), -5 * math.sin(math.pi / 18))
    )
    assert last == pytest.approx(
        (10 + 5 * math.cos(math.radians(80)), 5 * math.sin(math.radians(80)))
    )
    assert line.length == pytest.approx(5 * math.radians(90), rel=SAGITTA_M / 5)


def test_a_mirrored_arc_lies_on_the_other_side(space):
    """Centre (10, 0) of a plane seen from below is (-10, 0) of the world."""
    line = traced_line(space.add_arc((10, 0), 5, 0, 90, dxfattribs=MIRRORED), 1.0)
    assert spots(line)[0] == pytest.approx((-15, 0))
    assert spots(line)[-1] == pytest.approx((-10, 5))


def test_a_mirrored_polyline_lies_on_the_other_side(space):
    drawn = space.add_lwpolyline([(0, 0), (10, 0), (10, 5)], dxfattribs=MIRRORED)
    assert spots(traced_line(drawn, 1.0)) == [(0, 0), (-10, 0), (-10, 5)]


@pytest.mark.parametrize("add", ["add_lwpolyline", "add_polyline2d"])
def test_bulges_of_old_and_new_polylines_are_alike(space, add):
    drawn = getattr(space, add)([(0, 0, 1), (10, 0, 0), (10, 10, 0)], format="xyb", close=True)
    line = traced_line(drawn, 1.0)
    assert encloses(line)
    assert Polygon(line).area == pytest.approx(50 + math.pi * 25 / 2, rel=0.006)
    assert shapely.bounds(line)[1] == pytest.approx(-5, abs=SAGITTA_M)


def test_a_polyline_in_space_is_read_from_above(space):
    drawn = space.add_polyline3d([(0, 0, 1), (5, 0, 2), (5, 5, 3)], close=True)
    line = traced_line(drawn, 1.0)
    assert spots(line) == [(0, 0), (5, 0), (5, 5), (0, 0)]
    assert shapely.has_z(line)


def test_the_frame_of_a_smoothed_polyline_is_not_the_line(space):
    drawn = space.add_polyline2d([(0, 0), (5, 9), (10, 0)])
    drawn.vertices[1].dxf.flags = 16
    assert spots(traced_line(drawn, 1.0)) == [(0, 0), (10, 0)]


def test_points_that_repeat_stay(space):
    drawn = space.add_lwpolyline([(0, 0), (5, 0), (5, 0), (5, 5)], close=True)
    assert len(spots(traced_line(drawn, 1.0))) == 5


def test_whole_ellipses_and_closed_splines_enclose(space):
    ellipse = traced_line(space.add_ellipse((0, 0), (8, 0), 0.5), 1.0)
    assert encloses(ellipse)
    assert Polygon(ellipse).area == pytest.approx(math.pi * 8 * 4, rel=0.01)
    assert not encloses(traced_line(space.add_ellipse((0, 0), (8, 0), 0.5, 0, 3), 1.0))
    spline = space.add_spline()
    spline.set_closed([(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)])
    assert encloses(traced_line(spline, 1.0))


def test_a_spline_through_points_meets_them(space):
    through = [(0, 0), (10, 8), (22, -3), (30, 0)]
    line = traced_line(space.add_spline(through), 1.0)
    for spot in through:
        assert line.distance(Point(spot)) < SAGITTA_M


@pytest.mark.parametrize("radius", [0, -2])
def test_circles_of_no_radius_have_no_shape(space, radius):
    circle = space.add_circle((0, 0), radius)
    with pytest.raises(BadShapeError, match="radius"):
        traced_line(circle, 1.0)
    with pytest.raises(BadShapeError, match="radius"):
        marked_point(circle, 1.0)


def test_points_stand_where_people_see_them(space):
    document = space.doc
    document.blocks.new("HEAD")
    made = [
        (space.add_point((3, 4)), (3, 4)),
        (space.add_circle((3, 4), 2), (3, 4)),
        (space.add_circle((3, 4), 2, dxfattribs=MIRRORED), (-3, 4)),
        (space.add_blockref("HEAD", (3, 4)), (3, 4)),
        (space.add_blockref("HEAD", (3, 4), dxfattribs=MIRRORED), (-3, 4)),
        (space.add_text("7").set_placement((3, 4)), (3, 4)),
        (space.add_mtext("7", dxfattribs={"insert": (3, 4)}), (3, 4)),
    ]
    for entity, spot in made:
        point, radius = marked_point(entity, 0.01)
        assert spots(point) == [pytest.approx((spot[0] / 100, spot[1] / 100))]
        assert radius == (0.02 if entity.dxftype() == "CIRCLE" else None)


def test_a_line_marks_no_point_and_a_point_draws_no_line(space):
    with pytest.raises(BadShapeError, match="LINE marks no point"):
        marked_point(space.add_line((0, 0), (1, 1)), 1.0)
    with pytest.raises(BadShapeError, match="POINT draws no line"):
        traced_line(space.add_point((0, 0)), 1.0)


def square(hatch, low, high, edges):
    corners = [(low, low), (high, low), (high, high), (low, high)]
    if not edges:
        hatch.paths.add_polyline_path(corners)
        return
    path = hatch.paths.add_edge_path()
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        path.add_line(start, end)


@pytest.mark.parametrize("edges", [False, True])
@pytest.mark.parametrize(("style", "filled"), [(0, 100 - 64 + 16), (1, 100 - 64), (2, 100)])
def test_holes_of_a_hatch_follow_its_style(space, edges, style, filled):
    """Three squares in each other: every second, only the outermost, or all of it."""
    hatch = space.add_hatch()
    hatch.dxf.hatch_style = style
    for low, high in ((0, 10), (1, 9), (3, 7)):
        square(hatch, low, high, edges)
    ground = hatched_ground(hatch, 1.0)
    assert ground.area == pytest.approx(filled)
    assert ground.is_valid


def test_hatch_edges_of_every_kind_close_one_ring(space):
    """Square of 4 with a half circle of radius 2 on its right, arcs told clockwise."""
    path = (hatch := space.add_hatch()).paths.add_edge_path()
    path.add_line((0, 0), (4, 0))
    path.add_arc((4, 2), 2, 270, 90)
    path.add_line((4, 4), (0, 4))
    path.add_spline(control_points=[(0, 4), (0, 3), (0, 1), (0, 0)], degree=3)
    assert hatched_ground(hatch, 1.0).area == pytest.approx(16 + 2 * math.pi, abs=0.1)


def test_a_hatch_with_bulges_and_one_by_an_ellipse(space):
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0, 1), (10, 0, 1)], is_closed=True)
    assert hatched_ground(hatch, 1.0).area == pytest.approx(25 * math.pi, rel=0.006)
    hatch = space.add_hatch()
    hatch.paths.add_edge_path().add_ellipse((0, 0), (8, 0), 0.5)
    assert hatched_ground(hatch, 1.0).area == pytest.approx(32 * math.pi, rel=0.006)


def test_a_hatch_in_feet_comes_in_metres(space):
    hatch = space.add_hatch()
    square(hatch, 0, 100, True)
    assert hatched_ground(hatch, 0.3048).area == pytest.approx(30.48**2)


def test_a_hatch_whose_edges_close_nothing_is_refused(space):
    hatch = space.add_hatch()
    hatch.paths.add_edge_path().add_line((0, 0), (4, 0))
    with pytest.raises(BadShapeError, match="close no outline"):
        hatched_ground(hatch, 1.0)
    with pytest.raises(BadShapeError, match="close no outline"):
        hatched_ground(space.add_hatch(), 1.0)


def pieces_of(ring, gap=0.0):
    """A ring cut into lines of two points, each end moved by the gap, every second turned."""
    corners = list(ring.coords)
    lines = []
    for number, (start, end) in enumerate(itertools.pairwise(corners)):
        moved = (end[0] + gap, end[1])
        lines.append(LineString([start, moved] if number % 2 else [moved, start]))
    return lines


def test_lines_that_meet_close_an_outline_in_any_order_and_direction():
    lines = pieces_of(box(0, 0, 10, 5).exterior)
    found = closed_outlines([lines[2], lines[0], lines[3], lines[1]])
    assert [polygon.area for polygon in found.polygons] == [50.0]
    assert found.left == 0


@pytest.mark.parametrize(("gap", "closes"), [(CLOSE_M * 0.9, True), (CLOSE_M * 1.1, False)])
def test_ends_meet_within_five_centimetres(gap, closes):
    found = closed_outlines(pieces_of(box(0, 0, 10, 5).exterior, gap))
    assert len(found.polygons) == closes
    assert found.left == (0 if closes else 4)
    if closes:
        assert found.polygons[0].area == pytest.approx(50, abs=10 * CLOSE_M)


def test_two_outlines_and_a_stray_line():
    lines = pieces_of(box(0, 0, 10, 5).exterior) + pieces_of(box(20, 0, 25, 5).exterior)
    found = closed_outlines(
        [*lines, LineString([(0, 0), (-4, -4)]), LineString([(50, 0), (60, 0)])]
    )
    assert sorted(polygon.area for polygon in found.polygons) == [25.0, 50.0]
    assert found.left == 2


@pytest.mark.parametrize("shared_once", [True, False])
def test_outlines_may_share_an_edge(shared_once):
    """Neighbours draw the edge between them once, or each for itself."""
    second = pieces_of(box(10, 0, 15, 5).exterior)
    del second[2 : 2 + shared_once]
    found = closed_outlines(pieces_of(box(0, 0, 10, 5).exterior) + second)
    assert sorted(polygon.area for polygon in found.polygons) == [25.0, 50.0]
    assert found.left == 0


def test_lines_that_only_cross_do_not_meet():
    cross = [LineString([(0, 0), (10, 10)]), LineString([(0, 10), (10, 0)])]
    assert closed_outlines(cross).polygons == []


def test_an_outline_that_crosses_itself_is_handed_on_to_be_judged():
    bow = [(0, 0), (10, 10), (10, 0), (0, 10), (0, 0)]
    found = closed_outlines([LineString(bow[:3]), LineString(bow[2:])])
    assert len(found.polygons) == 1
    assert not found.polygons[0].is_valid


def test_nothing_closes_nothing():
    assert closed_outlines([]).polygons == []
    tiny = [LineString([(0, 0), (0.01, 0)]), LineString([(0.01, 0), (0, 0)])]
    assert closed_outlines(tiny).polygons == []


@given(st.permutations(range(7)), st.lists(st.booleans(), min_size=7, max_size=7))
def test_any_order_and_direction_closes_the_same_ring(order, turned):
    corners = [(20 * math.cos(n * math.tau / 7), 12 * math.sin(n * math.tau / 7)) for n in range(7)]
    ring = Polygon(corners)
    lines = [LineString([corners[n], corners[(n + 1) % 7]]) for n in range(7)]
    mixed = [lines[n].reverse() if turned[n] else lines[n] for n in order]
    (closed,) = closed_outlines(mixed).polygons
    assert closed.equals(ring)


def test_twins_share_98_percent_of_both():
    known = [box(0, 0, 100, 10), box(200, 0, 210, 10)]
    new = [box(0, 0, 99, 10), box(0, 0, 97, 10), box(50, 0, 60, 10), box(200, 0, 210, 10)]
    assert drawn_twice(new, known) == [True, False, False, True]
    assert drawn_twice(new, []) == [False] * 4
    assert drawn_twice([], known) == []


def at(*places):
    return [Point(place) for place in places]


def test_each_text_goes_to_its_point():
    points = at((0, 0), (20, 0), (40, 0))
    texts = [(Point(21, 1), "B"), (Point(1, 1), "A"), (Point(39, 1), "C")]
    labels = labels_near(points, texts)
    assert labels.texts == {0: "A", 1: "B", 2: "C"}
    assert labels.doubtful == 0


def test_a_text_farther_than_five_metres_is_nobodys():
    assert labels_near(at((0, 0)), [(Point(LABEL_M * 0.99, 0), "A")]).texts == {0: "A"}
    far = labels_near(at((0, 0)), [(Point(LABEL_M * 1.01, 0), "A")])
    assert (far.texts, far.doubtful) == ({}, 0)


def test_a_text_between_two_points_is_doubtful():
    labels = labels_near(at((0, 0), (4, 0)), [(Point(2.1, 0), "A")])
    assert (labels.texts, labels.doubtful) == ({}, 1)
    labels = labels_near(at((0, 0), (4, 0)), [(Point(1, 0), "A")])
    assert (labels.texts, labels.doubtful) == ({0: "A"}, 0)


def test_two_texts_at_one_point_are_doubtful():
    labels = labels_near(at((0, 0)), [(Point(1, 0), "A"), (Point(-1, 0), "B")])
    assert (labels.texts, labels.doubtful) == ({}, 2)


def test_the_second_text_of_a_point_that_has_one_is_doubtful():
    labels = labels_near(at((0, 0)), [(Point(1, 0), "A"), (Point(-3, 0), "B")])
    assert (labels.texts, labels.doubtful) == ({0: "A"}, 1)


def test_no_points_or_no_texts_make_no_labels():
    assert labels_near([], [(Point(0, 0), "A")]).texts == {}
    assert labels_near(at((0, 0)), []).texts == {}
    assert doubtful_labels("a.dxf", 0) == ()
    assert "3 texts" in doubtful_labels("a.dxf", 3)[0].message
