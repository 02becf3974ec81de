"""`row-against-spacing`: declared rows that do not fit the spacing."""

from __future__ import annotations

import pytest

from nightwater.ground.rules import row_against_spacing as rule


def test_rows_against_spacing(make, small, codes, only):
    small["heads"]["R1"]["row_m"] = 30.0
    assert "30.0 m apart" in only(codes(make(small)), "row-against-spacing").message


@pytest.mark.parametrize(
    ("row", "told_of"),
    [(9.9, ["heads:R1"]), (10.1, []), (20.0, []), (25.9, []), (26.1, ["heads:R1"])],
)
def test_half_to_1_3_of_a_spacing_of_20_m(small, subjects, row, told_of):
    small["heads"]["R1"]["row_m"] = row
    assert subjects(rule, small) == told_of
