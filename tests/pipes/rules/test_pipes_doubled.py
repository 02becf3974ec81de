"""`pipes-doubled`: two pipes that lie on each other.

══ M1 ══════════
── X ───            drawn upon it again
"""

from __future__ import annotations

import pytest

from nightwater.findings import Severity
from nightwater.pipes.rules import pipes_doubled as rule


def test_a_pipe_drawn_twice(laid_out, told, add):
    laid_out["pipes"]["X"] = add("main", (0, 0), (100, 0))
    (found,) = told(rule, laid_out)
    assert found.subject == "pipes:X"
    assert found.severity is Severity.WARNING
    assert "100% of pipe X (100 m) lies on pipe M1" in found.message


def test_drawn_the_other_way_round(laid_out, told, add):
    laid_out["pipes"]["X"] = add("main", (100, 0), (0, 0))
    assert len(told(rule, laid_out)) == 1


def test_a_part_of_it_is_the_shorter_one(laid_out, told, add):
    laid_out["pipes"]["X"] = add("lateral", (20, 0.1), (60, 0.1))
    (found,) = told(rule, laid_out)
    assert found.subject == "pipes:X"
    assert "(40 m)" in found.message


@pytest.mark.parametrize(("away", "is_told"), [(0.29, True), (0.31, False)])
def test_two_in_one_trench_are_two(laid_out, told, add, away, is_told):
    laid_out["pipes"]["X"] = add("lateral", (20, away), (60, away))
    assert bool(told(rule, laid_out)) is is_told


@pytest.mark.parametrize(("end", "is_told"), [(109.0, False), (104.0, True)])
def test_nine_tenths_make_a_double(laid_out, told, add, end, is_told):
    """From 50 m along the main to 100, and then aside."""
    laid_out["pipes"]["X"] = add("lateral", (50, 0.1), (100, 0.1), (100, end - 100))
    assert bool(told(rule, laid_out)) is is_told


def test_a_joint_is_no_double(laid_out, told, add):
    laid_out["pipes"]["X"] = add("lateral", (50, 0), (51.5, 0.1))
    assert told(rule, laid_out) == []
