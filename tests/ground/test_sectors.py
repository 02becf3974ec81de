"""Directions around a head: shares, runs and windows, against plain counting."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, box

from nightwater.ground.sectors import (
    RAY_DEG,
    RAYS,
    area_share,
    best_window,
    longest_run,
    middle_deg,
    samples_on,
)

ONE = np.array([0.0])


def on(*ground, throw_m=20.0):
    shapes = np.array(ground, dtype=object)
    return samples_on(ONE, ONE, np.array([throw_m]), shapes)


def test_a_head_in_the_open_field_wets_it_all_round():
    samples = on(box(-100, -100, 100, 100))
    assert samples.shape == (1, 72, 21)
    assert samples.min() == 1.0
    assert area_share(samples) == pytest.approx([1.0])


def test_a_head_on_a_straight_edge_wets_half():
    samples = on(box(-100, 0, 100, 100))[0].mean(axis=1)
    north = np.cos(np.radians(RAY_DEG)) > 0
    assert (samples[north] == 1.0).all()
    assert (samples[~north] == 0.0).all()


def test_overlapping_polygons_count_once():
    assert on(box(-100, 0, 100, 100), box(-100, 0, 50, 50)).max() == 1.0


def test_rings_are_weighed_by_their_area():
    """A disc of half the throw is a quarter of the circle."""
    samples = on(Point(0, 0).buffer(10, quad_segs=64))
    assert area_share(samples) == pytest.approx([0.25], abs=0.03)


@given(st.floats(-18, 18))
def test_the_share_on_a_half_plane_is_that_of_the_circles_segment(inside_m):
    """Circle of radius r cut at distance d: acos(d/r) − d/r·√(1 − d²/r²), over π."""
    samples = on(box(-100, -inside_m, 100, 100))
    part = -inside_m / 20.0
    exact = (np.arccos(part) - part * np.sqrt(1 - part**2)) / np.pi
    assert area_share(samples)[0] == pytest.approx(exact, abs=0.02)


def test_nothing_around_and_nobody_asking():
    assert on().max() == 0.0
    assert on(box(500, 500, 600, 600)).max() == 0.0
    nobody = np.array([])
    assert samples_on(nobody, nobody, nobody, np.array([box(0, 0, 1, 1)])).shape == (0, 72, 21)


def rays(*runs):
    wet = np.zeros(RAYS, dtype=bool)
    for first, length in runs:
        wet[(first + np.arange(length)) % RAYS] = True
    return wet


@pytest.mark.parametrize(
    ("runs", "gap", "found"),
    [
        ([], 10, (0, 0)),
        ([(0, 72)], 10, (0, 72)),
        ([(10, 20)], 10, (10, 20)),
        ([(65, 20)], 10, (65, 20)),  # across north
        ([(10, 20), (40, 5)], 10, (10, 20)),
        ([(10, 5), (40, 20)], 10, (40, 20)),
        ([(10, 20), (32, 5)], 10, (10, 27)),  # a break of two rays is closed
        ([(10, 20), (33, 5)], 10, (10, 20)),  # of three it is not
        ([(10, 20), (32, 5)], 0, (10, 20)),
        ([(60, 11), (1, 10)], 10, (60, 23)),  # a break at north
        ([(0, 71)], 10, (0, 71)),
    ],
)
def test_the_longest_run_around_the_circle(runs, gap, found):
    first, length = longest_run(rays(*runs), gap)
    if found == (0, 71):
        assert length >= 71
    else:
        assert (first, length) == found


@given(st.lists(st.booleans(), min_size=RAYS, max_size=RAYS), st.integers(0, RAYS - 1))
def test_turning_the_circle_turns_the_run(wet, turn):
    drawn = np.array(wet)
    _, length = longest_run(drawn, 10.0)
    assert longest_run(np.roll(drawn, turn), 10.0)[1] == length


@given(st.lists(st.booleans(), min_size=RAYS, max_size=RAYS))
def test_without_closing_the_run_is_the_longest_of_plain_counting(wet):
    drawn = np.array(wet)
    first, length = longest_run(drawn, 0.0)
    twice, best, here = np.concatenate([drawn, drawn]), 0, 0
    for ray in twice:
        here = here + 1 if ray else 0
        best = max(best, here)
    assert length == min(best, RAYS)
    assert drawn[(first + np.arange(length)) % RAYS].all()


@given(st.integers(0, RAYS - 1), st.integers(1, RAYS - 1))
def test_a_window_finds_the_ground_it_fits(first, length):
    shares = rays((first, length)).astype(float)
    place, clear = best_window(shares, length)
    assert place == first
    assert clear == pytest.approx(1.0)


def test_a_narrow_window_stands_in_the_middle_of_wide_ground():
    place, clear = best_window(rays((10, 21)).astype(float), 11)
    assert place == 15
    assert 0 < clear < 1


@pytest.mark.parametrize(
    ("first", "length", "bearing"),
    [(0, 36, 90.0), (54, 36, 0.0), (0, 1, 2.5), (71, 2, 0.0), (36, 72, 0.0)],
)
def test_the_middle_of_a_sector(first, length, bearing):
    assert middle_deg(first, length) == pytest.approx(bearing)


def test_many_heads_are_each_measured_at_their_own_place():
    x, y = np.array([0.0, 50.0]), np.zeros(2)
    field = np.array([box(-100, -100, 0, 100), box(40, -100, 60, 100)], dtype=object)
    samples = samples_on(x, y, np.array([20.0, 5.0]), field)
    assert area_share(samples) == pytest.approx([0.5, 1.0])
    assert shapely.is_valid(field).all()
