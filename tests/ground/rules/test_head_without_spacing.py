"""`head-without-spacing`: heads whose share of the ground nobody can tell."""

from __future__ import annotations

import pytest

from nightwater.ground.rules import head_without_spacing as rule


@pytest.mark.parametrize("column", ["spacing_m", "row_m"])
def test_without_spacing(make, small, codes, column, only):
    small["heads"]["R1"][column] = None
    assert only(codes(make(small)), "head-without-spacing").subject == "heads:R1"


def test_both_missing_is_one_finding(small, subjects):
    small["heads"]["R1"] |= {"spacing_m": None, "row_m": None}
    assert subjects(rule, small) == ["heads:R1"]
