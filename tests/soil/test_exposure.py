"""What slopes make of need, cell by cell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.soil.exposure import (
    LEAST,
    MOST,
    STEEPEST,
    Planes,
    Sky,
    cell_exposure,
    planes_of,
)
from nightwater.weather.slopes import radiation_ratio

DENVER = Sky(39.2, 288)  # mid October
GRID = np.array([(x, y) for x in range(0, 200, 20) for y in range(0, 200, 20)], dtype=float)
CELLS = np.meshgrid(np.arange(5.0, 190, 4), np.arange(5.0, 190, 4))
X, Y = CELLS[0].ravel(), CELLS[1].ravel()
ONE_AREA = np.zeros(len(X), dtype=np.int32)


def tilted(east: float, north: float) -> Planes:
    return planes_of(GRID, 1400 + east * GRID[:, 0] + north * GRID[:, 1])


@given(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_a_plane_is_found_again(east: float, north: float) -> None:
    planes = tilted(east, north)
    assert len(planes.places) == len(GRID)
    assert planes.east == pytest.approx(np.full(len(GRID), east), abs=1e-9)
    assert planes.north == pytest.approx(np.full(len(GRID), north), abs=1e-9)


@pytest.mark.parametrize(
    ("east", "north", "aspect_deg"), [(0, 0.1, 180), (0, -0.1, 0), (-0.1, 0, 90), (0.1, 0, 270)]
)
def test_aspect_is_where_the_ground_falls_to(east: float, north: float, aspect_deg: float) -> None:
    planes = tilted(east, north)
    off = (np.degrees(planes.aspect_rad) - aspect_deg + 180) % 360 - 180
    assert off == pytest.approx(np.zeros(len(GRID)), abs=1e-6)
    assert planes.slope_rad == pytest.approx(np.full(len(GRID), np.arctan(0.1)))


def test_an_even_slope_leaves_its_area_alone() -> None:
    """The whole area faces one way: that is its own factor's matter."""
    found = cell_exposure((X, Y), ONE_AREA, tilted(0, 0.2), DENVER, 0.7)
    assert found == pytest.approx(np.ones(len(X)))


def ridge() -> Planes:
    """A ridge along x: its south side falls south by 15 %, its north side north."""
    return planes_of(GRID, 1400 - 0.15 * np.abs(GRID[:, 1] - 90))


def test_the_sunny_side_of_a_ridge_asks_for_more() -> None:
    found = cell_exposure((X, Y), ONE_AREA, ridge(), DENVER, 0.7)
    south, north = found[Y < 50], found[Y > 130]
    assert south.min() > 1 > north.max()
    assert found.mean() == pytest.approx(1.0, abs=1e-6)
    slope = np.arctan(0.15)
    one, other = (float(radiation_ratio(39.2, 288, slope, a)) for a in (np.pi, 0.0))
    expected = (1 + 0.7 * (one - 1)) / (1 + 0.7 * (other - 1))
    assert south.mean() / north.mean() == pytest.approx(expected, rel=0.02)


def test_two_areas_keep_their_own_means() -> None:
    area = (Y > 90).astype(np.int32)
    found = cell_exposure((X, Y), area, ridge(), DENVER, 0.7)
    for one in (0, 1):
        assert found[area == one].mean() == pytest.approx(1.0, abs=1e-6)


def test_south_of_the_equator_the_other_side_is_sunny() -> None:
    found = cell_exposure((X, Y), ONE_AREA, ridge(), Sky(-39.2, 105), 0.7)
    assert found[Y > 130].min() > 1 > found[Y < 50].max()


@given(st.floats(0, 1))
def test_factors_grow_with_the_share_and_stay_in_bounds(share: float) -> None:
    found = cell_exposure((X, Y), ONE_AREA, ridge(), DENVER, share)
    whole = cell_exposure((X, Y), ONE_AREA, ridge(), DENVER, 1.0)
    assert np.ptp(found) <= np.ptp(whole) + 1e-12
    assert found.min() >= LEAST
    assert found.max() <= MOST


def test_a_share_of_nothing_leaves_slopes_out() -> None:
    assert (cell_exposure((X, Y), ONE_AREA, ridge(), DENVER, 0.0) == 1).all()


def test_levels_in_a_row_make_no_plane() -> None:
    row = np.column_stack((np.arange(0, 200, 20.0), np.zeros(10)))
    assert len(planes_of(row, row[:, 0] * 0.1).places) == 0


def test_few_levels_make_no_plane() -> None:
    few = planes_of(GRID[:3], np.array([1.0, 2.0, 3.0]))
    assert (cell_exposure((X, Y), ONE_AREA, few, DENVER, 0.7) == 1).all()


def test_cells_far_from_every_level_count_as_level() -> None:
    far_x, area = np.append(X, 2000.0), np.append(ONE_AREA, 1).astype(np.int32)
    found = cell_exposure((far_x, np.append(Y, 0.0)), area, ridge(), DENVER, 0.7)
    assert found[-1] == 1


def test_a_wrong_level_makes_no_cliff() -> None:
    levels = np.full(len(GRID), 1400.0)
    levels[55] = 14000.0  # a slip of the pen
    planes = planes_of(GRID, levels)
    assert np.hypot(planes.east, planes.north).max() <= STEEPEST + 1e-9
    found = cell_exposure((X, Y), ONE_AREA, planes, DENVER, 0.7)
    assert found.min() >= LEAST
    assert found.max() <= MOST


def test_what_lies_elsewhere_does_not_matter() -> None:
    """The whole course moved by a whole block has the same factors."""
    moved = Planes(ridge().places + 5000.0, ridge().east, ridge().north)
    here = cell_exposure((X, Y), ONE_AREA, ridge(), DENVER, 0.7)
    there = cell_exposure((X + 5000.0, Y + 5000.0), ONE_AREA, moved, DENVER, 0.7)
    assert there == pytest.approx(here)
