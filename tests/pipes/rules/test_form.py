"""The house form of every rule about pipes, and the sound network that none tells of."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.ground.settings import NightRules
from nightwater.pipes import rules as package
from nightwater.pipes.checks import PIPE_RULES, check_pipes

HERE = Path(__file__).parent
MODULES = {path.stem for path in Path(str(package.__file__)).parent.glob("*.py")} - {"__init__"}
PAGE = (Path(__file__).parents[3] / "docs" / "how" / "pipes.md").read_text()


def name(rule):
    return rule.__name__.rpartition(".")[2]


def test_every_module_is_registered_once():
    assert sorted(map(name, PIPE_RULES)) == sorted(MODULES)


@pytest.mark.parametrize("rule", PIPE_RULES, ids=name)
def test_code_test_and_docs_agree(rule):
    assert rule.CODE.replace("-", "_") == name(rule)
    assert len(re.findall(r"^def test_", (HERE / f"test_{name(rule)}.py").read_text(), re.M)) >= 2
    assert f"| `{rule.CODE}` | {rule.SEVERITY} | " in PAGE


@pytest.fixture
def sound(laid_out):
    """The small network with a valve at its pump, so that all of it can be shut off."""
    laid_out["valves"]["V0"] = {"kind": "isolation", "geometry": Point(0, 0)}
    return laid_out


def test_a_sound_network_is_silent(sound, built):
    assert check_pipes(built(sound), NightRules()) == []


def test_the_networks_own_doubts_come_first(sound, built):
    sound["pipes"]["M2"]["diameter_mm"] = 0.0
    sound["pipes"]["L"]["diameter_mm"] = 20.0
    codes = [f.code for f in check_pipes(built(sound), NightRules())]
    assert codes == ["pipe-no-limit", "lateral-overloaded"]


def test_without_pipes_only_that_is_told(laid_out, built):
    del laid_out["pipes"]
    assert [f.code for f in check_pipes(built(laid_out), NightRules())] == ["no-pipes"]


def test_pipes_without_a_line_are_passed_over(sound, built):
    sound["pipes"]["M2"]["geometry"] = None
    codes = {f.code for f in check_pipes(built(sound), NightRules())}
    assert codes <= {"main-dead-end", "pipe-not-reached", "valve-off-pipe"}


def test_ids_that_stand_twice_leave_the_rules_out(laid_out, built):
    laid_out["pipes"]["L"]["diameter_mm"] = 20.0
    ground = built(laid_out)
    twice = ground.with_table("heads", pd.concat([ground.heads, ground.heads]))
    assert "lateral-overloaded" not in {f.code for f in check_pipes(twice, NightRules())}


def test_the_record_is_not_changed(laid_out, built):
    ground = built(laid_out)
    before = dataclasses.replace(ground, pipes=ground.pipes.copy(), heads=ground.heads.copy())
    check_pipes(ground, NightRules())
    assert ground.pipes.equals(before.pipes)
    assert ground.heads.equals(before.heads)
