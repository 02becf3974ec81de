"""Rate on the ground from what cans caught."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightwater.spray.catch_cans import catch_rate_mm_h
from nightwater.units import MM_PER_INCH


def test_a_can_by_hand() -> None:
    # 25 mL in 100 cm² is 2.5 mm; in 15 minutes, 10 mm/h.
    assert float(catch_rate_mm_h(0.025, 0.01, 15)) == pytest.approx(10.0)


def test_the_us_constant_3_66() -> None:
    """PR (in/h) = 3.66 · mL / (in² · min), common practice, no source."""
    square_inch_m2 = (MM_PER_INCH / 1000) ** 2
    rate = catch_rate_mm_h(0.001, square_inch_m2, 1)
    assert float(rate) / MM_PER_INCH == pytest.approx(3.66, abs=0.005)


def test_shapes_integers_and_dry_cans() -> None:
    rate = catch_rate_mm_h(np.array([0, 1]), np.array([[1], [2]]), 60)
    assert rate.tolist() == [[0.0, 1.0], [0.0, 0.5]]


@pytest.mark.parametrize(
    "values",
    [(-1, 1, 1), (1, 0, 1), (1, 1, 0), (math.nan, 1, 1), (1, math.nan, 1), (1, 1, math.nan)],
)
def test_no_meaning_gives_nan(values: tuple[float, ...]) -> None:
    assert math.isnan(float(catch_rate_mm_h(*values)))
