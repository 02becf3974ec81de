"""The wetting matrix: water kept, even patterns exact, columns rebuilt only where they change."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.matrix import head_keys, picked, wetting_matrix
from nightwater.spray.spot import rates_at_mm_h
from nightwater.spray.uniformity import christiansen_cu, du_lq

Grids = Callable[..., TurfGrid]
Heads = Callable[..., HeadPatterns]
NAMES = ("triangle", "ellipse", "doughnut", "trapezoid", "uniform")


def water_l_min(grid: TurfGrid, rate_mm_min: Any) -> np.ndarray:
    """What each column lays on the turf; 1 mm on 1 m² is 1 L."""
    return np.asarray(rate_mm_min.sum(axis=0), dtype=float).ravel() * grid.cell_m2


@given(
    name=st.sampled_from(NAMES),
    cell=st.sampled_from([0.25, 0.5, 1.0, 1.5, 2.0]),
    head=st.tuples(st.floats(0.5, 12), st.floats(10, 360), st.floats(0, 360), st.floats(0, 8)),
)
@settings(max_examples=60, deadline=None)
def test_all_the_water_lands(
    grid_of: Grids, patterns_of: Heads, name: str, cell: float, head: Any
) -> None:
    """Flow × time within 0.01 % for any profile, arc, lean and cell; 0.5 % is asked for."""
    radius, arc, bearing, tilt = head
    size = math.ceil(60 / cell)
    grid = grid_of(size, size, cell, -30.0, 30.0)
    heads = patterns_of(
        [0.3, -1.0], [0.1, 2.0], name, flow_l_s=[0.7, 1.9], radius_m=radius,
        arc_deg=arc, bearing_deg=bearing, tilt_deg=tilt, tilt_towards_deg=200.0,
    )  # fmt: skip
    matrix = wetting_matrix(grid, heads)
    assert water_l_min(grid, matrix.rate_mm_min) == pytest.approx([42.0, 114.0], rel=1e-4)
    assert matrix.off_turf == pytest.approx([0, 0], abs=1e-5)
    assert (matrix.rate_mm_min.data >= 0).all()


def test_a_level_pattern_is_flow_over_its_circle(grid_of: Grids, patterns_of: Heads) -> None:
    """1 L/s on a circle of 10 m: 60 / 314.16 mm/min in every cell inside."""
    grid = grid_of(60, 60, 0.5, -15.0, 15.0)
    matrix = wetting_matrix(grid, patterns_of(0, 0, "uniform"))
    inside = np.hypot(grid.x_m, grid.y_m) < 9.5
    rate = matrix.rate_mm_min.toarray()[:, 0]
    assert rate[inside] == pytest.approx(60 / (math.pi * 100), rel=2e-3)
    assert (rate[np.hypot(grid.x_m, grid.y_m) > 10.5] == 0).all()


@pytest.mark.parametrize("arc", [90.0, 180.0, 270.0])
def test_a_part_circle_lays_the_same_water_on_its_part(
    grid_of: Grids, patterns_of: Heads, arc: float
) -> None:
    grid = grid_of(60, 60, 0.5, -15.0, 15.0)
    matrix = wetting_matrix(grid, patterns_of(0, 0, "uniform", arc_deg=arc, bearing_deg=arc / 2))
    rate = matrix.rate_mm_min.toarray()[:, 0]
    towards = np.degrees(np.arctan2(grid.x_m, grid.y_m)) % 360
    away = np.hypot(grid.x_m, grid.y_m)
    clear = np.abs((towards - arc / 2 + 180) % 360 - 180) < arc / 2 - 12
    assert rate[clear & (away < 9.5) & (away > 3)] == pytest.approx(
        60 / (math.pi * 100) * 360 / arc, rel=5e-3
    )
    dry = np.abs((towards - arc / 2 + 180) % 360 - 180) > arc / 2 + 12
    assert (rate[dry & (away > 3)] == 0).all()


def lattice(grid_of: Grids, patterns_of: Heads, name: str, radius: float) -> np.ndarray:
    """Rates [mm/h] in the middle square of a wide square lattice of 16 m spacing."""
    spots = np.arange(-5, 6) * 16.0
    x, y = np.meshgrid(spots, spots)
    heads = patterns_of(x, y, name, radius_m=radius)
    grid = grid_of(64, 64, 0.25, 0.0, 16.0)
    rate = wetting_matrix(grid, heads).rate_mm_min @ np.ones(len(heads))
    return np.asarray(rate, dtype=float) * 60


@pytest.mark.parametrize("name", NAMES)
def test_overlap_on_a_lattice_has_the_rate_of_the_water_balance(
    grid_of: Grids, patterns_of: Heads, name: str
) -> None:
    """Whatever the profile: 3600 q / s², 14.0625 mm/h."""
    rate = lattice(grid_of, patterns_of, name, 18.0)
    assert rate.mean() == pytest.approx(3600 / 256, rel=1e-3)


def test_level_circles_that_just_meet_have_their_exact_uniformity(
    grid_of: Grids, patterns_of: Heads
) -> None:
    """R = s/√2: every spot lies in one circle or two, π/2 − 1 of the ground in two.

    Mean π/2 circles; CU = 1 − 2 (2 − π/2)(π/2 − 1)/(π/2) = 0.6881, DUlq = 2/π = 0.6366.
    """
    rate = lattice(grid_of, patterns_of, "uniform", 16 / math.sqrt(2))
    twice = math.pi / 2 - 1
    assert christiansen_cu(rate) == pytest.approx(
        1 - 2 * (1 - twice) * twice / (1 + twice), abs=0.01
    )
    assert du_lq(rate) == pytest.approx(2 / math.pi, abs=0.01)
    one = 3600 / (math.pi * 128)
    assert np.median(rate[rate < 1.2 * one]) == pytest.approx(one, rel=2e-3)


def test_half_overlapping_strips_of_a_ramp_are_dead_even(
    grid_of: Grids, patterns_of: Heads
) -> None:
    """A triangle's mirror image fills it: two facing heads of one leg, on the line between them."""
    heads = patterns_of([0.0, 20.0], [0.25, 0.25], "triangle", radius_m=20.0)
    grid = grid_of(1, 40, 0.5, 0.0, 0.5)
    rate = wetting_matrix(grid, heads).rate_mm_min @ np.ones(2)
    peak = 3 * 60 / (math.pi * 400)
    assert np.asarray(rate) == pytest.approx(peak, rel=5e-3)


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0])
def test_cells_agree_with_spots(grid_of: Grids, patterns_of: Heads, cell: float) -> None:
    """The matrix against the one-spot formula, all heads together; 2 % of the mean at 1 m."""
    random = np.random.default_rng(4)
    heads = patterns_of(
        random.uniform(0, 60, 30), random.uniform(0, 60, 30), "ellipse",
        radius_m=random.uniform(8, 18, 30), flow_l_s=random.uniform(0.5, 2, 30),
    )  # fmt: skip
    size = int(60 / cell)
    grid = grid_of(size, size, cell, 0.0, 60.0)
    rate = np.asarray(wetting_matrix(grid, heads).rate_mm_min @ np.ones(30)) * 60
    some = random.integers(0, len(grid), 400)
    exact = np.array([rates_at_mm_h(heads, grid.x_m[k], grid.y_m[k]).sum() for k in some])
    off = np.abs(rate[some] - exact)
    assert off.mean() < 0.02 * cell * exact.mean()


