"""Curves against what geometry says of them: how near the pieces stay, where they end."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ezdxf.math import BSpline, ConstructionEllipse, Vec2, Vec3
from hypothesis import given
from hypothesis import strategies as st

from nightwater.survey.drawing_curves import (
    MAX_COORDINATE_M,
    MAX_RADIUS_M,
    SAGITTA_M,
    BadShapeError,
    arc_points,
    bulged_points,
    checked_points,
    checked_radius,
    ellipse_points,
    spline_points,
)

# The sagitta of a piece is the worst it can be; rounding adds a little.
WITHIN = SAGITTA_M * 1.0001


def plane(points):
    return np.array([(p.x, p.y) for p in points])


def middles(points):
    spots = plane(points)
    return (spots[:-1] + spots[1:]) / 2


@pytest.mark.parametrize("radius", [0.001, 0.019, 0.5, 20.0, 350.0, 9_000.0])
@pytest.mark.parametrize("sweep_deg", [-300, -1, 1, 90, 360])
def test_an_arc_stays_within_the_sagitta_and_keeps_its_ends(radius, sweep_deg):
    center, start, sweep = Vec2(10, -4), 0.3, math.radians(sweep_deg)
    points = arc_points(center, radius, start, sweep, SAGITTA_M)
    assert [center.distance(p) for p in points] == pytest.approx([radius] * len(points))
    off = radius - np.hypot(*(middles(points) - (10, -4)).T)
    assert (off <= WITHIN).all()
    assert points[0].isclose(center + Vec2.from_angle(start, radius))
    assert points[-1].isclose(center + Vec2.from_angle(start + sweep, radius), abs_tol=1e-9)


def test_an_arc_has_no_more_pieces_than_it_needs():
    """20 m, 0.02 m: a piece may turn 2 acos(1 - 0.001) = 5.126°, so a full turn has 71."""
    assert len(arc_points(Vec2(0, 0), 20.0, 0.0, math.tau, SAGITTA_M)) == 71 + 1


def test_a_tiny_circle_is_still_round():
    assert len(arc_points(Vec2(0, 0), 0.001, 0.0, math.tau, SAGITTA_M)) == 16 + 1


def test_a_clockwise_arc_turns_clockwise():
    points = arc_points(Vec2(0, 0), 5.0, math.pi / 2, -math.pi / 2, SAGITTA_M)
    assert points[0].isclose((0, 5))
    assert points[-1].isclose((5, 0))
    assert all(p.x >= -1e-9 and p.y >= -1e-9 for p in points)


def test_a_bulge_of_one_is_a_half_circle_to_the_right_of_the_way():
    """Bulge 1 from (0,0) to (10,0): counter-clockwise half circle about (5,0), below the chord."""
    points = bulged_points([(0, 0, 1.0), (10, 0, 0)], False, 1.0)
    assert min(p.y for p in points) == pytest.approx(-5.0, abs=SAGITTA_M)
    assert max(p.y for p in points) == pytest.approx(0.0, abs=1e-9)
    assert points[0] == Vec2(0, 0)
    assert points[-1] == Vec2(10, 0)


def test_a_negative_bulge_lies_on_the_other_side():
    points = bulged_points([(0, 0, -1.0), (10, 0, 0)], False, 1.0)
    assert max(p.y for p in points) == pytest.approx(5.0, abs=SAGITTA_M)


def test_two_half_circles_close_a_circle():
    points = plane(bulged_points([(0, 0, 1.0), (10, 0, 1.0)], True, 1.0))
    assert (points[0] == points[-1]).all()
    x, y = points.T
    area = 0.5 * abs((x[:-1] * y[1:] - x[1:] * y[:-1]).sum())
    # A chord of sagitta s takes 2s/3 off the radius on average: 2 * 0.02/3 / 5 of the area.
    assert area == pytest.approx(25 * math.pi, rel=2.0 * 2 / 3 * SAGITTA_M / 5)
    assert area < 25 * math.pi


@given(
    bulge=st.floats(-8, 8).filter(lambda b: abs(b) > 1e-6),
    x=st.floats(-300, 300),
    y=st.floats(1, 300),
)
def test_every_point_of_a_bulge_is_on_its_circle(bulge, x, y):
    """Radius of a bulge: chord (1 + b²) / 4|b|."""
    points = bulged_points([(0, 0, bulge), (x, y, 0)], False, 1.0)
    radius = math.hypot(x, y) * (1 + bulge**2) / (4 * abs(bulge))
    if len(points) == 2:
        assert abs(bulge) * math.hypot(x, y) / 2 <= SAGITTA_M
        return
    # The centre lies on the bisector; the middle point of the arc is b·chord/2 off the chord.
    height = abs(bulge) * math.hypot(x, y) / 2
    normal = np.array([y, -x]) / math.hypot(x, y) * math.copysign(1, bulge)
    top = np.array([x / 2, y / 2]) + normal * height
    center = top - normal * radius
    distances = np.hypot(*(plane(points) - center).T)
    assert distances == pytest.approx(np.full(len(points), radius), rel=1e-6, abs=1e-6)
    assert (radius - np.hypot(*(middles(points) - center).T) <= WITHIN + 1e-6).all()


def test_a_bulge_flatter_than_the_sagitta_is_straight():
    assert len(bulged_points([(0, 0, 0.003), (10, 0, 0)], False, 1.0)) == 2
    assert len(bulged_points([(0, 0, 0.005), (10, 0, 0)], False, 1.0)) > 2


def test_the_sagitta_is_in_metres_whatever_the_drawing_is_in():
    """A half circle of 10 m: as many pieces in millimetres as in metres."""
    metres = bulged_points([(0, 0, 1.0), (20, 0, 0)], False, 1.0)
    millimetres = bulged_points([(0, 0, 1.0), (20_000, 0, 0)], False, 0.001)
    assert len(metres) == len(millimetres)


def test_no_corners_make_no_line():
    assert bulged_points([], True, 1.0) == []
    assert bulged_points([(1, 2, 0.4)], False, 1.0) == [Vec2(1, 2)]


@pytest.mark.parametrize("ratio", [1.0, 0.4, 0.01])
def test_an_ellipse_stays_within_the_sagitta(ratio):
    ellipse = ConstructionEllipse((3, 4), (30, 0), ratio=ratio)
    points = ellipse_points(ellipse, 1.0)
    spots = plane(points) - (3, 4)
    assert (spots[:, 0] / 30) ** 2 + (spots[:, 1] / (30 * ratio)) ** 2 == pytest.approx(1.0)
    assert points[0] == points[-1]
    fine = plane(ellipse.vertices(np.linspace(0, math.tau, 4001))) - (3, 4)
    one, two = spots[:-1], spots[1:] - spots[:-1]
    share = ((fine[:, None] - one) * two).sum(2) / (two**2).sum(1)
    nearest = one + np.clip(share, 0, 1)[..., None] * two
    off = np.hypot(*(fine[:, None] - nearest).transpose(2, 0, 1)).min(axis=1)
    assert off.max() <= WITHIN


def test_part_of_an_ellipse_keeps_its_ends():
    ellipse = ConstructionEllipse((0, 0), (10, 0), ratio=0.5, start_param=0, end_param=math.pi / 2)
    points = ellipse_points(ellipse, 1.0)
    assert points[0].isclose((10, 0))
    assert points[-1].isclose((0, 5))


def test_a_spline_of_degree_one_is_its_corners():
    spline = BSpline([(0, 0), (10, 0), (10, 7)], order=2)
    corners = {(round(p.x, 9), round(p.y, 9)) for p in spline_points(spline, 1.0)}
    assert {(0, 0), (10, 0), (10, 7)} <= corners


def test_a_spline_follows_what_its_own_library_draws():
    spline = BSpline([(0, 0), (20, 90), (60, -70), (90, 40), (120, 0)], order=4)
    points = plane(spline_points(spline, 1.0))
    fine = plane(list(spline.approximate(3000)))
    one, two = points[:-1], points[1:] - points[:-1]
    share = ((fine[:, None] - one) * two).sum(2) / (two**2).sum(1)
    nearest = one + np.clip(share, 0, 1)[..., None] * two
    off = np.hypot(*(fine[:, None] - nearest).transpose(2, 0, 1)).min(axis=1)
    assert off.max() <= WITHIN
    assert len(points) < 300


def test_a_weighted_spline_is_a_quarter_circle():
    """Degree 2, weights 1, √½, 1 (the textbook quarter circle)."""
    spline = BSpline([(10, 0), (10, 10), (0, 10)], order=3, weights=[1, math.sqrt(0.5), 1])
    distances = [p.magnitude for p in spline_points(spline, 1.0)]
    assert distances == pytest.approx([10.0] * len(distances), abs=1e-9)


@pytest.mark.parametrize("weights", [[1, -1, 1], [1, 0, 1], [1, math.nan, 1]])
def test_weights_that_make_no_curve_are_refused(weights):
    spline = BSpline([(10, 0), (10, 10), (0, 10)], order=3, weights=weights)
    with pytest.raises(BadShapeError, match="weights"):
        spline_points(spline, 1.0)


def test_a_spline_that_leaps_across_the_globe_is_refused_quickly():
    points = [(0, 0), (9e7, 9e7), (-9e7, 0), (9e7, -9e7)]
    with pytest.raises(BadShapeError, match=r"0\.02 m"):
        spline_points(BSpline(points, order=4), 1.0)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, MAX_COORDINATE_M, 1e300])
def test_coordinates_beyond_the_globe_are_refused(value):
    with pytest.raises(BadShapeError, match="finite"):
        checked_points([Vec3(0, 0), Vec3(value, 0)], 1.0)


def test_coordinates_come_in_metres():
    assert checked_points([(1, 2), (3, 4, 5)], 0.3048).tolist() == [
        pytest.approx([0.3048, 0.6096, 0.0]),
        pytest.approx([0.9144, 1.2192, 1.524]),
    ]
    assert checked_points([], 1.0).shape == (0, 3)


@pytest.mark.parametrize("radius", [0.0, -1.0, math.nan])
def test_a_radius_that_is_none_is_refused(radius):
    with pytest.raises(BadShapeError, match=f"its radius is {radius:g}"):
        checked_radius(radius, 1.0)


def test_a_radius_of_a_country_is_refused_in_metres():
    assert checked_radius(MAX_RADIUS_M * 1000, 0.001) == MAX_RADIUS_M * 1000
    with pytest.raises(BadShapeError, match="more than 100 km"):
        checked_radius(MAX_RADIUS_M * 1.01, 1.0)
