"""Leaching requirement."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.soil.leaching import depth_with_leaching_mm, leaching_requirement


def test_by_hand() -> None:
    assert float(leaching_requirement(1, 3)) == pytest.approx(1 / 14)
    assert float(depth_with_leaching_mm(9, 0.1)) == pytest.approx(10.0)


def test_pure_water_needs_none() -> None:
    assert float(leaching_requirement(0, 3)) == 0.0
    assert float(depth_with_leaching_mm(5, 0)) == 5.0


def test_shapes_and_integers() -> None:
    share = leaching_requirement(np.array([1, 2]), np.array([[3], [4], [6]]))
    assert share.shape == (3, 2)
    assert (np.diff(share, axis=0) < 0).all()
    assert (np.diff(share, axis=1) > 0).all()


@pytest.mark.parametrize(
    "values", [(-1, 3), (1, 0), (1, -3), (5, 2), (10, 2), (math.nan, 3), (1, math.nan)]
)
def test_no_leaching_holds_the_soil_there(values: tuple[float, float]) -> None:
    assert math.isnan(float(leaching_requirement(*values)))


@pytest.mark.parametrize("values", [(-1, 0.1), (5, -0.1), (5, 1), (math.nan, 0.1), (5, math.nan)])
def test_depth_without_meaning_is_nan(values: tuple[float, float]) -> None:
    assert math.isnan(float(depth_with_leaching_mm(*values)))


@given(st.floats(0, 5), st.floats(2.1, 15), st.floats(0, 50))
def test_what_passes_the_roots_is_the_required_share(
    water: float, soil: float, used: float
) -> None:
    share = leaching_requirement(water, soil)
    depth = float(depth_with_leaching_mm(used, share))
    assert 0 <= float(share) < 1
    assert depth - used == pytest.approx(float(share) * depth, abs=1e-9)
