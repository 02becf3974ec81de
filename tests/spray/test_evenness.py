"""Uniformity of groups of cells: closed forms, the can figures, and odd groups."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from nightwater.spray.evenness import (
    RATIO_BARS,
    RATIO_STEP,
    densogram,
    evenness,
    giving_most,
)
from nightwater.spray.uniformity import christiansen_cu, du_lh, du_lq

grouped = st.lists(st.tuples(st.floats(0.1, 100), st.integers(-1, 4)), min_size=1, max_size=80)


class TestEvenness:
    def test_a_uniform_depth_is_wholly_even(self) -> None:
        found = evenness(np.full(37, 4.2), np.zeros(37), 1)
        assert found.mean == pytest.approx([4.2])
        assert found.du_lq == pytest.approx([1.0])
        assert found.du_lh == pytest.approx([1.0])
        assert found.cu == pytest.approx([1.0])

    def test_two_levels_in_closed_form(self) -> None:
        # A share p of the cells gets a, the rest b: mean pa + (1 − p)b, and for p from a quarter
        # to a half the low quarter is a, the low half (pa + (½ − p)b)/½.
        p, a, b = 0.4, 2.0, 7.0
        depth = np.array([a] * 40 + [b] * 60)
        mean = p * a + (1 - p) * b
        found = evenness(depth, np.zeros(100), 1)
        assert found.mean == pytest.approx([mean])
        assert found.du_lq == pytest.approx([a / mean])
        assert found.du_lh == pytest.approx([(p * a + (0.5 - p) * b) / 0.5 / mean])
        assert found.cu == pytest.approx([1 - 2 * p * (mean - a) / mean])

    @settings(deadline=None)  # the first call loads SciPy
    @given(grouped)
    def test_every_group_has_the_figures_of_its_cells_as_cans(
        self, cells: list[tuple[float, int]]
    ) -> None:
        depth = np.array([value for value, _ in cells])
        group = np.array([owner for _, owner in cells])
        found = evenness(depth, group, 5)
        for number in range(5):
            mine = depth[group == number]
            assert found.cells[number] == len(mine)
            for got, one in (
                (found.du_lq, du_lq),
                (found.du_lh, du_lh),
                (found.cu, christiansen_cu),
            ):
                assert got[number] == pytest.approx(one(mine), nan_ok=True, rel=1e-9, abs=1e-9)

    def test_the_trade_s_24_cans(self) -> None:
        # The worked set of `docs/how/spray.md`: mean 25.92, DUlq 0.733, DUlh and CU 0.839.
        cans = [
            38, 35, 33, 31, 30, 29, 29, 28, 28, 27, 27, 26,
            26, 25, 25, 24, 24, 23, 22, 21, 20, 19, 17, 15,
        ]  # fmt: skip
        found = evenness(cans, np.ones(24), 2)
        assert found.mean[1] == pytest.approx(25.92, abs=0.005)
        assert found.du_lq[1] == pytest.approx(0.733, abs=5e-4)
        assert found.du_lh[1] == pytest.approx(0.839, abs=5e-4)
        assert found.cu[1] == pytest.approx(0.839, abs=5e-4)

    def test_the_order_of_cells_and_the_unit_do_not_matter(self) -> None:
        depth = np.random.default_rng(7).uniform(0, 9, 200)
        group = np.arange(200) % 3
        one = evenness(depth, group, 3)
        other = evenness(depth[::-1] / 25.4, group[::-1], 3)
        assert other.du_lq == pytest.approx(one.du_lq)
        assert other.cu == pytest.approx(one.cu)
        assert other.mean * 25.4 == pytest.approx(one.mean)

    def test_a_missing_or_negative_depth_spoils_its_own_group_alone(self) -> None:
        depth = [1, math.nan, 2, 2, 5, -1]
        found = evenness(depth, [0, 0, 1, 1, 2, 2], 3)
        assert np.isnan(found.du_lq).tolist() == [True, False, True]
        assert np.isnan(found.mean).tolist() == [True, False, True]
        assert found.cu[1] == 1.0

    def test_groups_without_cells_or_water(self) -> None:
        found = evenness([0, 0, 3], [0, 0, 2], 3)
        assert found.cells.tolist() == [2, 0, 1]
        assert found.mean[0] == 0.0
        assert np.isnan(found.mean[1])
        assert np.isnan([found.du_lq[0], found.cu[0], found.du_lq[1]]).all()

    def test_nothing_at_all(self) -> None:
        found = evenness([], [], 2)
        assert np.isnan(found.du_lq).all()

    def test_integers_and_images(self) -> None:
        depth, group = np.array([[4, 1], [3, 2]]), np.zeros((2, 2), dtype=int)
        assert evenness(depth, group, 1).du_lq == pytest.approx([1 / 2.5])

    def test_what_comes_in_is_not_changed(self) -> None:
        depth, group = np.array([3.0, math.nan, 1.0]), np.array([0, 0, -1])
        evenness(depth, group, 1)
        assert depth[0] == 3.0
        assert math.isnan(depth[1])
        assert group.tolist() == [0, 0, -1]


class TestWhatDoesNotChange:
    """What any measure of evenness must hold, whatever the pattern."""

    PATTERN = np.random.default_rng(11).gamma(4.0, 1.5, (24, 18))

    @pytest.mark.parametrize("turns", [1, 2, 3])
    def test_turning_and_mirroring_the_turf(self, turns: int) -> None:
        group = np.indices(self.PATTERN.shape)[0] // 12
        one = evenness(self.PATTERN, group, 2)
        turned = evenness(np.rot90(self.PATTERN, turns), np.rot90(group, turns), 2)
        mirrored = evenness(self.PATTERN[:, ::-1], group[:, ::-1], 2)
        for other in (turned, mirrored):
            assert other.du_lq == pytest.approx(one.du_lq)
            assert other.du_lh == pytest.approx(one.du_lh)
            assert other.cu == pytest.approx(one.cu)

    def test_cutting_every_cell_in_four(self) -> None:
        fine = np.kron(self.PATTERN, np.ones((2, 2)))
        one = evenness(self.PATTERN, np.zeros(self.PATTERN.shape), 1)
        other = evenness(fine, np.zeros(fine.shape), 1)
        assert other.cells[0] == 4 * one.cells[0]
        assert other.du_lq == pytest.approx(one.du_lq)
        assert other.cu == pytest.approx(one.cu)

    def test_running_everything_longer(self) -> None:
        group = np.zeros(self.PATTERN.shape)
        one, longer = evenness(self.PATTERN, group, 1), evenness(3 * self.PATTERN, group, 1)
        assert longer.mean == pytest.approx(3 * one.mean)
        assert longer.du_lq == pytest.approx(one.du_lq)
        assert densogram(3 * self.PATTERN, group, 1) == pytest.approx(
            densogram(self.PATTERN, group, 1), abs=2 / self.PATTERN.size
        )

    def test_an_even_shower_on_top_evens_it(self) -> None:
        group = np.zeros(self.PATTERN.shape)
        one, rained = evenness(self.PATTERN, group, 1), evenness(self.PATTERN + 5.0, group, 1)
        assert rained.du_lq[0] > one.du_lq[0]
        assert rained.cu[0] > one.cu[0]

    def test_a_low_half_is_never_drier_than_its_low_quarter(self) -> None:
        group = np.indices(self.PATTERN.shape)[1] // 3
        found = evenness(self.PATTERN, group, 6)
        assert (found.du_lq <= found.du_lh + 1e-12).all()
        assert (found.du_lh <= 1.0).all()

    def test_water_of_the_groups_is_the_water_of_all(self) -> None:
        group = np.indices(self.PATTERN.shape)[1] // 5
        found = evenness(self.PATTERN, group, 4)
        assert (found.mean * found.cells).sum() == pytest.approx(self.PATTERN.sum())


class TestDensogram:
    def test_a_uniform_depth_stands_in_the_bar_at_the_mean(self) -> None:
        (shares,) = densogram(np.full(9, 0.3), np.zeros(9), 1)
        assert shares[round(1 / RATIO_STEP)] == 1.0
        assert shares.sum() == pytest.approx(1.0)

    def test_two_levels_and_the_last_bar(self) -> None:
        # Mean 2: a half gets 0.5 of it, a quarter exactly it, a quarter twice and more.
        (shares,) = densogram([1, 1, 2, 4], np.zeros(4), 1)
        expected = np.zeros(RATIO_BARS + 1)
        expected[[5, 10, RATIO_BARS]] = 0.5, 0.25, 0.25
        assert shares == pytest.approx(expected)

    def test_groups_are_told_apart(self) -> None:
        shares = densogram([1, 1, 1, 9, math.nan], [0, 0, 2, 2, 3], 4)
        assert shares.shape == (4, RATIO_BARS + 1)
        assert shares[0, 10] == 1.0
        assert shares[2, [2, 18]] == pytest.approx([0.5, 0.5])
        assert np.isnan(shares[[1, 3]]).all()

    @settings(deadline=None)  # the first call loads SciPy
    @given(st.lists(st.floats(0.01, 50), min_size=1, max_size=50))
    def test_shares_add_up_and_tell_the_mean(self, depths: list[float]) -> None:
        (shares,) = densogram(depths, np.zeros(len(depths)), 1)
        assert shares.sum() == pytest.approx(1.0)
        lower = (np.arange(RATIO_BARS + 1) * RATIO_STEP * shares).sum()
        assert lower <= 1.0 + 1e-9


class TestGivingMost:
    def test_the_greatest_of_each_row(self) -> None:
        rate = sparse.csr_array(np.array([[0, 2.0, 1], [3, 0, 0], [0, 0, 0], [1, 1, 0.5]]))
        assert giving_most(rate).tolist() == [1, 0, -1, 0]

    def test_stored_zeros_give_nothing(self) -> None:
        rate = sparse.csr_array((np.array([0.0, 1.0]), ([0, 1], [0, 1])), shape=(2, 2))
        assert giving_most(rate).tolist() == [-1, 1]

    def test_no_head_at_all(self) -> None:
        assert giving_most(sparse.csr_array((3, 0))).tolist() == [-1, -1, -1]

    def test_like_a_dense_search(self) -> None:
        dense = np.random.default_rng(3).uniform(0, 1, (60, 8))
        dense[dense < 0.6] = 0.0
        expected = np.where(dense.max(axis=1) > 0, dense.argmax(axis=1), -1)
        assert giving_most(sparse.csr_array(dense)).tolist() == expected.tolist()
