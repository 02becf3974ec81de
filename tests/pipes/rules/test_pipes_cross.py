"""`pipes-cross`: larger pipes that cross without a joint.

         ║ X
══ M1 ═══╬═══
         ║
"""

from __future__ import annotations

import pytest

from nightwater.findings import Severity
from nightwater.pipes.rules import pipes_cross as rule


def test_two_mains(laid_out, told, add):
    laid_out["pipes"]["X"] = add("main", (50, -30), (50, 30))
    (found,) = told(rule, laid_out)
    assert found.subject == "pipes:M1"
    assert found.severity is Severity.NOTE
    assert "Pipes M1 and X cross without a joint at 50, 0 m" in found.message


@pytest.mark.parametrize("kind", ["header", "loop", "spur"])
def test_every_larger_pipe_is_asked(laid_out, told, add, kind):
    laid_out["pipes"]["X"] = add(kind, (50, -30), (50, 30))
    assert len(told(rule, laid_out)) == 1


def test_laterals_pass_under_mains_as_they_like(laid_out, told, add):
    laid_out["pipes"]["X"] = add("lateral", (50, -30), (50, 30))
    assert told(rule, laid_out) == []


def test_a_pipe_that_ends_there_joins(laid_out, told, add):
    laid_out["pipes"]["X"] = add("main", (50, 0), (50, 30))
    assert told(rule, laid_out) == []


def test_a_third_pipe_that_ends_on_the_crossing_makes_the_joint(laid_out, told, add):
    laid_out["pipes"]["X"] = add("main", (50, -30), (50, 30))
    laid_out["pipes"]["Y"] = add("spur", (50, 0), (80, 30))
    assert told(rule, laid_out) == []


def test_two_crossings_of_one_pair_are_two(laid_out, told, add):
    laid_out["pipes"]["X"] = add("loop", (40, -30), (40, 30), (60, 30), (60, -30))
    places = sorted(f.message.rpartition(" at ")[2] for f in told(rule, laid_out))
    assert places == ["40, 0 m.", "60, 0 m."]
