"""Arc, bearing, station and number of heads."""

from __future__ import annotations

from typing import Any

import pytest

from nightwater.findings import UserError
from nightwater.ground.edits.assign import assign
from nightwater.ground.edits.copy_arc import copy_arc
from nightwater.ground.edits.renumber import renumber
from nightwater.ground.edits.turn import turn
from nightwater.ground.number_rules import KindRule, NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.station_lists import resolve_station_lists


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    return make(hole)


def test_an_arc_is_copied_with_its_bearing(ground: Ground) -> None:
    after = copy_arc(ground, "G1", ["F1", "G2"])
    assert list(after.heads.loc[["F1", "G2"], "arc_deg"]) == [180.0, 180.0]
    assert list(after.heads.loc[["F1", "G2"], "bearing_deg"]) == [90.0, 90.0]
    full = copy_arc(after, "F2", ["F1"])
    assert full.heads["bearing_deg"].isna()["F1"]


def test_no_arc_is_not_copied(make: Any, hole: Any) -> None:
    hole["heads"]["F1"] |= {"arc_deg": None}
    with pytest.raises(UserError, match="F1 has no arc to copy"):
        copy_arc(make(hole), "F1", ["F2"])


@pytest.mark.parametrize(("given", "then"), [(90, 90), (-10, 350), (720.5, 0.5), (360, 0)])
def test_heads_turn_to_a_bearing(ground: Ground, given: float, then: float) -> None:
    after = turn(ground, ["F1", "G1"], bearing_deg=given)
    assert list(after.heads.loc[["F1", "G1"], "bearing_deg"]) == [then, then]


def test_heads_turn_by_an_angle_and_back(ground: Ground) -> None:
    after = turn(ground, ["G1", "G2"], by_deg=135)
    assert list(after.heads.loc[["G1", "G2"], "bearing_deg"]) == [225.0, 45.0]
    back = turn(after, ["G1", "G2"], by_deg=-135)
    assert list(back.heads["bearing_deg"].dropna()) == list(ground.heads["bearing_deg"].dropna())


def test_turning_wants_one_angle_and_something_to_turn(ground: Ground) -> None:
    with pytest.raises(UserError, match="F1 have no bearing to turn from"):
        turn(ground, ["F1", "G1"], by_deg=10)
    for angles in ({}, {"bearing_deg": 1.0, "by_deg": 1.0}):
        with pytest.raises(UserError, match="either 'bearing_deg' or 'by_deg'"):
            turn(ground, ["G1"], **angles)


def test_a_head_is_put_on_a_station_and_the_lists_follow(make: Any, hole: Any) -> None:
    hole["stations"]["S1"] |= {"heads": "F1, F2"}
    hole["stations"]["S2"] |= {"heads": "R1"}
    hole["heads"]["F1"] |= {"station": None}
    after = assign(make(hole), ["F1"], "S2")
    assert after.heads.loc["F1", "station"] == "S2"
    assert list(after.stations.loc[["S1", "S2"], "heads"]) == ["F2", "R1 F1"]
    assert after.stations.loc["S3", "heads"] is None  # no list, none begun
    assert list(after.stations["heads_listed"]) == list(make(hole).stations["heads_listed"])
    resolved, findings = resolve_station_lists(after)
    assert resolved.heads.loc["F1", "station"] == "S2"
    assert findings == []


def test_taken_off_its_station_a_listed_head_stays_off(make: Any, hole: Any) -> None:
    hole["stations"]["S1"] |= {"heads": "F1 F2"}
    after = assign(make(hole), ["F1"], None)
    assert resolve_station_lists(after)[0].heads["station"].isna()["F1"]


def test_assigning_twice_changes_nothing_more(ground: Ground) -> None:
    once = assign(ground, ["F1"], "S2")
    again = assign(once, ["F1"], "S2")
    assert again.heads.equals(once.heads)
    assert again.stations is once.stations or again.stations.equals(once.stations)


def test_an_unknown_station_is_told(ground: Ground) -> None:
    with pytest.raises(UserError, match=r"S007 is no station of the record"):
        assign(ground, ["F1"], "S007")


def test_one_hole_is_renumbered_and_stations_keep_their_heads(make: Any, hole: Any) -> None:
    """F1 and F2 are named by label on a list; the labels pass to other heads."""
    rules = NumberRules(kinds={"fairway": KindRule("F", "sequence")})
    hole["heads"]["F1"] |= {"label": "01-F-02", "station": None}
    hole["heads"]["F2"] |= {"label": "01-F-01", "station": None}
    hole["stations"]["S1"] |= {"heads": "01-F-01"}
    hole["stations"]["S2"] |= {"heads": "01-F-02"}
    ground = make(hole)
    after = renumber(ground, rules, "1")
    assert list(after.heads.loc[["F1", "F2"], "label"]) == ["01-F-01", "01-F-02"]
    assert list(after.heads.index) == list(ground.heads.index)
    before, then = (resolve_station_lists(g)[0].heads["station"] for g in (ground, after))
    assert list(then) == list(before)


def test_renumbering_again_changes_nothing(ground: Ground) -> None:
    once = renumber(ground, NumberRules(), "1")
    assert once.heads["label"].notna().all()
    assert renumber(once, NumberRules(), "1").heads.equals(once.heads)


def test_a_hole_without_heads_is_told(ground: Ground) -> None:
    with pytest.raises(UserError, match=r"No head is counted on hole '11'\. Did you mean '1'"):
        renumber(ground, NumberRules(), "11")


def test_a_label_that_another_bears_is_not_given(make: Any, hole: Any) -> None:
    hole["heads"]["X"] = {**hole["heads"]["F1"], "label": "01-G-01", "geometry": None}
    with pytest.raises(UserError, match="would all be called 01-G-01"):
        renumber(make(hole), NumberRules(), "1")


def test_some_heads_of_a_hole_get_the_label_that_the_whole_order_gives_them(ground: Ground) -> None:
    whole = renumber(ground, NumberRules(), "1")
    changed = whole.heads.index[whole.heads["label"] != ground.heads["label"]]
    chosen = [str(changed[-1])]
    some = renumber(ground, NumberRules(), "1", heads=chosen)
    assert some.heads.loc[chosen[0], "label"] == whole.heads.loc[chosen[0], "label"]
    others = ground.heads.index.difference(chosen)
    assert some.heads.loc[others, "label"].equals(ground.heads.loc[others, "label"])
    assert some.stations["label"].equals(ground.stations["label"])


def test_a_station_alone_is_renumbered(ground: Ground) -> None:
    whole = renumber(ground, NumberRules(), "1")
    some = renumber(ground, NumberRules(), "1", stations=["S2"])
    assert some.stations.loc["S2", "label"] == whole.stations.loc["S2", "label"]
    assert some.heads["label"].equals(ground.heads["label"])


def test_a_head_of_another_hole_is_not_renumbered_with_this_one(ground: Ground) -> None:
    with pytest.raises(UserError, match=r"H99 of heads .*not counted on hole '1'"):
        renumber(ground, NumberRules(), "1", heads=["F1", "H99"])
