"""Published can sets through the functions that judge a map: a can counts as a cell.

Cans: example of the CRAN package spreval 1.1.0 (reference manual, topics CU and DU), as in
`test_uniformity.py`. The definition of the scheduling coefficient: Colorado Water Conservation
Board, Hydrologic Models Inventory, page 1-16.
"""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.spray.evenness import evenness

CANS_ML = [47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12]  # sum 461


def test_the_fifteen_cans_beside_another_group() -> None:
    depth = np.array([*CANS_ML, 5.0, 5.0])
    found = evenness(depth, [0] * 15 + [1] * 2, 2)
    assert found.mean[0] == pytest.approx(461 / 15)
    # By hand as in `test_uniformity.py`: CU 1 − 2 · 71.133 / 461, low quarter of 3.75 cans.
    assert found.cu[0] == pytest.approx(1 - 2 * 71.1333 / 461, abs=5e-6)
    assert found.du_lq[0] == pytest.approx((12 + 12 + 13 + 0.75 * 24) / 3.75 / (461 / 15))
    assert found.du_lq[1] == found.cu[1] == 1.0


def test_the_low_quarter_of_another_program_is_near() -> None:
    # spreval rounds the quarter to 4 cans and tells 0.496; the difference is a quarter of a can.
    assert evenness(CANS_ML, [0] * 15, 1).du_lq[0] == pytest.approx(0.496, abs=0.02)


def test_an_exact_overlap_is_wholly_even() -> None:
    """Squares of a uniform profile, laid edge to edge: every cell gets the same."""
    cells = np.zeros((40, 40))
    for row in range(0, 40, 10):
        for column in range(0, 40, 10):
            cells[row : row + 10, column : column + 10] += 1.5
    found = evenness(cells, np.zeros((40, 40)), 1)
    assert found.du_lq[0] == found.du_lh[0] == found.cu[0] == 1.0
