"""Uniformity of catches, and run-time multipliers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.spray.uniformity import (
    MULTIPLIER_WORDS,
    MULTIPLIERS,
    christiansen_cu,
    du_lh,
    du_lq,
    low_fraction_uniformity,
    run_time_multiplier,
)

catches = st.lists(st.floats(0.1, 100), min_size=1, max_size=60)
MEASURES = [du_lq, du_lh, christiansen_cu]


class TestCatches:
    def test_four_cans_by_hand(self) -> None:
        cans = [4, 1, 3, 2]  # mean 2.5
        assert du_lq(cans) == pytest.approx(1 / 2.5)
        assert du_lh(cans) == pytest.approx(1.5 / 2.5)
        assert christiansen_cu(cans) == pytest.approx(1 - 4 / 10)

    def test_a_part_of_a_can_counts_by_its_share(self) -> None:
        # A quarter of 5 cans is 1.25 cans: 1 and a quarter of 2, over 1.25, over the mean 3.
        assert du_lq([1, 2, 3, 4, 5]) == pytest.approx((1 + 0.25 * 2) / 1.25 / 3)

    def test_one_can_alone_is_even(self) -> None:
        assert du_lq([7]) == christiansen_cu([7]) == 1.0

    def test_fewer_cans_than_a_quarter_makes(self) -> None:
        assert du_lq([1, 3]) == pytest.approx(0.5)  # half of the lower can

    def test_a_dry_quarter(self) -> None:
        assert du_lq([0, 4, 4, 4]) == 0.0

    def test_cu_of_a_wild_catch_may_be_below_zero(self) -> None:
        assert christiansen_cu([0, 0, 0, 0, 10]) == pytest.approx(1 - 16 / 10)

    @pytest.mark.parametrize("measure", MEASURES)
    @pytest.mark.parametrize("cans", [[], [0, 0], [1, math.nan], [1, -1], [1, math.inf]])
    def test_no_meaning_gives_nan(self, measure: object, cans: list[float]) -> None:
        assert callable(measure)
        assert math.isnan(measure(cans))

    @pytest.mark.parametrize("measure", MEASURES)
    def test_grids_and_integers(self, measure: object) -> None:
        assert callable(measure)
        grid = np.array([[4, 1], [3, 2]])
        assert measure(grid) == measure([1.0, 2.0, 3.0, 4.0])
        assert grid.tolist() == [[4, 1], [3, 2]]

    @given(catches, st.floats(0.01, 1000))
    def test_the_unit_does_not_matter(self, cans: list[float], times: float) -> None:
        scaled = [times * can for can in cans]
        for measure in MEASURES:
            assert measure(scaled) == pytest.approx(measure(cans), abs=1e-9)

    @given(catches)
    def test_low_quarter_below_low_half_below_one(self, cans: list[float]) -> None:
        low, half = du_lq(cans), du_lh(cans)
        assert 0 <= low <= half + 1e-12
        assert half <= 1 + 1e-12

    @given(st.floats(0.1, 50), st.integers(1, 40))
    def test_even_water_is_one(self, depth: float, count: int) -> None:
        for measure in MEASURES:
            assert measure([depth] * count) == pytest.approx(1.0)

    @given(catches, st.integers(2, 4))
    def test_the_same_cans_again_change_nothing(self, cans: list[float], times: int) -> None:
        assert du_lq(cans * times) == pytest.approx(du_lq(cans), abs=1e-9)

    def test_the_whole_field_is_its_own_mean(self) -> None:
        assert low_fraction_uniformity([3, 1, 8], 1.0) == pytest.approx(1.0)


class TestMultiplier:
    @pytest.mark.parametrize(
        ("name", "expected"),
        [("du_lq", 1 / 0.82), ("inverse_du", 1 / 0.7), ("efficiency", 1 / 0.8), ("none", 1.0)],
    )
    def test_each_rule_by_hand(self, name: str, expected: float) -> None:
        assert float(run_time_multiplier(name, 0.7, 0.8)) == pytest.approx(expected)

    def test_every_rule_is_told_in_words(self) -> None:
        assert MULTIPLIERS.keys() == MULTIPLIER_WORDS.keys()

    def test_an_unknown_rule_is_refused_with_the_known_ones(self) -> None:
        with pytest.raises(UserError, match=r"'half'.*inverse_du"):
            run_time_multiplier("half", 0.7, 0.8)

    def test_shapes_integers_and_nan(self) -> None:
        values = run_time_multiplier("du_lq", [[1], [0.5]], [1, 1, 1])
        assert values.shape == (2, 3)
        assert values[0].tolist() == [1.0, 1.0, 1.0]
        assert np.isnan(run_time_multiplier("du_lq", math.nan, 0.8))

    @pytest.mark.parametrize("value", [0.0, -0.1, 1.01, 75.0])
    def test_outside_0_to_1_has_no_meaning(self, value: float) -> None:
        assert np.isnan(run_time_multiplier("du_lq", value, 0.8))
        assert np.isnan(run_time_multiplier("inverse_du", value, 0.8))
        assert np.isnan(run_time_multiplier("efficiency", 0.7, value))

    def test_a_value_that_the_rule_does_not_use_does_no_harm(self) -> None:
        assert float(run_time_multiplier("du_lq", 1.0, math.nan)) == 1.0
        assert float(run_time_multiplier("efficiency", math.nan, 0.5)) == 2.0

    @given(st.floats(0.05, 1))
    def test_the_usual_rule_lies_between_none_and_the_wet_one(self, du: float) -> None:
        usual = float(run_time_multiplier("du_lq", du, 1))
        assert usual + 1e-12 >= 1
        assert usual <= float(run_time_multiplier("inverse_du", du, 1)) + 1e-12
