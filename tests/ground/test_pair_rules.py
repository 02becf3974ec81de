"""Pairing rules as data."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.pair_rules import GROUPINGS, KIND_GROUPINGS, PairRules, pair_rules_from
from nightwater.ground.tables import WATERED_KINDS

rule_sets = st.builds(
    PairRules,
    kinds=st.fixed_dictionaries(dict.fromkeys(WATERED_KINDS, st.sampled_from(GROUPINGS))),
    reach=st.floats(0.5, 3),
    flow_tolerance=st.floats(0.01, 0.5),
    arc_tolerance_deg=st.floats(1, 180),
    zone_heads=st.integers(1, 40),
)


@given(rule_sets)
def test_rules_come_back_from_json_as_they_were(rules):
    assert pair_rules_from(json.loads(json.dumps(rules.as_plain()))) == rules


def test_nothing_said_is_the_trades_way():
    assert pair_rules_from({}) == PairRules()
    assert PairRules().grouping("green") == "single"
    assert PairRules().grouping("rough") == "pair"
    assert PairRules().grouping("grounds") == "zone"


def test_one_kind_may_be_changed_alone():
    rules = pair_rules_from({"kinds": {"fairway": "single"}})
    assert rules.kinds == KIND_GROUPINGS | {"fairway": "single"}


def test_a_kind_left_out_goes_by_the_trade_and_others_run_alone():
    assert PairRules(kinds={}).grouping("tee") == "pair"
    assert PairRules().grouping("bunker") == "single"


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"reech": 1.2}, "unknown key 'reech' (did you mean 'reach'?)"),
        ({"kinds": {"gren": "pair"}}, "unknown kind 'gren' (did you mean 'green'?)"),
        ({"kinds": {"green": "pairs"}}, "unknown grouping 'pairs' (did you mean 'pair'?)"),
        ({"reach": 0}, "reach is no number from 0.1 to 5"),
        ({"reach": "far"}, "reach is no number from 0.1 to 5"),
        ({"zone_heads": True}, "zone_heads is no whole number from 1 to 100"),
        ({"kinds": ["green"]}, "kinds is no set of named values"),
    ],
)
def test_what_does_not_read_is_refused(document, words):
    with pytest.raises(UserError) as told:
        pair_rules_from(document)
    assert words in str(told.value)
