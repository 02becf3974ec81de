"""Labels proposed, taken over and doubted; ids never move."""

from __future__ import annotations

import random

import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from nightwater.findings import Severity, UserError
from nightwater.ground.number_rules import NumberRules, number_rules_from
from nightwater.ground.numbering import COLUMNS, number_findings, propose_numbers, renumber
from nightwater.ground.tables import GROUND_TABLES


def labels(proposal, table):
    rows = proposal[proposal["table"] == table]
    return dict(zip(rows["id"], rows["label_proposed"], strict=True))


@pytest.fixture
def ground(hole, make):
    return make(hole)


def test_heads_are_called_by_hole_kind_and_number(ground):
    got = labels(propose_numbers(ground, NumberRules()), "heads")
    assert got["F1"] == "01-F-01"
    assert (got["G1"], got["G2"]) == ("01-G-01", "01-G-02")
    assert (got["T1"], got["T2"]) == ("01-T-01", "01-T-02")
    assert (got["R1"], got["R2"]) == ("01-R-01", "01-R-03")


def test_a_station_is_called_by_its_first_head(ground):
    got = labels(propose_numbers(ground, NumberRules()), "stations")
    assert got == {
        "S1": "01-F-01",
        "S2": "01-R-01",
        "S3": "01-R-03",
        "S4": "01-T-01",
        "S5": "01-G-01",
        "S6": "01-G-02",
    }


def test_or_counted_by_itself(ground):
    rules = number_rules_from({"kinds": {"rough": {"station_number": "own_order"}}})
    got = labels(propose_numbers(ground, rules), "stations")
    assert (got["S2"], got["S3"]) == ("01-R-01", "01-R-02")
    assert labels(propose_numbers(ground, rules), "heads")["R2"] == "01-R-03"


def test_own_order_begins_where_the_rule_says(ground):
    rules = number_rules_from({"kinds": {"rough": {"station_number": "own_order", "start": 51}}})
    got = labels(propose_numbers(ground, rules), "stations")
    assert (got["S2"], got["S3"]) == ("01-R-51", "01-R-52")


def test_the_table_says_what_changes(hole, make):
    hole["heads"]["F1"]["label"] = "01-F-01"
    hole["heads"]["F2"]["label"] = None
    proposal = propose_numbers(make(hole), NumberRules())
    assert list(proposal.columns) == [*COLUMNS, "changes"]
    rows = proposal[proposal["table"] == "heads"].set_index("id")
    assert not rows.loc["F1", "changes"]
    assert rows.loc["F2", "changes"]
    assert pd.isna(rows.loc["F2", "label_now"])
    assert rows.loc["G1", "label_now"] == "tag 215 0"


def test_heads_come_first_and_each_table_in_the_trades_order(ground):
    proposal = propose_numbers(ground, NumberRules())
    assert list(proposal["table"]) == ["heads"] * 8 + ["stations"] * 6
    heads = proposal[proposal["table"] == "heads"]
    assert list(heads["label_proposed"]) == sorted(heads["label_proposed"])


def test_a_station_without_heads_keeps_its_label(hole, make):
    hole["heads"]["R2"]["station"] = None
    ground = make(hole)
    proposal = propose_numbers(ground, NumberRules())
    assert "S3" not in labels(proposal, "stations")
    assert renumber(ground, proposal).stations.loc["S3", "label"] == "st 3"


def test_renumbering_changes_labels_and_nothing_else(ground):
    after = renumber(ground, propose_numbers(ground, NumberRules()))
    assert list(after.heads.index) == list(ground.heads.index)
    for table in GROUND_TABLES:
        before = ground.table(table).drop(columns="label")
        pd.testing.assert_frame_equal(after.table(table).drop(columns="label"), before)
    assert after.heads.loc["F1", "label"] == "01-F-01"
    assert ground.heads.loc["F1", "label"] == "tag 60 0"


