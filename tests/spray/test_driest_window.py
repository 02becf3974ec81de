"""The scheduling coefficient on turf of any outline."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from nightwater.findings import UserError
from nightwater.spray.driest_window import (
    DEFAULT_WINDOW_SHARE,
    LEAST_FILLED,
    WINDOW_SHARES,
    driest_window,
)
from nightwater.spray.grid import TurfGrid


def grid_of(turf: NDArray[np.bool_], cell_m: float = 1.0) -> TurfGrid:
    """Turf where it is true; one area."""
    row, column = np.nonzero(turf)
    places = np.full(turf.shape, -1, dtype=np.int32)
    places[row, column] = np.arange(len(row))
    return TurfGrid(
        left_m=100.0,
        top_m=500.0,
        cell_m=cell_m,
        rows=turf.shape[0],
        columns=turf.shape[1],
        turf=places,
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        area=np.zeros(len(row), dtype=np.int32),
        areas=("A",),
    )


def square(side: int = 20) -> TurfGrid:
    return grid_of(np.ones((side, side), dtype=bool))


def group_of(grid: TurfGrid) -> NDArray[Any]:
    return np.zeros(len(grid), dtype=np.int64)


def by_hand(grid: TurfGrid, depth: NDArray[np.float64], share: float) -> float:
    """The same by looking at every square one by one."""
    side = max(1, round(math.sqrt(share * len(grid))))
    image = grid.image(depth)
    windows = []
    for top in range(1 - side, grid.rows):
        for left in range(1 - side, grid.columns):
            part = image[max(top, 0) : top + side, max(left, 0) : left + side]
            inside = part[np.isfinite(part)]
            windows.append((inside.size, inside.mean() if inside.size else np.inf))
    fullest = max(size for size, _ in windows)
    least = min(LEAST_FILLED * side**2, fullest)
    return float(depth.mean() / min(mean for size, mean in windows if size >= least))


class TestCoefficient:
    @pytest.mark.parametrize("share", WINDOW_SHARES)
    def test_a_uniform_depth_needs_no_longer_run(self, share: float) -> None:
        grid = square()
        found = driest_window(grid, np.full(len(grid), 3.7), group_of(grid), 1, share)
        assert found.coefficient == pytest.approx([1.0])

    def test_a_dry_patch_as_large_as_the_window_in_closed_form(self) -> None:
        # 5 % of 400 cells is 20; the nearest square is 4 by 4. Such a patch gets 2, the rest 6.
        grid = square()
        depth = np.full(len(grid), 6.0)
        patch = (grid.row >= 5) & (grid.row < 9) & (grid.column >= 11) & (grid.column < 15)
        depth[patch] = 2.0
        found = driest_window(grid, depth, group_of(grid), 1)
        mean = (16 * 2 + 384 * 6) / 400
        assert found.coefficient == pytest.approx([mean / 2.0])
        assert found.side_m == pytest.approx([4.0])
        assert (found.x_m[0], found.y_m[0]) == pytest.approx((100 + 13, 500 - 7))

    def test_a_patch_smaller_than_the_window_counts_with_its_neighbours(self) -> None:
        grid = square()
        depth = np.full(len(grid), 6.0)
        depth[(grid.row == 10) & (grid.column == 10)] = 0.0
        found = driest_window(grid, depth, group_of(grid), 1)
        mean = 6.0 * 399 / 400
        assert found.coefficient == pytest.approx([mean / (6.0 * 15 / 16)])

    def test_a_wider_window_is_never_drier(self) -> None:
        grid = square(40)
        depth = np.random.default_rng(5).uniform(2, 8, len(grid))
        found = [
            driest_window(grid, depth, group_of(grid), 1, share).coefficient[0]
            for share in (0.01, 0.10)
        ]
        assert found[0] > found[1] > 1.0

    def test_a_window_without_water_has_no_run_time(self) -> None:
        grid = square()
        depth = np.where(grid.row < 8, 0.0, 5.0)
        assert np.isinf(driest_window(grid, depth, group_of(grid), 1).coefficient[0])

    def test_the_unit_and_the_cell_do_not_matter(self) -> None:
        depth = np.random.default_rng(6).uniform(1, 9, 400)
        one = driest_window(square(), depth, np.zeros(400), 1)
        fine = grid_of(np.ones((20, 20), dtype=bool), cell_m=0.5)
        other = driest_window(fine, depth / 25.4, np.zeros(400), 1)
        assert other.coefficient == pytest.approx(one.coefficient)
        assert other.side_m == pytest.approx(one.side_m / 2)


class TestOutlines:
    @settings(deadline=None, max_examples=30)  # every square of every outline is looked at
    @given(st.integers(0, 10_000))
    def test_as_by_looking_at_every_square(self, seed: int) -> None:
        chance = np.random.default_rng(seed)
        turf = chance.uniform(size=(12, 15)) < 0.7
        turf[0, 0] = True
        grid = grid_of(turf)
        depth = chance.uniform(1, 9, len(grid))
        for share in (0.02, 0.10):
            found = driest_window(grid, depth, group_of(grid), 1, share)
            assert found.coefficient[0] == pytest.approx(by_hand(grid, depth, share))

    def test_a_corner_of_the_turf_does_not_make_a_window(self) -> None:
        # One dry cell at the tip of a spike: a window with that cell alone is not half turf.
        turf = np.zeros((30, 30), dtype=bool)
        turf[:20, :20] = True
        turf[0, 20:30] = True
        grid = grid_of(turf)
        depth = np.where(grid.column == 29, 0.1, 5.0)
        found = driest_window(grid, depth, group_of(grid), 1)
        assert found.coefficient[0] < 1.3

    def test_a_strip_one_cell_wide_still_has_one(self) -> None:
        grid = grid_of(np.ones((1, 200), dtype=bool))
        depth = np.where(np.abs(grid.column - 100) < 5, 1.0, 4.0)
        found = driest_window(grid, depth, group_of(grid), 1)
        assert found.coefficient == pytest.approx([depth.mean() / 1.0])

    def test_groups_side_by_side_do_not_touch_each_other(self) -> None:
        grid = square()
        group = (grid.column >= 10).astype(np.int64)
        depth = np.where(group == 0, 1.0, 5.0)
        found = driest_window(grid, depth, group, 2)
        assert found.coefficient == pytest.approx([1.0, 1.0])

    def test_groups_without_meaning(self) -> None:
        grid = square(4)
        group = np.repeat([0, 1, 3, -1], 4)
        depth = np.array([1.0, 1, math.nan, 1, 0, 0, 0, 0, 2, 2, 2, -1, 5, 5, 5, 5])
        found = driest_window(grid, depth, group, 4)
        assert np.isnan(found.coefficient).all()
        assert np.isnan(found.side_m).all()

    def test_another_share_is_refused(self) -> None:
        grid = square(4)
        with pytest.raises(UserError, match=r"1 %, 2 %, 5 %, 10 %"):
            driest_window(grid, np.ones(16), np.zeros(16), 1, 0.3)

    def test_the_share_without_a_word_is_five_per_cent(self) -> None:
        assert DEFAULT_WINDOW_SHARE == 0.05


class TestWhatDoesNotChange:
    DEPTH = np.random.default_rng(12).gamma(4.0, 1.5, (30, 30))

    def coefficient(self, depth: NDArray[np.float64]) -> float:
        grid = grid_of(np.ones(depth.shape, dtype=bool))
        return float(driest_window(grid, depth.ravel(), group_of(grid), 1).coefficient[0])

    @pytest.mark.parametrize("turns", [1, 2, 3])
    def test_turning_and_mirroring_the_turf(self, turns: int) -> None:
        one = self.coefficient(self.DEPTH)
        assert self.coefficient(np.rot90(self.DEPTH, turns)) == pytest.approx(one)
        assert self.coefficient(self.DEPTH[::-1]) == pytest.approx(one)

    def test_running_everything_longer(self) -> None:
        assert self.coefficient(4 * self.DEPTH) == pytest.approx(self.coefficient(self.DEPTH))

    def test_running_so_much_longer_gives_the_driest_window_the_mean(self) -> None:
        grid = grid_of(np.ones(self.DEPTH.shape, dtype=bool))
        depth = self.DEPTH.ravel()
        found = driest_window(grid, depth, group_of(grid), 1)
        half = found.side_m[0] / 2
        inside = (abs(grid.x_m - found.x_m[0]) < half) & (abs(grid.y_m - found.y_m[0]) < half)
        assert inside.sum() >= LEAST_FILLED * found.side_m[0] ** 2  # it may hang over the edge
        assert (found.coefficient[0] * depth[inside]).mean() == pytest.approx(depth.mean())
