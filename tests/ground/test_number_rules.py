"""Numbering rules as data: stored, read back, and refused with the nearest name."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.number_rules import (
    AROUND_GREEN,
    KIND_RULES,
    SCHEMES,
    STATION_NUMBERS,
    KindRule,
    NumberRules,
    number_rules_from,
)
from nightwater.ground.pair_rules import pair_rules_from
from nightwater.ground.tables import WATERED_KINDS

letters = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=3)
kind_rules = st.builds(
    KindRule,
    letter=letters,
    scheme=st.sampled_from(SCHEMES),
    start=st.integers(0, 500),
    around_green=st.sampled_from(AROUND_GREEN),
    per_area=st.integers(0, 100),
    bearing_deg=st.none() | st.floats(0, 360),
    station_number=st.sampled_from(STATION_NUMBERS),
)
rule_sets = st.builds(
    NumberRules,
    kinds=st.fixed_dictionaries(dict.fromkeys(WATERED_KINDS, kind_rules)),
    areas=st.dictionaries(letters, kind_rules, max_size=3),
    places=st.dictionaries(letters, letters, max_size=3),
    pattern=st.sampled_from(["{hole}-{kind}-{number}", "{kind}{number}/{hole}"]),
    hole_width=st.integers(1, 4),
    number_width=st.integers(1, 4),
    approach=st.sampled_from(["own_kind", "after_fairway"]),
    around_green_m=st.floats(0, 40),
    centre_m=st.floats(0, 10),
)


@given(rule_sets)
def test_rules_come_back_from_json_as_they_were(rules):
    assert number_rules_from(json.loads(json.dumps(rules.as_plain()))) == rules


def test_nothing_said_is_the_trades_order():
    rules = number_rules_from({})
    assert rules == NumberRules()
    assert {kind: rules.rule(None, kind).scheme for kind in WATERED_KINDS} == {
        "green": "clockwise_from_lower_left",
        "tee": "back_to_front",
        "approach": "sequence",
        "fairway": "odd_left_even_right",
        "rough": "odd_left_even_right",
        "practice": "rows",
        "grounds": "rows",
    }


def test_a_kind_changes_only_what_it_names():
    rules = number_rules_from({"kinds": {"fairway": {"letter": "FW"}}})
    assert rules.kinds["fairway"] == KindRule("FW", "odd_left_even_right")
    assert rules.kinds["rough"] == KIND_RULES["rough"]


def test_an_area_goes_by_its_own_rule():
    rules = number_rules_from({"areas": {"nursery": {"letter": "N", "scheme": "rows"}}})
    assert rules.rule("nursery", "green") == KindRule("N", "rows")
    assert rules.rule("7-green", "green") == KIND_RULES["green"]
    assert rules.rule(None, "green") == KIND_RULES["green"]


def test_a_kind_left_out_by_hand_goes_by_the_trade():
    assert NumberRules(kinds={}).rule(None, "tee") == KIND_RULES["tee"]


@pytest.mark.parametrize(
    ("place", "number", "label"),
    [("7", 3, "07-F-03"), ("18", 100, "18-F-100"), ("P1", 2, "P1-F-02"), ("007", 1, "007-F-01")],
)
def test_labels_are_padded_and_never_cut(place, number, label):
    assert NumberRules().label(place, "F", number) == label


def test_a_pattern_puts_the_parts_in_any_order():
    rules = NumberRules(pattern="{kind}{number} ({hole})", hole_width=1, number_width=3)
    assert rules.label("4", "R", 12) == "R012 (4)"


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"patern": "x"}, "unknown key 'patern' (did you mean 'pattern'?)"),
        ({"kinds": {"fareway": {}}}, "unknown kind 'fareway' (did you mean 'fairway'?)"),
        ({"kinds": {"tee": {"leter": "T"}}}, "kinds.tee: unknown key 'leter'"),
        ({"kinds": {"tee": {"scheme": "sequense"}}}, "did you mean 'sequence'?"),
        ({"kinds": {"tee": {"around_green": "frist"}}}, "did you mean 'first'?"),
        ({"kinds": {"tee": {"station_number": "own"}}}, "unknown station_number 'own'"),
        ({"kinds": {"tee": "T"}}, "kinds.tee is no set of named values"),
        ({"kinds": {"tee": {"start": "one"}}}, "kinds.tee: start is no whole number"),
        ({"kinds": {"tee": {"letter": ""}}}, "kinds.tee: letter is no text"),
        ({"kinds": {"tee": {"bearing_deg": 361}}}, "bearing_deg is no number from 0 to 360"),
        ({"kinds": []}, "kinds is no set of named values"),
        ({"places": {"practice": 7}}, "places: practice is no text"),
        ({"hole_width": 0}, "hole_width is no whole number from 1 to 6"),
        ({"centre_m": "3 m"}, "centre_m is no number from 0 to 100"),
        ({"pattern": 7}, "pattern is no text"),
        ({"pattern": "{hole:02d}-{kind}-{number}"}, "digits are set by hole_width"),
        ({"areas": {"nursery": {"scheme": "rows"}}}, "areas.nursery lacks 'letter'"),
        ({"approach": "last"}, "unknown approach 'last' (known: own_kind, after_fairway)"),
        ({"pattern": "{hole}-{number}"}, "lacks {kind}"),
        ({"pattern": "{hole}-{kind}-{nummer}"}, "unknown field 'nummer' (did you mean 'number'?)"),
        ({"pattern": "{hole"}, "pattern '{hole'"),
    ],
)
def test_what_does_not_read_is_refused_with_the_nearest_name(document, words):
    with pytest.raises(UserError) as told:
        number_rules_from(document)
    assert words in str(told.value)


odd = st.sampled_from([None, True, -1, 7, 2.5, float("nan"), "", "rows", "{", [], ["a"], {}])
plain = odd | st.dictionaries(st.sampled_from(["letter", "scheme", "start", "tee"]), odd)
keys = st.sampled_from(["kinds", "areas", "places", "pattern", "hole_width", "approach", "x"])


@given(st.dictionaries(keys, plain | st.fixed_dictionaries({"tee": plain}), max_size=4))
def test_no_document_breaks_the_reader(document):
    try:
        rules = number_rules_from(document)
    except UserError:
        return
    assert rules.label("1", "F", 1)


def test_all_faults_are_told_at_once():
    with pytest.raises(UserError) as told:
        number_rules_from({"patern": "x", "approach": "last", "kinds": {"tea": {}}})
    assert str(told.value).count("unknown") == 3


def test_the_examples_in_the_docs_read():
    page = (Path(__file__).parents[2] / "docs" / "how" / "proposals.md").read_text()
    (block,) = re.findall(r"```json\n(.*?)```", page, re.DOTALL)
    rules = number_rules_from(json.loads(block))
    assert rules.rule(None, "grounds").per_area == 10
    (line,) = re.findall(r"^`(\{\"kinds.*\})`$", page, re.MULTILINE)
    assert pair_rules_from(json.loads(line)).grouping("fairway") == "single"


def test_the_docs_name_every_rule():
    page = (Path(__file__).parents[2] / "docs" / "how" / "proposals.md").read_text()
    listed = {item.name for rules in (KindRule, NumberRules) for item in fields(rules)}
    assert sorted(name for name in listed if f"`{name}`" not in page) == [
        "areas",
        "kinds",
        "places",
    ]
    assert [scheme for scheme in SCHEMES if f"| `{scheme}` |" not in page] == []
