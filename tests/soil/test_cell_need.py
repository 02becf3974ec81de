"""Need by cell: area, level, pattern, trim."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.ground.settings import NeedRules
from nightwater.soil.cell_need import (
    ACCOUNT_STD_SHARE,
    CellNeeds,
    TurfCells,
    blended,
    cell_needs,
)
from nightwater.soil.defaults import FIELD_CAPACITY_STD_PCT
from nightwater.soil.moisture_spread import PATTERN_STD_PCT, moisture_pattern
from nightwater.soil.readings import AreaReadings

AREAS = pd.DataFrame(
    {"root_depth_mm": [200.0, 100.0, 300.0], "available_water_mm_m": [150.0, 80.0, 160.0]},
    index=["A-F", "A-G", "A-W"],
)
NEED = pd.DataFrame(
    {
        "need_mm": [6.0, 3.0],
        "depletion_mm": [9.0, 3.0],
        "target_mm": [3.0, 0.0],
        "raw_mm": [13.5, 2.4],
        "taw_mm": [30.0, 8.0],
    },
    index=["A-F", "A-G"],
)
# Six cells of the fairway, two of the green, one of water without need.
CELLS = TurfCells(
    x_m=np.array([0.0, 10, 20, 40, 80, 160, 300, 301, 400]),
    y_m=np.zeros(9),
    area=np.array([0, 0, 0, 0, 0, 0, 1, 1, 2], dtype=np.int32),
    areas=("A-F", "A-G", "A-W"),
)


def said(drier: float, x: float = 0.0, area: str = "A-F", std: float = 2.0) -> AreaReadings:
    return AreaReadings(
        area, "probe 1", 200.0, np.array([x]), np.zeros(1), np.array([drier]), np.array([std])
    )


def needs(*readings: AreaReadings, **rules: Any) -> CellNeeds:
    return cell_needs(CELLS, AREAS, NEED, readings, NeedRules(**rules))


class TestWithoutReadings:
    def test_every_cell_has_the_need_of_its_area(self) -> None:
        found = needs()
        assert found.need_mm[:8].tolist() == [6.0] * 6 + [3.0] * 2
        assert np.isnan(found.need_mm[8])
        assert np.isnan(found.std_mm[8])
        assert found.areas.empty

    def test_they_are_as_unsure_as_account_and_pattern(self) -> None:
        expected = np.hypot(ACCOUNT_STD_SHARE * 30.0, PATTERN_STD_PCT / 100 * 200.0)
        assert needs().std_mm[:6] == pytest.approx([expected] * 6)

    def test_a_share_of_et_is_moved_by_no_reading(self) -> None:
        found = needs(said(9.0), method="et_share")
        assert found.need_mm[:6].tolist() == [6.0] * 6

    def test_an_area_off_the_turf_is_passed_over(self) -> None:
        assert needs(said(9.0, area="gone")).need_mm[:6].tolist() == [6.0] * 6


class TestWithReadings:
    def test_a_sum_by_hand(self) -> None:
        # One reading, 4 % drier. Its level deviation: pattern 3 % and reading 2 % → √13; field
        # capacity 2.9 %. Roots 200 mm: 1 % is 2 mm. Account: a tenth of 30 mm.
        read_std = 2.0 * np.sqrt(9.0 + 4.0 + FIELD_CAPACITY_STD_PCT**2)
        weight = 9.0 / (9.0 + read_std**2)
        found = needs(said(4.0))
        row = found.areas.loc["A-F"]
        assert row["weight"] == pytest.approx(weight)
        assert row["read_level_mm"] == pytest.approx(8.0)
        assert found.level_mm[:6] == pytest.approx([8.0 * weight] * 6)
        assert found.pattern_mm[0] == pytest.approx(0.0)  # one reading is its own mean
        assert found.need_mm[0] == pytest.approx(9.0 + 8.0 * weight - 3.0)

    def test_the_parts_add_up_where_nothing_is_cut_off(self) -> None:
        pair = AreaReadings(
            "A-F",
            "p",
            200.0,
            np.array([0.0, 80]),
            np.zeros(2),
            np.array([2.0, -1]),
            np.full(2, 2.0),
        )
        found = needs(pair)
        total = found.area_mm + found.level_mm + found.pattern_mm
        assert found.need_mm[:6] == pytest.approx(total[:6])
        pattern, _ = moisture_pattern(pair).at(CELLS.x_m[:6], CELLS.y_m[:6])
        assert found.pattern_mm[:6] == pytest.approx(pattern * 2.0)

    def test_other_areas_keep_theirs(self) -> None:
        found = needs(said(4.0))
        assert found.need_mm[6:8].tolist() == [3.0, 3.0]
        assert list(found.areas.index) == ["A-F"]

    def test_the_spot_that_was_read_is_known_best(self) -> None:
        std = needs(said(4.0)).std_mm[:6]
        assert (np.diff(std) > 0).all()
        assert (std <= needs().std_mm[:6]).all()

    def test_need_is_never_below_none(self) -> None:
        assert needs(said(-40.0)).need_mm[:6].min() == 0.0

    def test_need_is_never_more_than_the_store_holds(self) -> None:
        assert needs(said(400.0)).need_mm[:6].tolist() == [27.0] * 6  # 30 mm less target 3

    def test_the_same_moisture_counts_for_less_water_in_shallow_roots(self) -> None:
        deep, shallow = needs(said(1.0)), needs(said(1.0, 300.0, "A-G"))
        assert deep.areas.loc["A-F", "read_level_mm"] == pytest.approx(2.0)
        assert shallow.areas.loc["A-G", "read_level_mm"] == pytest.approx(1.0)

    def test_with_the_trigger_an_area_waits_until_its_mean_is_dry(self) -> None:
        assert needs(said(4.0), use_trigger=True).need_mm[:6].tolist() == [0.0] * 6
        assert needs(said(40.0), use_trigger=True).need_mm[:6].min() > 10.0


class TestTrims:
    def test_a_factor_multiplies_need_and_deviation(self) -> None:
        factor = np.where(np.arange(9) < 2, 1.2, 1.0)
        found, plain = needs(said(4.0)).trimmed(factor), needs(said(4.0))
        assert found.need_mm[:8] == pytest.approx((plain.need_mm * factor)[:8])
        assert found.std_mm[:8] == pytest.approx((plain.std_mm * factor)[:8])
        assert found.area_mm[:8].tolist() == plain.area_mm[:8].tolist()

    def test_two_trims_multiply(self) -> None:
        found = needs().trimmed(np.full(9, 1.2)).trimmed(np.full(9, 0.5))
        assert found.trim_factor == pytest.approx(np.full(9, 0.6))
        assert found.need_mm[0] == pytest.approx(3.6)


class TestBlend:
    def test_of_equals_the_middle(self) -> None:
        assert blended(2.0, 3.0, 6.0, 3.0) == pytest.approx((4.0, 3.0 / np.sqrt(2), 0.5))

    @settings(deadline=None)
    @given(*[st.floats(-50, 50), st.floats(0.1, 20)] * 2)
    def test_it_lies_between_and_is_surer_than_either(
        self, one: float, one_std: float, two: float, two_std: float
    ) -> None:
        mean, std, weight = blended(one, one_std, two, two_std)
        assert min(one, two) - 1e-9 <= mean <= max(one, two) + 1e-9
        assert std <= min(one_std, two_std) * (1 + 1e-9)
        assert 1 / std**2 == pytest.approx(1 / one_std**2 + 1 / two_std**2)
        other = blended(two, two_std, one, one_std)
        assert other[:2] == pytest.approx((mean, std), abs=1e-9)
        assert other[2] == pytest.approx(1 - weight)


@settings(deadline=None, max_examples=40)
@given(st.floats(-12, 12), st.floats(1, 5), st.floats(0, 160))
def test_need_stays_within_the_store_and_areas_do_not_mix(
    drier: float, std: float, x: float
) -> None:
    found = needs(said(drier, x, std=std))
    assert (found.need_mm[:6] >= 0).all()
    assert (found.need_mm[:6] <= 27.0 + 1e-9).all()
    assert (np.sign(found.level_mm[:6]) == np.sign(drier)).all() or abs(drier) < 1e-9
    assert found.need_mm[6:8].tolist() == [3.0, 3.0]


class TestExposure:
    FACTOR = np.array([1.2, 0.8, 1.0, 1.0, 1.1, 0.9, 1.3, 0.7, 1.0])

    def test_a_cell_without_readings_takes_its_slope(self) -> None:
        found = cell_needs(CELLS, AREAS, NEED, [], NeedRules(), exposure=self.FACTOR)
        assert found.need_mm[:6] == pytest.approx(6.0 * self.FACTOR[:6])
        assert found.need_mm[6:8] == pytest.approx(3.0 * self.FACTOR[6:8])
        assert np.isnan(found.need_mm[8])
        assert found.exposure == pytest.approx(self.FACTOR)

    def test_where_readings_are_they_tell_what_slopes_do(self) -> None:
        plain = cell_needs(CELLS, AREAS, NEED, [said(4.0)], NeedRules())
        found = cell_needs(CELLS, AREAS, NEED, [said(4.0)], NeedRules(), exposure=self.FACTOR)
        assert found.need_mm[:6] == pytest.approx(plain.need_mm[:6])
        assert (found.exposure[:6] == 1).all()
        assert found.need_mm[6:8] == pytest.approx(3.0 * self.FACTOR[6:8])

    def test_trims_come_on_top(self) -> None:
        found = cell_needs(CELLS, AREAS, NEED, [], NeedRules(), exposure=self.FACTOR)
        assert found.trimmed(np.full(9, 0.5)).need_mm[:8] == pytest.approx(0.5 * found.need_mm[:8])
        assert found.trimmed(np.full(9, 0.5)).exposure == pytest.approx(self.FACTOR)
