"""Where cans go: evenly, clear of heads and edge, as many as there are."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.spray.audit_plan import (
    CALM_M_S,
    EDGE_M,
    FROM_HEAD_M,
    LEAST_CANS,
    can_places,
    guideline_step_m,
    plan_doubts,
    run_minutes,
    wind_doubts,
)

GREEN = shapely.Point(0, 0).buffer(14.0)
CORNERS = np.array([[-14.0, -14.0], [14.0, -14.0], [14.0, 14.0], [-14.0, 14.0]])


def test_no_more_than_there_are_and_close_to_it() -> None:
    for cans in (24, 36, 60, 120):
        found = can_places(GREEN, CORNERS, 20.0, cans)
        assert 0.85 * cans <= len(found) <= cans


@settings(max_examples=20, deadline=None)
@given(st.integers(24, 80), st.floats(10.0, 60.0), st.floats(12.0, 60.0))
def test_all_stand_inside_and_off_the_edge(cans: int, wide: float, high: float) -> None:
    shape = shapely.box(0, 0, wide, high)
    found = can_places(shape, np.empty((0, 2)), 20.0, cans)
    places = shapely.points(found.x_m, found.y_m)
    inner = shape.buffer(-EDGE_M + 1e-6)
    assert shapely.covers(inner, places).all()
    away = shapely.distance(places[:, None], places[None, :])
    np.fill_diagonal(away, np.inf)
    assert away.min() == pytest.approx(found.step_m, rel=1e-6)  # a square grid


def test_a_small_rectangle_takes_the_number_that_no_grid_from_its_corner_has() -> None:
    """11 m by 12 m: from the corner 4 × 5 or 5 × 5 stand there; 24 do as 4 × 6."""
    found = can_places(shapely.box(0, 0, 11, 12), np.empty((0, 2)), 20.0, 24)
    assert 22 <= len(found) <= 24


def test_no_can_stands_on_a_head() -> None:
    heads = np.array([[0.0, 0.0], [6.0, 0.0], [0.0, 6.0]])
    found = can_places(GREEN, heads, 20.0, 60)
    away = np.hypot(found.x_m[:, None] - heads[:, 0], found.y_m[:, None] - heads[:, 1])
    assert away.min() >= FROM_HEAD_M - 1e-9
    assert away.min() < 1.2  # and one line of the grid runs past a head


def test_numbers_follow_a_walk() -> None:
    found = can_places(shapely.box(0, 0, 40, 30), np.empty((0, 2)), 20.0, 48)
    steps = np.hypot(np.diff(found.x_m), np.diff(found.y_m))
    assert steps == pytest.approx(found.step_m, rel=0.01)  # never a walk back to a row's start


@pytest.mark.parametrize("cans", [0, 23, 201])
def test_too_few_and_too_many_cans_are_refused(cans: int) -> None:
    with pytest.raises(UserError, match=f"{LEAST_CANS} to 200"):
        can_places(GREEN, CORNERS, 20.0, cans)


@pytest.mark.parametrize(("spacing_ft", "parts"), [(30, 3), (40, 3), (41, 4), (65, 4)])
def test_thirds_up_to_forty_feet_then_quarters(spacing_ft: float, parts: int) -> None:
    """The association's rule, from memory."""
    assert guideline_step_m(spacing_ft * 0.3048) == pytest.approx(spacing_ft * 0.3048 / parts)


def test_minutes_fill_the_cans_and_turn_the_heads() -> None:
    # 25 mL in 100 cm² is 2.5 mm; at 10 mm/h that takes 15 min.
    assert run_minutes(10.0, 0.01, math.nan) == 15
    assert run_minutes(10.0, 0.01, 240.0) == 20  # five turns of four minutes
    assert run_minutes(0.5, 0.01, math.nan) == 60
    assert run_minutes(math.nan, 0.0, math.nan) == 15


def test_a_wide_grid_is_told() -> None:
    fairway = can_places(shapely.box(0, 0, 200, 40), CORNERS, 20.0, 24)
    assert [doubt.code for doubt in plan_doubts(fairway, "audits:A")] == ["audit-wide-grid"]
    green = can_places(GREEN, CORNERS, 20.0, 40)
    assert plan_doubts(green, "audits:A") == []


@pytest.mark.parametrize(
    ("wind", "told"), [(None, 0), (0.0, 0), (CALM_M_S, 0), (2.5, 1), (math.nan, 0)]
)
def test_wind_over_the_limit_is_told(wind: Any, told: int) -> None:
    assert len(wind_doubts(wind, "audits:A")) == told
