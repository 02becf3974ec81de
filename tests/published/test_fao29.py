"""Leaching in FAO Irrigation and Drainage Paper 29 rev. 1 (Ayers and Westcot 1985), section 2.4.

The paper was not at hand: inputs and printed answers are values from memory, the arithmetic
was done again. The paper cuts 0.106 to 0.10 where it could have rounded to 0.11, so its shares
are checked to a whole last digit.
"""

from __future__ import annotations

import pytest

from nightwater.soil.leaching import depth_with_leaching_mm, leaching_requirement


@pytest.mark.parametrize(("soil", "printed"), [(2.5, 0.10), (1.7, 0.16)])
def test_example_leaching_requirement_of_water_of_1_2_ds_m(soil: float, printed: float) -> None:
    assert float(leaching_requirement(1.2, soil)) == pytest.approx(printed, abs=0.01)


def test_example_800_mm_of_use_need_890_mm_of_water() -> None:
    assert float(depth_with_leaching_mm(800, 0.10)) == pytest.approx(890, abs=5)


def test_example_with_the_share_not_cut() -> None:
    share = leaching_requirement(1.2, 2.5)
    assert float(depth_with_leaching_mm(800, share)) == pytest.approx(800 * 11.3 / 10.1)
