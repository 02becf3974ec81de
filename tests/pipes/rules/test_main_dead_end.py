"""`main-dead-end`: ends of headers, mains and loops that lead nowhere.

P ══ M1 ══╦══ M2 ══      nothing here once the valve is gone
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.pipes.rules import main_dead_end as rule


def test_an_end_without_valve(laid_out, told):
    del laid_out["valves"]
    (found,) = told(rule, laid_out)
    assert found.subject == "pipes:M2"
    assert found.severity is Severity.NOTE
    assert "An end of main M2 at 200, 0 m joins nothing" in found.message


def test_a_valve_ends_it(laid_out, told):
    assert told(rule, laid_out) == []


@pytest.mark.parametrize("kind", ["spur", "lateral", None])
def test_spurs_and_laterals_end_somewhere(laid_out, told, kind):
    del laid_out["valves"]
    laid_out["pipes"]["M2"]["kind"] = kind
    assert told(rule, laid_out) == []


@pytest.mark.parametrize(("away", "is_told"), [(4.0, False), (6.0, True)])
def test_a_head_is_fed_there(laid_out, told, away, is_told):
    del laid_out["valves"]
    laid_out["heads"]["h3"] = laid_out["heads"]["h1"] | {"geometry": Point(200, away)}
    assert bool(told(rule, laid_out)) is is_told


def test_the_pumps_end_is_fed(laid_out, told):
    del laid_out["pumps"]
    laid_out["sources"] = {"W": {"kind": "well", "geometry": Point(100, 0)}}
    assert [f.subject for f in told(rule, laid_out)] == ["pipes:M1"]


def test_an_end_just_short_of_a_pipe_is_another_rules(laid_out, told, add):
    del laid_out["valves"]
    laid_out["pipes"]["X"] = add("spur", (202, -20), (202, 20))
    assert told(rule, laid_out) == []


def test_a_closed_loop_has_no_end(laid_out, told, add):
    laid_out["pipes"]["O"] = add("loop", (200, 0), (200, 50), (50, 50), (50, 0))
    del laid_out["valves"]
    assert told(rule, laid_out) == []
