"""From a moisture reading to store, days and water by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightwater.soil.moisture import days_of_water, hand_water_m3, moisture_store_mm


def test_a_tenth_of_the_root_zone_by_hand() -> None:
    assert float(moisture_store_mm(100, 22, 12)) == pytest.approx(10.0)
    assert float(days_of_water(10, 4)) == pytest.approx(2.5)
    assert float(hand_water_m3(576, 0.75)) == pytest.approx(0.432)


def test_drier_than_the_trigger_is_a_negative_store_and_no_days() -> None:
    store = moisture_store_mm(100, 9, 12)
    assert float(store) == pytest.approx(-3.0)
    assert float(days_of_water(store, 4)) == 0.0


def test_no_et_lasts_for_ever_unless_there_is_nothing() -> None:
    assert math.isinf(float(days_of_water(3, 0)))
    assert float(days_of_water(0, 0)) == 0.0


def test_shapes_and_integers() -> None:
    assert moisture_store_mm([100, 200], [[20], [10]], 5).tolist() == [[15.0, 30.0], [5.0, 10.0]]
    assert days_of_water(np.array([4, 8]), 4).tolist() == [1.0, 2.0]
    assert hand_water_m3([1000, 2000], 1).tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    "values", [(0, 20, 10), (-1, 20, 10), (math.nan, 20, 10), (100, math.nan, 10)]
)
def test_store_without_meaning_is_nan(values: tuple[float, ...]) -> None:
    assert math.isnan(float(moisture_store_mm(*values)))


@pytest.mark.parametrize("values", [(5, -1), (math.nan, 4), (5, math.nan), (0, math.nan)])
def test_days_without_meaning_are_nan(values: tuple[float, float]) -> None:
    assert math.isnan(float(days_of_water(*values)))


@pytest.mark.parametrize("values", [(-1, 2), (1, -2), (math.nan, 2), (1, math.nan)])
def test_hand_water_without_meaning_is_nan(values: tuple[float, float]) -> None:
    assert math.isnan(float(hand_water_m3(*values)))
