"""`pipe-end-apart`: ends that stop just short of the pipe they were meant to join.

══ M1 ══   ══ M2 ══     a gap of 0.5 to 3 m
"""

from __future__ import annotations

import pytest
from shapely.geometry import LineString

from nightwater.findings import Severity
from nightwater.pipes.rules import pipe_end_apart as rule


@pytest.mark.parametrize(
    ("gap", "told_of"),
    [(0.0, set()), (0.4, set()), (0.6, {"L"}), (2.9, {"L"}), (3.1, set())],
)
def test_a_lateral_short_of_the_main(laid_out, told, gap, told_of):
    laid_out["pipes"]["L"]["geometry"] = LineString([(100, -gap), (100, -40)])
    assert {f.subject for f in told(rule, laid_out)} == {f"pipes:{name}" for name in told_of}


def test_the_message_says_how_far_from_which(laid_out, told):
    laid_out["pipes"]["L"]["geometry"] = LineString([(60, -1.25), (100, -40)])
    (found,) = told(rule, laid_out)
    assert found.severity is Severity.WARNING
    assert "An end of pipe L lies 1.2 m from pipe M1" in found.message


def test_two_mains_end_to_end_are_both_told(laid_out, told):
    laid_out["pipes"]["M2"]["geometry"] = LineString([(102, 0), (200, 0)])
    laid_out["pipes"]["L"]["geometry"] = LineString([(50, 0), (100, -40)])
    assert {f.subject for f in told(rule, laid_out)} == {"pipes:M1", "pipes:M2"}


def test_a_lateral_that_ends_at_its_head_beside_a_main_is_sound(laid_out, told, add):
    """It is joined at its start, and its end feeds h2."""
    laid_out["pipes"]["M3"] = add("main", (200, 0), (200, -42), (90, -42))
    assert "pipes:L" not in {f.subject for f in told(rule, laid_out)}


def test_a_loop_that_was_not_closed(laid_out, told, add):
    laid_out["pipes"]["O"] = add("loop", (200, 0), (200, 50), (50, 50), (50, 1))
    (found,) = told(rule, laid_out)
    assert found.subject == "pipes:O"
    assert "1.0 m from pipe M1" in found.message


def test_its_own_other_end_is_no_other_pipe(laid_out, told, add):
    laid_out["pipes"]["O"] = add("spur", (200, 0), (230, 0), (230, 30), (210, 30), (210, 2))
    assert told(rule, laid_out) == []
