from __future__ import annotations

import pandas as pd
import pytest

from nightwater.findings import Severity
from nightwater.ground.links import resolve_station_lists, station_heads
from nightwater.ground.record import ground_from
from nightwater.ground.station_lists import listed_names, named_rows


def resolved(make, hole):
    ground, findings = resolve_station_lists(make(hole))
    return ground.heads["station"], {finding.code: finding for finding in findings}


def test_agreeing_record_passes_without_a_word(make, hole):
    hole["stations"]["S1"]["heads"] = "F1 F2"
    stations, findings = resolved(make, hole)
    assert findings == {}
    assert stations["F1"] == stations["F2"] == "S1"


@pytest.mark.parametrize("text", ["F1 F2", "F1;F2", "F1, F2", " F1 ;\n F2 ", "tag-1 F2"])
def test_heads_without_a_station_take_it_from_the_list(make, hole, text):
    hole["heads"]["F1"] |= {"station": None, "label": "tag-1"}
    hole["heads"]["F2"]["station"] = None
    hole["stations"]["S1"]["heads"] = text
    stations, findings = resolved(make, hole)
    assert (stations["F1"], stations["F2"]) == ("S1", "S1")
    assert findings == {}


def test_a_head_that_names_its_station_by_label_gets_the_id(make, hole):
    hole["heads"]["F1"]["station"] = "st 1"
    stations, findings = resolved(make, hole)
    assert stations["F1"] == "S1"
    assert findings == {}


def test_an_ambiguous_label_names_nobody(make, hole):
    hole["stations"]["S2"]["label"] = "st 1"
    hole["heads"]["F1"]["station"] = "st 1"
    stations, _ = resolved(make, hole)
    assert stations["F1"] == "st 1"


def test_disagreement_is_told_and_the_head_counts(make, hole):
    hole["stations"]["S2"]["heads"] = "R1 F1"
    stations, findings = resolved(make, hole)
    assert stations["F1"] == "S1"
    finding = findings["station-list-disagrees"]
    assert finding.subject == "heads:F1"
    assert "S1" in finding.message
    assert "S2" in finding.message
    assert finding.severity is Severity.WARNING


def test_swapped_pairs_are_told_on_both_sides(make, hole):
    hole["stations"]["S2"]["heads"] = "R2"
    hole["stations"]["S3"]["heads"] = "R1"
    _, findings = resolve_station_lists(make(hole))
    assert [f.subject for f in findings if f.code == "station-list-disagrees"] == [
        "heads:R1",
        "heads:R2",
    ]


def test_a_listed_head_that_is_not_surveyed_is_an_error(make, hole):
    hole["stations"]["S1"]["heads"] = "F1 F2 F3"
    _, findings = resolved(make, hole)
    assert findings["listed-head-unknown"].subject == "stations:S1"
    assert "'F3'" in findings["listed-head-unknown"].message
    assert findings["listed-head-unknown"].severity is Severity.ERROR


def test_a_head_on_two_lists_keeps_the_first(make, hole):
    hole["heads"]["F1"]["station"] = None
    hole["stations"]["S1"]["heads"] = "F1 F2"
    hole["stations"]["S2"]["heads"] = "R1 F1"
    stations, findings = resolved(make, hole)
    assert stations["F1"] == "S1"
    assert findings["head-on-two-lists"].subject == "heads:F1"


def test_a_head_twice_on_one_list_is_no_matter(make, hole):
    hole["stations"]["S1"]["heads"] = "F1 F2 F1"
    assert resolved(make, hole)[1] == {}


def test_a_head_that_its_stations_list_leaves_out_is_told(make, hole):
    hole["stations"]["S1"]["heads"] = "F1"
    _, findings = resolved(make, hole)
    assert findings["head-not-on-list"].subject == "heads:F2"


def test_only_the_heads_station_changes(make, hole):
    hole["heads"]["F1"]["station"] = None
    hole["stations"]["S1"]["heads"] = "F1 F2"
    before = make(hole)
    after, _ = resolve_station_lists(before)
    assert before.heads.loc["F1", "station"] is None
    pd.testing.assert_frame_equal(
        after.heads.drop(columns="station"), before.heads.drop(columns="station")
    )
    assert station_heads(after)["S1"] == ["F1", "F2"]


def test_nothing_surveyed_resolves_to_nothing():
    ground, findings = resolve_station_lists(ground_from("EPSG:32612", {}))
    assert len(ground.heads) == 0
    assert findings == []


def test_names_in_a_list():
    assert listed_names(None) == []
    assert listed_names(float("nan")) == []
    assert listed_names(" a ;b,c  d\t") == ["a", "b", "c", "d"]


def test_an_id_wins_over_anothers_label():
    rows = pd.DataFrame({"label": ["b", "x", "x"]}, index=["a", "b", "c"])
    assert named_rows(rows) == {"a": "a", "b": "b", "c": "c"}
