"""The house form of every rule: code, severity, a test of its own, a line in the docs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nightwater.ground import rules as package
from nightwater.ground.checks import FIRST, RULES

ALL = (FIRST, *RULES)
HERE = Path(__file__).parent
MODULES = {path.stem for path in Path(str(package.__file__)).parent.glob("*.py")} - {"__init__"}
PAGE = (Path(__file__).parents[3] / "docs" / "how" / "ground.md").read_text()


def name(rule):
    return rule.__name__.rpartition(".")[2]


def test_every_module_is_registered_once():
    assert sorted(name(rule) for rule in ALL) == sorted(MODULES)


def test_codes_differ():
    assert len({rule.CODE for rule in ALL}) == len(ALL)


@pytest.mark.parametrize("rule", ALL, ids=name)
def test_a_rule_is_called_by_its_code(rule):
    assert rule.CODE.replace("-", "_") == name(rule)
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.CODE)


@pytest.mark.parametrize("rule", ALL, ids=name)
def test_a_rule_has_a_test_of_its_own(rule):
    text = (HERE / f"test_{name(rule)}.py").read_text()
    assert len(re.findall(r"^def test_", text, re.M)) >= 2


@pytest.mark.parametrize("rule", ALL, ids=name)
def test_the_docs_give_its_severity(rule):
    assert f"| `{rule.CODE}` | {rule.SEVERITY} | " in PAGE
