"""After an edit of heads the shorter way finds what the whole check finds.

The course: the small hole of the conftest, drawn three times side by side, some things wrong
from the start. Edits are drawn at random and done one after the other.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from nightwater.findings import Finding
from nightwater.ground import rechecking
from nightwater.ground.checks import RULES, check_whole, scope_of
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.rechecking import recheck
from nightwater.ground.record import Ground
from nightwater.ground.scopes import Scope

HOLES = ("1", "2", "3")
APART_M = 130.0  # the holes lie side by side, their roughs 50 m apart
RULES_OF_NUMBERS = NumberRules()
HEADS = [f"{name}-{hole}" for hole in HOLES for name in ("F1", "F2", "R1", "R2", "T1", "G1", "G2")]
STATIONS = [f"S{number}-{hole}" for hole in HOLES for number in range(1, 7)]
AREAS = [f"{kind}-{hole}" for hole in HOLES for kind in ("rough", "fairway", "green", "tee")]


def copied(table: str, rows: dict[str, Any], hole: str) -> dict[str, Any]:
    """The rows of a table moved to another hole, with ids and links of its own."""
    found = {}
    for key, row in rows.items():
        new = dict(row)
        if "geometry" in new:
            new["geometry"] = translate(new["geometry"], 0.0, APART_M * (int(hole) - 1))
        if table == "heads":
            new["station"] = f"{row['station']}-{hole}"
            letter, number = key[0], key[1:]
            new["label"] = f"{hole}{letter}{number}"
        if table == "stations":
            new["label"] = f"{hole}-{row['label']}"
            new["output"] = 100 * int(hole) + row["output"]
        found[f"{key}-{hole}"] = new
    return found


@pytest.fixture
def course(make: Any, hole: Any) -> Ground:
    tables: dict[str, Any] = {}
    for name, rows in hole.items():
        if name in ("areas", "heads", "stations"):
            tables[name] = {}
            for number in HOLES:
                tables[name] |= copied(name, rows, number)
        else:
            tables[name] = dict(rows)
    line = hole["holes"]["H1"]["geometry"]
    tables["holes"] = {
        f"H{n}": {"number": int(n), "geometry": translate(line, 0.0, APART_M * (int(n) - 1))}
        for n in HOLES
    }
    tables["areas"]["path"] = {"kind": "path", "geometry": shapely.box(40, 16, 250, 19)}
    tables["areas"]["hut"] = {"kind": "building", "geometry": shapely.box(90, 45, 99, 52)}
    return resolved(make(tables))


def resolved(ground: Ground) -> Ground:
    return resolve_station_lists(ground)[0]


def edited(ground: Ground, edit: tuple[Any, ...]) -> Ground:
    """A record after one edit; one of a head that is gone changes nothing."""
    deed, head, *what = edit
    heads = ground.heads.copy()
    if deed == "add":
        row = heads.iloc[:1].copy()
        row.index = pd.Index([f"new-{len(heads)}"], name=heads.index.name)
        row.loc[row.index[0], "label"] = head
        return resolved(ground.with_table("heads", pd.concat([heads, row])))
    if head not in heads.index:
        return ground
    if deed == "remove":
        heads = heads.drop(head)
    elif deed == "move":
        dx_m, dy_m = what
        heads.loc[[head], "geometry"] = heads.geometry.loc[[head]].translate(dx_m, dy_m)
    else:
        column, value = what
        heads.loc[head, column] = value
    return resolved(ground.with_table("heads", heads))


far = st.floats(-200.0, 200.0)
near = st.floats(-5.0, 5.0)
heads = st.sampled_from(HEADS)
VALUES = {
    "arc_deg": st.sampled_from([60.0, 180.0, 360.0, None]),
    "bearing_deg": st.floats(0.0, 360.0) | st.none(),
    "station": st.sampled_from([*STATIONS, "S-gone"]) | st.none(),
    "area": st.sampled_from([*AREAS, "path", "gone"]) | st.none(),
    "nozzle": st.sampled_from(["N", "small"]) | st.none(),
    "spacing_m": st.sampled_from([9.0, 20.0, 39.0, 60.0]) | st.none(),
    "row_m": st.sampled_from([9.0, 17.3, 39.0]) | st.none(),
    "measured_flow_l_s": st.sampled_from([0.0, 1.7, 3.0]) | st.none(),
    "label": st.sampled_from(["1F1", "1F2", "2F9", "3R4", "x"]) | st.none(),
}
edits = st.one_of(
    st.tuples(st.just("move"), heads, near, near),
    st.tuples(st.just("move"), heads, far, far),
    st.tuples(st.just("remove"), heads),
    st.tuples(st.just("add"), st.sampled_from(["1F1", "2R7"])),
    *(st.tuples(st.just("set"), heads, st.just(c), values) for c, values in VALUES.items()),
)


def plain(rows: pd.DataFrame) -> pd.DataFrame:
    """The same values, what is missing written in one way."""
    values = rows.astype(object)
    return values.where(values.notna(), None)


def told(findings: list[Finding]) -> Counter[Finding]:
    return Counter(findings)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(chain=st.lists(edits, min_size=1, max_size=4))
def test_the_shorter_way_finds_what_the_whole_check_finds(course: Ground, chain: Any) -> None:
    before, ground = check_whole(course, RULES_OF_NUMBERS), course
    for edit in chain:
        ground = edited(ground, edit)
        again = recheck(before, ground, RULES_OF_NUMBERS)
        whole = check_whole(ground, RULES_OF_NUMBERS)
        for rule in RULES:
            mine, right = again.by_rule[rule.CODE], whole.by_rule[rule.CODE]
            assert told(list(mine)) == told(list(right)), (rule.CODE, edit)
        assert plain(again.linked.heads).equals(plain(whole.linked.heads))
        before = again


def test_the_shorter_way_is_gone_and_finds_something(course: Ground, monkeypatch: Any) -> None:
    """So that the property above does not hold by checking whole, or by finding nothing."""
    before = check_whole(course, RULES_OF_NUMBERS)
    moved = edited(course, ("move", "F1-2", 0.0, 300.0))
    whole = check_whole(moved, RULES_OF_NUMBERS)
    new = {f.code for f in whole.findings} - {f.code for f in before.findings}
    assert "station-heads-far-apart" in new
    monkeypatch.setattr(rechecking, "check_whole", None)
    assert told(recheck(before, moved, RULES_OF_NUMBERS).findings) == told(whole.findings)


def test_rules_of_a_place_are_asked_of_the_heads_near_an_edit_only(
    course: Ground, monkeypatch: Any
) -> None:
    asked = {}
    for rule in RULES:
        find = rule.find

        def noted(linked: Any, code: str = rule.CODE, find: Any = find) -> Any:
            asked[code] = list(linked.ground.heads.index)
            return find(linked)

        monkeypatch.setattr(rule, "find", noted)
    before = check_whole(course, RULES_OF_NUMBERS)
    asked.clear()
    recheck(before, edited(course, ("move", "F1-2", 1.0, 0.0)), RULES_OF_NUMBERS)
    for rule in RULES:
        scope = scope_of(rule)
        heads_asked = asked.get(rule.CODE)
        if scope is Scope.BESIDE_HEADS:
            assert heads_asked is None, rule.CODE
        elif scope is Scope.PLACE:
            assert heads_asked, rule.CODE
            assert {name[-1] for name in heads_asked} == {"2"}, rule.CODE
        else:
            assert len(heads_asked or []) == len(course.heads), rule.CODE


def test_nothing_changed_is_nothing_asked(course: Ground, monkeypatch: Any) -> None:
    before = check_whole(course, RULES_OF_NUMBERS)
    for rule in RULES:
        monkeypatch.setattr(rule, "find", None)
    assert recheck(before, resolved(course), RULES_OF_NUMBERS).by_rule == before.by_rule


@pytest.mark.parametrize("table", ["areas", "nozzles", "stations", "holes"])
def test_an_edit_of_another_table_is_checked_whole(course: Ground, table: str) -> None:
    before = check_whole(course, RULES_OF_NUMBERS)
    after = resolved(course.with_table(table, course.table(table).iloc[1:]))
    again = recheck(before, after, RULES_OF_NUMBERS)
    assert again.findings == check_whole(after, RULES_OF_NUMBERS).findings
    assert again.findings != before.findings


def test_other_rules_of_numbering_are_checked_whole(course: Ground) -> None:
    before = check_whole(course, RULES_OF_NUMBERS)
    other = replace(RULES_OF_NUMBERS, pattern="{kind}{hole}{number}")
    assert recheck(before, course, other).findings == check_whole(course, other).findings


def test_an_id_that_stands_twice_hides_everything_else_and_comes_back(course: Ground) -> None:
    before = check_whole(course, RULES_OF_NUMBERS)
    heads = course.heads
    twice = course.with_table("heads", pd.concat([heads, heads.iloc[:1]]))
    doubled = recheck(before, twice, RULES_OF_NUMBERS)
    assert [f.code for f in doubled.findings] == ["id-twice"]
    assert recheck(doubled, course, RULES_OF_NUMBERS).findings == before.findings


def test_the_last_head_removed_is_checked_whole(course: Ground) -> None:
    before = check_whole(course, RULES_OF_NUMBERS)
    empty = course.with_table("heads", course.heads.iloc[:0])
    assert recheck(before, empty, RULES_OF_NUMBERS).findings == check_whole(empty).findings