def course_like(patterns_of: Heads, count: int = 60) -> HeadPatterns:
    random = np.random.default_rng(11)
    return patterns_of(
        random.uniform(0, 90, count), random.uniform(0, 90, count),
        radius_m=random.uniform(1.5, 20, count), arc_deg=random.choice([90.0, 180.0, 360.0], count),
        bearing_deg=random.uniform(0, 360, count), tilt_deg=random.choice([0.0, 0.0, 5.0], count),
        flow_l_s=random.uniform(0.1, 2, count),
    )  # fmt: skip


def same(one: Any, other: Any) -> bool:
    """Equal columns, entry by entry and bit by bit."""
    return (
        one.heads.tolist() == other.heads.tolist()
        and one.keys == other.keys
        and (one.rate_mm_min != other.rate_mm_min).nnz == 0
        and bool((one.off_turf == other.off_turf).all())
    )


def test_a_column_hangs_on_its_own_head_alone(grid_of: Grids, patterns_of: Heads) -> None:
    """Built alone or among others it is the same to the last bit."""
    grid, heads = grid_of(90, 90, 1.0, 0.0, 90.0), course_like(patterns_of)
    whole = wetting_matrix(grid, heads)
    for place in range(len(heads)):
        alone = wetting_matrix(grid, picked(heads, np.array([place])))
        assert (alone.rate_mm_min[:, [0]] != whole.rate_mm_min[:, [place]]).nnz == 0


def test_rebuilding_some_is_building_all(grid_of: Grids, patterns_of: Heads) -> None:
    """One head turned, one dropped, one moved to the front, one new: as if built anew."""
    grid, heads = grid_of(90, 90, 1.0, 0.0, 90.0), course_like(patterns_of)
    known = wetting_matrix(grid, heads)
    bearing = heads.bearing_deg.copy()
    bearing[3] += 10
    order = np.concatenate([[17], np.arange(17), np.arange(18, 59)])
    changed = picked(replace(heads, bearing_deg=bearing), order)
    assert same(wetting_matrix(grid, changed, known), wetting_matrix(grid, changed))
    assert same(wetting_matrix(grid, heads, known), known)
    none = wetting_matrix(grid, picked(heads, np.array([], dtype=int)), known)
    assert none.rate_mm_min.shape == (8100, 0)


