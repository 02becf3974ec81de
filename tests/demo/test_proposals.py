"""What the proposals find again on the invented club, once it is taken off the record.

The club is whole in the record, so what is stripped here is the truth. Nothing in the
functions knows it: they get the stripped record and the club's rules as data.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from nightwater.demo.numbering import CLUB_NUMBERS, CLUB_PAIRS
from nightwater.ground.along import lines_by_hole
from nightwater.ground.arcs import propose_arcs
from nightwater.ground.lines import propose_lines
from nightwater.ground.links import area_holes, head_areas, station_heads
from nightwater.ground.nozzles import propose_nozzles
from nightwater.ground.number_rules import NumberRules, number_rules_from
from nightwater.ground.numbering import number_findings, propose_numbers, renumber
from nightwater.ground.pair_rules import pair_rules_from
from nightwater.ground.pairing import propose_stations, with_stations
from nightwater.ground.perimeters import propose_perimeters, with_new


@pytest.fixture(scope="module")
def rules():
    return number_rules_from(json.loads(json.dumps(CLUB_NUMBERS)))


@pytest.fixture(scope="module")
def pair_rules():
    return pair_rules_from(CLUB_PAIRS)


def without(ground, table, *columns):
    rows = ground.table(table)
    return ground.with_table(table, rows.assign(**dict.fromkeys(columns)))


@pytest.fixture(scope="module")
def stations(ground, rules, pair_rules):
    """Stations proposed for heads that name none; the station list is empty."""
    bare = without(ground, "heads", "station", "label")
    bare = bare.with_table("stations", ground.stations.iloc[:0])
    proposal = propose_stations(bare, pair_rules, rules)
    return bare, proposal


def same_share(ground, rows):
    truth = {frozenset(heads) for heads in station_heads(ground)}
    return len(truth & {frozenset(heads) for heads in rows["heads"]}) / len(truth)


def test_stations_come_back_as_the_club_has_them(ground, stations):
    _, proposal = stations
    share = same_share(ground, proposal.rows)
    assert share >= 0.95
    assert proposal.findings == ()


def test_every_kind_but_the_practice_ground_is_whole(ground, stations):
    """The club leaves the last ten heads of the range and the short game single."""
    truth = {frozenset(heads) for heads in station_heads(ground)}
    rows = stations[1].rows
    right = rows["heads"].map(frozenset).isin(truth).groupby(rows["kind"]).mean()
    assert right.drop("practice").min() == 1.0
    assert right["practice"] >= 0.6


def test_wrong_stations_are_less_sure(ground, stations):
    truth = {frozenset(heads) for heads in station_heads(ground)}
    rows = stations[1].rows
    right = rows["heads"].map(frozenset).isin(truth)
    assert rows["confidence"][~right].max() <= 0.75
    assert rows["confidence"][right].median() >= 0.9


def test_every_head_gets_one_station(ground, stations):
    heads = [head for members in stations[1].rows["heads"] for head in members]
    assert sorted(heads) == sorted(ground.heads.index)


def test_without_the_clubs_order_only_the_practice_ground_differs(ground, stations, pair_rules):
    rows = propose_stations(stations[0], pair_rules).rows
    assert same_share(ground, rows) >= 0.94


def test_labels_come_back_as_the_club_wrote_them(ground, rules):
    bare = without(without(ground, "heads", "label"), "stations", "label")
    proposal = propose_numbers(bare, rules)
    for table in ("heads", "stations"):
        rows = proposal[proposal["table"] == table].set_index("id")
        truth = ground.table(table)["label"]
        share = (rows["label_proposed"].reindex(truth.index) == truth).mean()
        assert share >= 0.95
    assert number_findings(bare, proposal) == []


def test_stations_then_labels_lead_back_to_the_list(ground, stations, rules):
    """From heads without stations and labels to tags, without the station list."""
    bare, proposal = stations
    built = with_stations(bare, proposal.rows)
    named = renumber(built, propose_numbers(built, rules))
    assert (named.heads["label"] == ground.heads["label"]).mean() >= 0.95
    found = set(named.stations["label"]) & set(ground.stations["label"])
    assert len(found) / len(ground.stations) >= 0.95


def test_the_trades_order_alone_tags_tees_greens_fairways_and_rough(ground):
    proposal = propose_numbers(ground, NumberRules())
    changed = proposal[proposal["changes"]]
    on_holes = changed[changed["place"].str.isdigit()]
    assert set(on_holes["kind"]) == {"approach"}
    assert number_findings(ground, proposal) == []


def test_a_turned_line_of_play_changes_no_label(ground, rules):
    turned = ground.holes.copy()
    turned["geometry"] = turned.geometry.reverse()
    proposal = propose_numbers(ground.with_table("holes", turned), rules)
    assert not proposal["changes"].any()


def turned_deg(one, other):
    return ((one - other + 180.0) % 360.0 - 180.0).abs()


def test_arcs_of_part_circles(ground):
    """The club sets half circles in and 160° out everywhere; the ground itself says about

    140° in and 220° out: a bearing is found to some 9°, an arc only to some 50°.
    """
    truth = ground.heads
    part = truth["arc_deg"] < 360.0
    bare = without(ground, "heads", "arc_deg", "bearing_deg")
    found = propose_arcs(bare).reindex(truth.index)
    turn = turned_deg(found["bearing_deg"], truth["bearing_deg"])[part]
    arc = (found["arc_deg"] - truth["arc_deg"]).abs()[part]
    wrong = (found["arc_deg"][~part] < 360.0).mean()
    assert (found["arc_deg"][part] < 360.0).all()
    assert turn.mean() < 10.0
    assert turn.max() < 20.0
    assert arc.mean() < 60.0
    assert wrong < 0.03


def test_which_of_two_heads_in_one_spot_waters_the_green(ground):
    bare = without(ground, "heads", "arc_deg", "bearing_deg")
    found = propose_arcs(bare)
    rows = ground.heads["arc_deg"] < 360.0
    right = found["area"].reindex(ground.heads.index) == head_areas(ground)
    assert right[rows].all()


def test_a_known_arc_is_turned_to_where_the_club_turned_it(ground):
    found = propose_arcs(without(ground, "heads", "bearing_deg"))
    truth = ground.heads.loc[found.index]
    assert len(found) == (ground.heads["arc_deg"] < 360.0).sum()
    turn = turned_deg(found["bearing_deg"], truth["bearing_deg"])
    assert turn.mean() < 10.0
    assert turn.max() < 20.0


def test_nozzles_come_back_from_the_listed_flow(ground):
    found = propose_nozzles(without(ground, "heads", "nozzle"))
    assert len(found) == len(ground.heads)
    assert (found["nozzle"] == ground.heads["nozzle"].reindex(found.index)).all()


@pytest.mark.parametrize("declared", [True, False])
def test_lines_of_play_are_guessed_near_the_true_ones(ground, declared):
    truth, own = lines_by_hole(ground), area_holes(ground)
    bare = ground.with_table("holes", ground.holes.iloc[:0])
    if not declared:
        bare = without(bare, "areas", "hole")
    rows = propose_lines(bare)
    hole_of = {name: name if declared else own[name.removesuffix("-line")] for name in rows.index}
    assert sorted(hole_of.values()) == sorted(truth)
    off = []
    for name, hole in hole_of.items():
        line, true = rows.loc[name, "geometry"], truth[hole]
        steps = np.arange(0.0, true.length, 5.0)
        off.append(np.mean([line.distance(true.interpolate(step)) for step in steps]))
    assert max(off) < 15.0
    found = area_holes(with_new(bare, "holes", rows)).map(hole_of, na_action="ignore")
    played = own.notna()
    assert (found[played] == own[played]).mean() >= 0.98


def test_perimeters_of_a_club_that_drew_none(ground):
    bare = ground.with_table("areas", ground.areas[ground.areas["kind"] != "approach"])
    rows, findings = propose_perimeters(bare, 0.0, 10.0)
    assert len(rows) == 20
    assert findings == []
    assert rows["hole"].notna().sum() == 18
    assert rows.area.between(900, 1300).all()
    again, told = propose_perimeters(ground, 0.0, 2.0)
    assert again.empty
    assert {finding.code for finding in told} == {"perimeter-without-room"}


def test_nothing_is_proposed_for_a_whole_record(ground, rules, pair_rules):
    assert propose_stations(ground, pair_rules, rules).rows.empty
    assert propose_arcs(ground).empty
    assert propose_nozzles(ground).empty
    assert not propose_numbers(ground, rules)["changes"].any()
    assert propose_lines(ground).empty
