"""Turf, soil and the water account in FAO Irrigation and Drainage Paper 56 (Allen et al. 1998).

The paper's tables were not at hand: numbers of Tables 12, 19 and 22 and the inputs of
Example 36 are values from memory; its ten days are worked by hand from equations 84 and 85.
Tolerance is half of the last printed digit, unless a test gives its reason.
"""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.ground.settings import NeedRules
from nightwater.soil.account import (
    Soil,
    depletion_fraction,
    run_account,
    stress_coefficient,
)
from nightwater.soil.coefficients import coefficients_of_year
from nightwater.soil.defaults import AVAILABLE_WATER_MM_M, ROOT_DEPTH_MM
from nightwater.soil.need import P_TABLE

# Table 12 (value from memory): Kc of the initial, middle and end stage.
TABLE_12 = {"cool_season": (0.90, 0.95, 0.95), "warm_season": (0.80, 0.85, 0.85)}
# Table 19 (value from memory): range of field capacity minus wilting point, m³/m³.
TABLE_19 = {
    "sand": (0.05, 0.11),
    "loamy_sand": (0.06, 0.12),
    "sandy_loam": (0.11, 0.15),
    "loam": (0.13, 0.18),
    "silt_loam": (0.13, 0.19),
    "silty_clay_loam": (0.13, 0.18),
    "clay": (0.12, 0.20),
}
# Table 22 (value from memory): share used without stress where ETc is 5 mm/day.
TABLE_22 = {"cool_season": 0.40, "warm_season": 0.50}


@pytest.mark.parametrize("grass", sorted(TABLE_12))
def test_table_12_standing_turf_keeps_the_middle_value(grass: str) -> None:
    _, middle, end = TABLE_12[grass]
    year = coefficients_of_year(grass, NeedRules())
    assert set(year) == {middle} == {end}


@pytest.mark.parametrize("soil", sorted(TABLE_19))
def test_table_19_available_water_is_the_middle_of_the_range(soil: str) -> None:
    """In mm per m, rounded to 5 mm: the table itself is printed to 0.01 m³/m³, which is 10."""
    low, high = TABLE_19[soil]
    assert AVAILABLE_WATER_MM_M[soil] == pytest.approx(1000 * (low + high) / 2, abs=5)


def test_table_19_lacks_clay_loam_which_takes_its_neighbours_value() -> None:
    assert AVAILABLE_WATER_MM_M["clay_loam"] == AVAILABLE_WATER_MM_M["silty_clay_loam"]


@pytest.mark.parametrize("grass", sorted(TABLE_22))
def test_table_22_share_used_without_stress(grass: str) -> None:
    assert P_TABLE[grass] == TABLE_22[grass]
    assert float(depletion_fraction(P_TABLE[grass], 5.0)) == TABLE_22[grass]


def test_table_22_footnote_adjusts_the_share_for_et_within_bounds() -> None:
    np.testing.assert_allclose(depletion_fraction(0.40, [3, 5, 8]), [0.48, 0.40, 0.28])
    np.testing.assert_array_equal(depletion_fraction([0.75, 0.20], [1, 12]), [0.8, 0.1])


def test_table_22_roots_are_deeper_than_ours_on_purpose() -> None:
    """It gives 0.5 to 1.0 m for turf; under golf mowing the roots that count end far above."""
    assert max(ROOT_DEPTH_MM.values()) < 500


def test_example_36_ks_and_depletion_over_ten_days() -> None:
    """Tomatoes on silt: TAW 160 mm, p 0.40, Kc 1.2, ETo 5 mm/day, no water, start at 55 mm.

    The example keeps p at 0.40; our account adjusts it, so it is given 0.44, which at
    an ETc of 6 mm/day adjusts to 0.40. By hand, ET of each day is rounded to 0.1 mm before
    it is added, so depletions may differ by 0.1 mm.
    """
    etc = np.full((10, 1), 6.0)
    ground = Soil(np.array([160.0]), np.array([0.44]), np.array([61.0]))
    account = run_account(np.array([55.0]), etc, np.zeros(10), np.zeros((10, 1)), ground)
    ks = [1.00, 1.00, 0.97, 0.91, 0.85, 0.80, 0.75, 0.70, 0.66, 0.62]
    end = [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.7, 96.9, 100.8, 104.5]
    np.testing.assert_allclose(account.ks[:, 0], ks, atol=0.005)
    np.testing.assert_allclose(account.depletion_end_mm[:, 0], end, atol=0.1)


def test_equations_82_and_83_total_and_readily_available_water() -> None:
    """The same example: 1000 (0.32 − 0.12) 0.8 m = 160 mm, and 0.40 of it, 64 mm, is free."""
    taw = 1000 * (0.32 - 0.12) * 0.8
    assert taw == pytest.approx(160)
    assert float(stress_coefficient(0.40 * taw, taw, 0.40)) == 1.0
    assert float(stress_coefficient(0.40 * taw + 1, taw, 0.40)) < 1.0