def test_another_grid_takes_nothing_from_an_earlier_matrix(
    grid_of: Grids, patterns_of: Heads
) -> None:
    heads = course_like(patterns_of)
    known = wetting_matrix(grid_of(90, 90, 1.0, 0.0, 90.0), heads)
    for grid in (grid_of(80, 90, 1.0, 0.0, 90.0), grid_of(90, 90, 1.0, 1.0, 90.0)):
        assert not set(head_keys(grid, heads)) & set(known.keys)
        assert same(wetting_matrix(grid, heads, known), wetting_matrix(grid, heads))


@pytest.mark.parametrize(
    "field",
    ["x_m", "y_m", "flow_l_s", "radius_m", "arc_deg", "bearing_deg", "tilt_deg", "trajectory_deg"],
)
def test_every_part_of_a_pattern_is_in_its_key(
    grid_of: Grids, patterns_of: Heads, field: str
) -> None:
    grid, heads = grid_of(9, 9, 1.0, 0.0, 9.0), course_like(patterns_of, 5)
    values = getattr(heads, field).copy()
    values[2] += 0.5
    old, new = head_keys(grid, heads), head_keys(grid, replace(heads, **{field: values}))
    assert [a == b for a, b in zip(old, new, strict=True)] == [True, True, False, True, True]


def test_a_profile_is_in_the_key(grid_of: Grids, patterns_of: Heads) -> None:
    grid = grid_of(9, 9, 1.0, 0.0, 9.0)
    assert head_keys(grid, patterns_of(1, 1, "triangle")) != head_keys(
        grid, patterns_of(1, 1, "ellipse")
    )


def test_what_falls_beside_the_turf_is_told(grid_of: Grids, patterns_of: Heads) -> None:
    """A head on the west edge gives half away, one far off all of it."""
    grid = grid_of(40, 20, 1.0, 0.0, 20.0)
    matrix = wetting_matrix(grid, patterns_of([0.0, -50.0], [0.0, 0.0]))
    assert matrix.off_turf == pytest.approx([0.5, 1.0], abs=0.01)
    assert matrix.rate_mm_min[:, [1]].nnz == 0
    laid = water_l_min(grid, matrix.rate_mm_min)
    assert laid / 60 + matrix.off_turf == pytest.approx([1, 1], abs=1e-5)


def test_rows_are_the_grid_s_cells(grid_of: Grids, patterns_of: Heads) -> None:
    grid = grid_of(30, 30, 1.0, 0.0, 30.0)
    matrix = wetting_matrix(grid, patterns_of(7.5, 22.5, radius_m=3.0))
    rate = matrix.rate_mm_min.toarray()[:, 0]
    assert int(np.argmax(rate)) == grid.cell_at(7.5, 22.5)
    wet = rate > 0
    assert np.hypot(grid.x_m[wet] - 7.5, grid.y_m[wet] - 22.5).max() < 3.8
    assert matrix.rate_mm_min.has_sorted_indices
    for column in range(matrix.rate_mm_min.shape[1]):
        ends = matrix.rate_mm_min.indptr[column : column + 2]
        assert (np.diff(matrix.rate_mm_min.indices[slice(*ends)]) > 0).all()


def test_stations_add_up_their_heads(grid_of: Grids, patterns_of: Heads) -> None:
    grid, heads = grid_of(90, 90, 1.0, 0.0, 90.0), course_like(patterns_of, 5)
    matrix = wetting_matrix(grid, heads)
    stations = pd.Series(["S2", "S1", None, "S2", "S1"], index=heads.ids, dtype=object)
    found, names = matrix.by_station(stations)
    assert names == ("S1", "S2")
    dense = matrix.rate_mm_min.toarray()
    assert found.toarray()[:, 0] == pytest.approx(dense[:, 1] + dense[:, 4])
    assert found.toarray()[:, 1] == pytest.approx(dense[:, 0] + dense[:, 3])
    nothing, no_names = matrix.by_station(pd.Series(dtype=object))
    assert (nothing.shape, no_names) == ((8100, 0), ())


def test_no_turf_or_no_heads(grid_of: Grids, patterns_of: Heads) -> None:
    empty, heads = grid_of(0, 0, 1.0, 0.0, 0.0), course_like(patterns_of, 3)
    matrix = wetting_matrix(empty, heads)
    assert matrix.rate_mm_min.shape == (0, 3)
    assert matrix.off_turf.tolist() == [1, 1, 1]
    none = wetting_matrix(grid_of(3, 3, 1.0, 0.0, 3.0), picked(heads, np.zeros(3, dtype=bool)))
    assert none.rate_mm_min.shape == (9, 0)