def test_names_on_a_list_follow_their_head_when_labels_pass_to_another(hole, make):
    hole["heads"]["F1"] |= {"label": "01-F-02", "station": None}
    hole["heads"]["F2"] |= {"label": "01-F-01", "station": None}
    hole["stations"]["S1"] |= {"heads": "01-F-02"}
    ground = make(hole)
    after = renumber(ground, propose_numbers(ground, NumberRules()))
    assert after.heads.loc["F1", "label"] == "01-F-01"
    assert after.stations.loc["S1", "heads"] == "F1"


def test_numbering_twice_changes_nothing_more(ground):
    after = renumber(ground, propose_numbers(ground, NumberRules()))
    assert not propose_numbers(after, NumberRules())["changes"].any()


def test_a_part_of_a_proposal_may_be_taken(ground):
    proposal = propose_numbers(ground, NumberRules())
    after = renumber(ground, proposal[proposal["kind"] == "tee"])
    assert after.heads.loc["T1", "label"] == "01-T-01"
    assert after.heads.loc["F1", "label"] == "tag 60 0"


def test_a_proposal_of_another_record_is_refused(hole, make, ground):
    proposal = propose_numbers(ground, NumberRules())
    del hole["heads"]["F1"]
    with pytest.raises(UserError, match="name F1, which is not in heads"):
        renumber(make(hole), proposal)


def test_kinds_that_share_a_letter_are_counted_on(ground):
    rules = number_rules_from({"kinds": {"rough": {"letter": "X"}, "tee": {"letter": "X"}}})
    proposal = propose_numbers(ground, rules)
    assert number_findings(ground, proposal) == []
    got = labels(proposal, "heads")
    assert len({got[head] for head in ("R1", "R2", "T1", "T2")}) == 4


def test_two_with_one_label_are_told(hole, make):
    """Two holes of one number on the card."""
    hole["holes"]["H2"] = {"number": 1, "geometry": LineString([(0, 200), (230, 200)])}
    hole["areas"]["other"] = {"kind": "fairway", "geometry": box(40, 185, 250, 215)}
    hole["heads"]["F9"] = hole["heads"]["F1"] | {"geometry": Point(60, 200), "label": "F9"}
    ground = make(hole)
    assert number_findings(ground, propose_numbers(ground, NumberRules())) == []
    sheet = propose_numbers(ground, NumberRules())
    sheet.loc[sheet["id"] == "F9", "label_proposed"] = "01-F-01"
    found = number_findings(ground, sheet)
    assert {finding.code for finding in found} == {"number-taken-twice"}


def test_a_label_that_stays_can_be_in_the_way(hole, make):
    hole["heads"]["R1"]["label"] = "01-T-01"
    ground = make(hole)
    proposal = propose_numbers(ground, NumberRules())
    tees = proposal[(proposal["kind"] == "tee") & (proposal["table"] == "heads")]
    found = number_findings(ground, tees)
    doubled = [finding for finding in found if finding.code == "number-taken-twice"]
    assert [finding.severity for finding in doubled] == [Severity.WARNING]
    assert doubled[0].message == "2 heads would be called 01-T-01: R1, T1."


def test_a_head_nowhere_is_told(hole, make):
    hole["heads"]["F2"]["geometry"] = None
    ground = make(hole)
    found = number_findings(ground, propose_numbers(ground, NumberRules()))
    assert [(f.code, f.subject) for f in found] == [("head-without-number", "heads:F2")]


def test_a_record_without_heads_proposes_nothing(hole, make):
    hole["heads"] = {}
    ground = make(hole)
    proposal = propose_numbers(ground, NumberRules())
    assert proposal.empty
    assert list(proposal.columns) == [*COLUMNS, "changes"]
    assert renumber(ground, proposal).stations.equals(ground.stations)


@pytest.mark.parametrize("seed", range(5))
def test_labels_do_not_hang_on_the_order_of_the_record(hole, make, ground, seed):
    names = list(hole["heads"])
    random.Random(seed).shuffle(names)
    hole["heads"] = {name: hole["heads"][name] for name in names}
    shuffled = propose_numbers(make(hole), NumberRules())
    straight = propose_numbers(ground, NumberRules())
    assert labels(shuffled, "heads") == labels(straight, "heads")
    assert labels(shuffled, "stations") == labels(straight, "stations")
