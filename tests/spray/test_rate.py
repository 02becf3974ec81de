"""Precipitation rate and the ground a head answers for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.spray.rate import depth_rate_mm_h, precipitation_rate_mm_h, wetted_area_m2

lengths = st.floats(1, 40)


def test_a_litre_a_second_on_a_square_by_hand() -> None:
    # 1 L/s is 3,600 L/h; on 200 m² that is 18 mm/h.
    assert float(precipitation_rate_mm_h(1, 20, 10)) == pytest.approx(18.0)


def test_integers_and_broadcasting() -> None:
    rate = precipitation_rate_mm_h(np.array([1, 2]), 20, np.array([[10], [20]]))
    assert rate.tolist() == [[18.0, 36.0], [9.0, 18.0]]


@pytest.mark.parametrize(("arc", "times"), [(360, 1), (180, 2), (90, 4), (270, 4 / 3)])
def test_a_sector_raises_the_rate(arc: float, times: float) -> None:
    assert float(precipitation_rate_mm_h(1, 20, 10, arc)) == pytest.approx(18.0 * times)
    assert float(wetted_area_m2(20, 10, arc)) == pytest.approx(200 / times)


@pytest.mark.parametrize(
    "values",
    [
        (0, 10, 360), (20, 0, 360), (-20, 10, 360), (20, 10, 0), (20, 10, 361),
        (math.nan, 10, 360), (20, math.nan, 360), (20, 10, math.nan),
    ],
)  # fmt: skip
def test_ground_without_meaning_is_nan(values: tuple[float, ...]) -> None:
    assert math.isnan(float(wetted_area_m2(*values)))
    assert math.isnan(float(precipitation_rate_mm_h(1.0, *values)))


@pytest.mark.parametrize("values", [(-1, 10), (1, 0), (1, -5), (math.nan, 10), (1, math.nan)])
def test_rate_without_meaning_is_nan(values: tuple[float, ...]) -> None:
    assert math.isnan(float(depth_rate_mm_h(*values)))


def test_no_flow_is_no_rain() -> None:
    assert float(depth_rate_mm_h(0, 10)) == 0.0


def test_inputs_stay_as_they_were() -> None:
    spacing = np.array([20.0, -1.0])
    wetted_area_m2(spacing, 10)
    assert spacing.tolist() == [20.0, -1.0]


@given(st.floats(0.01, 10), lengths, lengths, st.floats(10, 360), st.floats(1, 600))
def test_water_laid_down_is_the_water_that_flowed(
    flow: float, spacing: float, row: float, arc: float, minutes: float
) -> None:
    depth_mm = float(precipitation_rate_mm_h(flow, spacing, row, arc)) * minutes / 60
    laid_l = depth_mm * float(wetted_area_m2(spacing, row, arc))
    assert laid_l == pytest.approx(flow * minutes * 60)


@given(st.lists(st.floats(0.05, 3), min_size=1, max_size=30), lengths)
def test_the_rate_of_many_equal_cells_is_their_mean(flows: list[float], spacing: float) -> None:
    cell = float(wetted_area_m2(spacing, spacing))
    together = float(depth_rate_mm_h(sum(flows), cell * len(flows)))
    apart = precipitation_rate_mm_h(flows, spacing, spacing)
    assert together == pytest.approx(float(np.mean(apart)))
