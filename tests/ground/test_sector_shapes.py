"""Sectors as polygons: their area, their direction, what lies on them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import Point, box

from nightwater.ground.sector_shapes import sector_shapes, shares_on

CIRCLE_M2 = np.pi * 20**2


def heads(**more):
    row = {"x": 100.0, "y": 50.0, "throw_m": 20.0, "arc_deg": 360.0, "bearing_deg": np.nan}
    return pd.DataFrame([row | more])


def test_a_full_circle_needs_no_bearing():
    (shape,) = sector_shapes(heads())
    assert shape.area == pytest.approx(CIRCLE_M2, rel=0.01)
    assert shape.centroid.distance(Point(100, 50)) < 1e-6


@pytest.mark.parametrize("arc", [10.0, 90.0, 180.0, 270.0, 355.0])
def test_a_sector_has_its_share_of_the_circle(arc):
    """Chords lack a little; a 270° sector of 24 chords lacks 0.6 % (by hand: 1 − sin s/s)."""
    (shape,) = sector_shapes(heads(arc_deg=arc, bearing_deg=30.0))
    step = np.radians(arc / 24)
    assert shape.area == pytest.approx(CIRCLE_M2 * arc / 360 * np.sin(step) / step, rel=1e-9)
    assert shape.is_valid


@pytest.mark.parametrize(
    ("bearing", "inside"), [(0, (100, 60)), (90, (110, 50)), (180, (100, 40)), (270, (90, 50))]
)
def test_a_bearing_is_clockwise_from_north(bearing, inside):
    (shape,) = sector_shapes(heads(arc_deg=90.0, bearing_deg=float(bearing)))
    assert shape.contains(Point(inside))
    assert not shape.contains(Point(200 - inside[0], 100 - inside[1]))


@pytest.mark.parametrize(
    "lacking",
    [{"x": np.nan}, {"throw_m": np.nan}, {"throw_m": 0.0}, {"arc_deg": 90.0}],
)
def test_what_is_not_known_is_empty(lacking):
    (shape,) = sector_shapes(heads(**lacking))
    assert shape.is_empty


def test_heads_are_not_changed():
    given = heads(arc_deg=90.0, bearing_deg=10.0)
    before = given.copy()
    sector_shapes(given)
    pd.testing.assert_frame_equal(given, before)


def test_no_heads():
    assert len(sector_shapes(heads().iloc[:0])) == 0


def test_shares_of_ground():
    sectors = np.array([box(0, 0, 10, 10), box(20, 0, 30, 10), shapely.Polygon()], dtype=object)
    ground = np.array([box(0, 0, 5, 10), box(5, 0, 7.5, 10)], dtype=object)
    assert shares_on(sectors, ground) == pytest.approx([0.75, 0.0, 0.0])


def test_no_ground_is_no_share():
    assert shares_on(np.array([box(0, 0, 1, 1)], dtype=object), np.array([], dtype=object)) == [0.0]
