"""Distance along the line of play, and which side of it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nightwater.ground.along import (
    BEYOND_M,
    along_and_aside_m,
    green_bearing_deg,
    head_play,
    lines_by_hole,
)

NORTH = LineString([(0, 0), (0, 200)])
DOGLEG = LineString([(0, 0), (0, 200), (150, 200)])


def measured(line, *points):
    spots = np.array([Point(point) for point in points], dtype=object)
    lines = np.array([line] * len(points), dtype=object)
    return along_and_aside_m(spots, lines)


def test_left_is_negative_as_seen_from_the_tee():
    along, aside = measured(NORTH, (-10, 50), (10, 60), (0, 70))
    assert along == pytest.approx([50, 60, 70])
    assert aside == pytest.approx([-10, 10, 0])


def test_behind_the_tee_and_the_green_the_line_runs_on():
    along, aside = measured(NORTH, (3, -12), (-3, 215))
    assert along == pytest.approx([-12, 215])
    assert aside == pytest.approx([3, -3])


def test_round_a_dogleg_the_distance_follows_the_line():
    along, aside = measured(DOGLEG, (-8, 100), (100, 208), (100, 192))
    assert along == pytest.approx([100, 300, 300])
    assert aside == pytest.approx([-8, -8, 8])


def test_on_the_inside_of_a_corner_the_side_is_kept():
    _, aside = measured(DOGLEG, (10, 190), (-5, 205))
    assert aside[0] > 0
    assert aside[1] < 0


@given(st.floats(0, 200), st.floats(-60, 60), st.floats(0, 2 * np.pi))
def test_turning_the_course_changes_neither(along_m, right_m, turn):
    ahead = np.array([np.sin(turn), np.cos(turn)])
    right = np.array([np.cos(turn), -np.sin(turn)])
    line = LineString([(0, 0), ahead * 200])
    along, aside = measured(line, ahead * along_m + right * right_m)
    assert along[0] == pytest.approx(along_m, abs=1e-6)
    assert aside[0] == pytest.approx(right_m, abs=1e-6)


@given(st.floats(-60, 60))
def test_seen_from_the_green_left_is_right(right_m):
    there = measured(NORTH, (right_m, 80))
    back = measured(shapely.reverse(NORTH), (right_m, 80))
    assert back[0][0] == pytest.approx(200 - there[0][0])
    assert back[1][0] == pytest.approx(-there[1][0], abs=1e-9)


def test_without_a_place_or_a_line_nothing_is_known():
    points = np.array([Point(), Point(0, 5)], dtype=object)
    lines = np.array([NORTH, LineString()], dtype=object)
    along, aside = along_and_aside_m(points, lines)
    assert np.isnan(along).all()
    assert np.isnan(aside).all()
    none = np.array([], dtype=object)
    assert along_and_aside_m(none, none)[0].shape == (0,)


def test_far_behind_the_tee_the_distance_ends_where_the_line_does():
    along, _ = measured(NORTH, (0, -500))
    assert along[0] == pytest.approx(-BEYOND_M)


@pytest.mark.parametrize(
    ("line", "bearing"),
    [(NORTH, 0.0), (DOGLEG, 90.0), (LineString([(0, 0), (0, -20)]), 180.0)],
)
def test_the_green_is_approached_along_the_last_of_the_line(line, bearing):
    assert green_bearing_deg(line) == pytest.approx(bearing)


def test_heads_know_their_hole_side_and_green(hole, make):
    play = head_play(make(hole))
    assert play.loc["F1", "chainage_m"] == pytest.approx(60)
    assert play.loc["R1", "offset_m"] == pytest.approx(-30)
    assert list(play.loc[["G1", "F1", "R1"], "kind"]) == ["green", "fairway", "rough"]
    assert (play["hole"] == "H1").all()
    assert (play["green"] == "green").all()
    assert play.loc["G1", "green_m"] == pytest.approx(5)
    assert play.loc["G2", "green_m"] == 0.0


def test_a_line_drawn_backwards_is_turned_before_it_measures(hole, make):
    hole["holes"]["H1"]["geometry"] = LineString([(230, 0), (0, 0)])
    play = head_play(make(hole))
    assert play.loc["F1", "chainage_m"] == pytest.approx(60)
    assert play.loc["R1", "offset_m"] == pytest.approx(-30)


def test_a_course_without_lines_or_greens_still_has_heads(hole, make):
    del hole["holes"], hole["areas"]["green"]
    ground = make(hole)
    play = head_play(ground)
    assert lines_by_hole(ground) == {}
    assert play["chainage_m"].isna().all()
    assert np.isinf(play["green_m"]).all()
    assert play["area"].notna().any()


def test_a_head_without_a_place_is_kept_with_gaps(hole, make):
    hole["heads"]["F1"]["geometry"] = None
    play = head_play(make(hole))
    assert np.isnan(play.loc["F1", "x"])
    assert np.isnan(play.loc["F1", "chainage_m"])
    assert play.loc["F2", "chainage_m"] == pytest.approx(80)
