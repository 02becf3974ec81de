"""Uniformity of catches against definitions and another program's example.

Christiansen 1942, California Agricultural Experiment Station Bulletin 670; low-quarter
uniformity as in Merriam and Keller 1978, Farm Irrigation System Evaluation. The cans are the
example of the CRAN package spreval 1.1.0 (reference manual, topics CU and DU), whose answers
follow from its definitions by hand.
"""

from __future__ import annotations

import pytest

from nightwater.spray.uniformity import christiansen_cu, du_lh, du_lq, run_time_multiplier

CANS_ML = [47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12]  # sum 461


def test_christiansen_coefficient_of_fifteen_cans() -> None:
    # Mean 30.733. The seven cans below it hold 144 and so lack 7 · 30.733 − 144 = 71.133; those
    # above have as much too much.
    assert christiansen_cu(CANS_ML) == pytest.approx(1 - 2 * 71.1333 / 461, abs=5e-6)


def test_low_quarter_of_fifteen_cans_is_three_and_three_quarter_cans() -> None:
    # spreval rounds the quarter to 4 cans and so tells 0.496; ours takes 3.75 cans.
    by_hand = (12 + 12 + 13 + 0.75 * 24) / 3.75 / (461 / 15)
    assert du_lq(CANS_ML) == pytest.approx(by_hand)
    assert du_lq(CANS_ML) == pytest.approx(0.496, abs=0.02)  # the quarter of a can between them


def test_the_two_rules_agree_where_the_quarter_is_whole() -> None:
    twelve = CANS_ML[:12]  # lowest three 13 24 26, of a sum of 405
    assert du_lq(twelve) == pytest.approx((13 + 24 + 26) / 3 / (405 / 12))
    assert du_lh(twelve) == pytest.approx((13 + 24 + 26 + 27 + 30 + 33) / 6 / (405 / 12))


@pytest.mark.parametrize(("du", "printed"), [(0.733, 1.191), (1.0, 1.0), (0.5, 1.429)])
def test_run_time_multiplier_of_the_irrigation_association(du: float, printed: float) -> None:
    """RTM = 1 / (0.4 + 0.6 DUlq); value from memory, half of the last printed digit."""
    assert float(run_time_multiplier("du_lq", du, 1.0)) == pytest.approx(printed, abs=5e-4)
