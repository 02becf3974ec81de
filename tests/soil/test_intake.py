"""Cycle and soak."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.soil.intake import (
    cycle_and_soak,
    cycles_and_soaks_min,
    equal_cycles_min,
    longest_cycle_min,
    slope_storage_mm,
    soak_min,
)

rates, intakes, storages = st.floats(1, 100), st.floats(0.5, 50), st.floats(0.1, 25)
runs = st.integers(0, 600)


class TestSlope:
    @pytest.mark.parametrize(
        ("slope", "share"), [(0, 1), (3, 1), (4.5, 0.75), (6, 0.5), (10, 0.5), (60, 0.5)]
    )
    def test_storage_halves_from_3_to_6_percent(self, slope: float, share: float) -> None:
        assert float(slope_storage_mm(2, slope)) == pytest.approx(2 * share)

    def test_an_unknown_slope_counts_as_level_and_an_unknown_storage_is_nan(self) -> None:
        assert slope_storage_mm([2, math.nan], math.nan).tolist()[0] == 2.0
        assert np.isnan(slope_storage_mm(math.nan, 1))

    def test_shapes(self) -> None:
        assert slope_storage_mm(np.ones((3, 1)), np.array([0, 6])).shape == (3, 2)


class TestLongestCycle:
    def test_by_hand(self) -> None:
        assert float(longest_cycle_min(15, 5, 2)) == pytest.approx(12.0)

    @pytest.mark.parametrize("intake", [15, 16])
    def test_no_end_where_the_soil_keeps_up(self, intake: float) -> None:
        assert math.isinf(float(longest_cycle_min(15, intake, 2)))

    @pytest.mark.parametrize("values", [(math.nan, 5, 2), (15, math.nan, 2), (15, 5, math.nan)])
    def test_nan_in_nan_out(self, values: tuple[float, ...]) -> None:
        assert math.isnan(float(longest_cycle_min(*values)))

    def test_integers_and_shapes(self) -> None:
        assert longest_cycle_min([15, 25], [[5], [10]], 2).shape == (2, 2)

    @given(rates, intakes, storages)
    def test_the_surface_is_just_full_at_its_end(
        self, rate: float, intake: float, storage: float
    ) -> None:
        minutes = float(longest_cycle_min(rate, intake, storage))
        if math.isfinite(minutes):
            assert (rate - intake) * minutes / 60 == pytest.approx(storage)


class TestSoak:
    @given(intakes, storages)
    def test_the_surface_is_empty_after_it(self, intake: float, storage: float) -> None:
        assert intake * float(soak_min(intake, storage)) / 60 == pytest.approx(storage)

    @pytest.mark.parametrize("values", [(0, 2), (-5, 2), (math.nan, 2), (5, math.nan)])
    def test_no_meaning_gives_nan(self, values: tuple[float, float]) -> None:
        assert math.isnan(float(soak_min(*values)))


class TestCycleAndSoak:
    def test_whole_minutes_by_hand(self) -> None:
        # 60 · 2.54 / 13 = 11.7 down to 11; 60 · 2.54 / 5 = 30.5 up to 31.
        assert cycle_and_soak(20, 18, 5, 2.54, 0) == (11, 31)

    def test_one_cycle_needs_no_soak(self) -> None:
        assert cycle_and_soak(11, 18, 5, 2.54, 0) == (11, 0)
        assert cycle_and_soak(0, 18, 5, 2.54, 0) == (0, 0)

    def test_a_slope_halves_both(self) -> None:
        assert cycle_and_soak(20, 18, 5, 2.54, 8) == (5, 16)

    def test_a_cycle_is_a_minute_at_least(self) -> None:
        assert cycle_and_soak(20, 90, 2, 0.5, 0) == (1, 44)  # 88 mm/h for 1 min at 2 mm/h

    def test_a_surface_that_holds_nothing_still_rests(self) -> None:
        assert cycle_and_soak(5, 30, 10, 0, 0) == (1, 2)

    @pytest.mark.parametrize(
        "values", [(math.nan, 5, 2), (18, math.nan, 2), (18, 5, math.nan), (18, 0, 2)]
    )
    def test_what_is_not_known_does_not_part_a_run(self, values: tuple[float, ...]) -> None:
        assert cycle_and_soak(20, *values, 0) == (20, 0)

    @given(st.lists(st.tuples(runs, rates, intakes, storages, st.floats(0, 20)), min_size=1))
    def test_many_at_once_are_each_alone(self, rows: list[tuple[float, ...]]) -> None:
        cycles, soaks = cycles_and_soaks_min(*np.array(rows).T)
        assert cycles.dtype == soaks.dtype == np.int64
        alone = [cycle_and_soak(int(run), *row) for run, *row in rows]
        assert list(zip(cycles.tolist(), soaks.tolist(), strict=True)) == alone

    @given(runs, rates, intakes, storages, st.floats(0, 20))
    def test_nothing_runs_off(
        self, run: int, rate: float, intake: float, storage: float, slope: float
    ) -> None:
        """The surface is simulated: it never holds more than it can, but for whole minutes."""
        longest, soak = cycle_and_soak(run, rate, intake, storage, slope)
        room = max(float(slope_storage_mm(storage, slope)), (rate - intake) / 60)
        standing = 0.0
        for cycle in equal_cycles_min(run, longest):
            standing = max(standing + (rate - intake) * cycle / 60, 0.0)
            assert standing <= room + 1e-9
            standing = max(standing - intake * soak / 60, 0.0)


class TestEqualCycles:
    @pytest.mark.parametrize(
        ("run", "longest", "cycles"),
        [
            (22, 11, (11, 11)), (23, 11, (8, 8, 7)), (20, 11, (10, 10)), (5, 11, (5,)),
            (3, 1, (1, 1, 1)), (0, 11, ()), (-2, 11, ()), (3, 0, (1, 1, 1)),
        ],
    )  # fmt: skip
    def test_by_hand(self, run: int, longest: int, cycles: tuple[int, ...]) -> None:
        assert equal_cycles_min(run, longest) == cycles

    @given(st.integers(1, 600), st.integers(1, 100))
    def test_sum_length_and_count(self, run: int, longest: int) -> None:
        cycles = equal_cycles_min(run, longest)
        assert sum(cycles) == run
        assert max(cycles) <= longest
        assert max(cycles) - min(cycles) <= 1
        assert len(cycles) == math.ceil(run / longest)
