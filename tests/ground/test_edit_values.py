"""Add, set and remove rows: what is refused, and what follows an edit."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.findings import UserError
from nightwater.ground.changes import plain_rows
from nightwater.ground.edits.add import add_row
from nightwater.ground.edits.remove import remove
from nightwater.ground.edits.rows import free_ids, listed
from nightwater.ground.edits.set_values import set_values
from nightwater.ground.record import Ground
from nightwater.ground.station_lists import resolve_station_lists
from nightwater.ground.tables import TABLES

POINT = {"type": "Point", "coordinates": [70.0, 5.0]}


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    return make(hole)


def row(ground: Ground, table: str, identity: str) -> dict[str, Any]:
    return plain_rows(ground.table(table).loc[[identity]], TABLES[table])[identity]


def test_a_new_head_is_drawn_unless_told_otherwise(ground: Ground) -> None:
    after = add_row(ground, "heads", {"nozzle": "N", "arc_deg": 90}, POINT)
    assert list(after.heads.index) == [*ground.heads.index, "head-0001"]
    new = row(after, "heads", "head-0001")
    assert new["evidence"] == "drawing"
    assert new["arc_deg"] == 90.0
    assert new["geometry"].equals(Point(70, 5))
    told = add_row(ground, "heads", {"evidence": "guessed"}, POINT, identity="X1")
    assert row(told, "heads", "X1")["evidence"] == "guessed"


def test_the_old_ground_is_never_changed(ground: Ground) -> None:
    before = ground.heads.copy()
    add_row(ground, "heads", {}, POINT)
    set_values(ground, "heads", ["F1"], {"arc_deg": 45.0})
    pd.testing.assert_frame_equal(ground.heads, before)


def test_made_ids_are_never_used_twice(ground: Ground) -> None:
    once = add_row(ground, "heads", {}, POINT)
    names = free_ids(once, "heads", {"head-0003"})
    assert [next(names), next(names)] == ["head-0002", "head-0004"]
    again = add_row(ground, "heads", {}, POINT, retired={"head-0001"})
    assert "head-0002" in again.heads.index


def test_a_table_without_shape_takes_a_row_without_place(ground: Ground) -> None:
    after = add_row(ground, "stations", {"label": "st 7", "output": 7}, identity="S7")
    assert int(after.stations.loc["S7", "output"]) == 7
    with pytest.raises(UserError, match="leave the geometry away"):
        add_row(ground, "stations", {}, POINT)


@pytest.mark.parametrize(
    ("table", "values", "geometry", "identity", "sentence"),
    [
        ("heads", {}, None, None, "A new head needs its place on the map"),
        ("heds", {}, POINT, None, "no table 'heds'. Did you mean 'heads'"),
        ("nights", {}, None, None, "no table 'nights'"),
        ("heads", {}, POINT, "F1", "There is a head F1 already"),
        ("heads", {}, POINT, "  ", "The id is empty"),
        ("heads", {"arcdeg": 1}, POINT, None, "no column 'arcdeg'. Did you mean 'arc_deg'"),
        ("heads", {"arc_deg": "90"}, POINT, None, "arc_deg is '90'; a number is wanted"),
        ("heads", {"arc_deg": True}, POINT, None, "a number is wanted"),
        ("heads", {"arc_deg": 400}, POINT, None, "must lie between 10 and 360"),
        ("heads", {"arc_deg": 10**400}, POINT, None, "a number is wanted"),
        ("heads", {"label": 7}, POINT, None, "a text is wanted"),
        ("heads", {"station": "S9"}, POINT, None, "S9 is no station of the record"),
        ("heads", {"geometry": POINT}, POINT, None, "no plain value"),
        ("areas", {}, {"type": "Polygon", "coordinates": [[[0, 0], [9, 0], [9, 9], [0, 0]]]},
         None, "kind is missing"),
        ("areas", {"kind": "gren"},
         {"type": "Polygon", "coordinates": [[[0, 0], [9, 0], [9, 9], [0, 0]]]},
         None, "Did you mean 'green'"),
        ("stations", {"output": 1.5}, None, None, "a whole number is wanted"),
        ("valves", {"kind": "drain", "open": 1}, POINT, None, "true or false is wanted"),
    ],
)  # fmt: skip
def test_a_row_that_may_not_stand_is_told(
    ground: Ground, *, table: str, values: Any, geometry: Any, identity: Any, sentence: str
) -> None:
    with pytest.raises(UserError) as told:
        add_row(ground, table, values, geometry, identity=identity)
    assert sentence in str(told.value)


def test_many_rows_take_the_same_values_and_keep_the_others(ground: Ground) -> None:
    after = set_values(ground, "heads", ["F1", "F2"], {"arc_deg": 180, "nozzle": None})
    for head in ("F1", "F2"):
        new, old = row(after, "heads", head), row(ground, "heads", head)
        assert new == {**old, "arc_deg": 180.0, "nozzle": None}
    assert row(after, "heads", "R1") == row(ground, "heads", "R1")
    assert after.heads.crs == ground.heads.crs
    assert list(after.heads.dtypes) == list(ground.heads.dtypes)


@pytest.mark.parametrize(
    ("ids", "values", "sentence"),
    [
        ([], {"arc_deg": 1}, "No heads are named"),
        (["F1"], {}, "No column is named"),
        (["F9"], {"arc_deg": 90}, "F9 is no head of the record."),
        (["F8", "F9"], {"arc_deg": 90}, "F8, F9 are no heads of the record."),
        (["F1"], {"station": "st1"}, "st1 is no station of the record"),
        (["F1"], {"condition": "fine"}, "which is none of good, low"),
    ],
)
def test_wrong_values_are_told(ground: Ground, ids: Any, values: Any, sentence: str) -> None:
    with pytest.raises(UserError) as told:
        set_values(ground, "heads", ids, values)
    assert sentence in str(told.value)


def test_every_faulty_row_is_named_up_to_five(ground: Ground) -> None:
    with pytest.raises(UserError, match=r"heads:F1: .* And 3 more\.$"):
        set_values(ground, "heads", list(ground.heads.index), {"arc_deg": 5})


def test_a_label_that_lists_used_does_not_move_heads_to_another_station(
    make: Any, hole: Any
) -> None:
    """F1 and F2 exchange labels; the list of S1 names F1 by its label and must still mean it."""
    for head, label in (("F1", "7-1"), ("F2", "7-2")):
        hole["heads"][head] |= {"label": label, "station": None}
    hole["stations"]["S1"] |= {"heads": "7-1"}
    hole["stations"]["S2"] |= {"heads": "7-2"}
    ground = make(hole)
    before = resolve_station_lists(ground)[0].heads["station"]
    after = set_values(ground, "heads", ["F1"], {"label": "7-3"})
    after = set_values(after, "heads", ["F2"], {"label": "7-1"})
    assert after.stations.loc["S1", "heads"] == "F1"
    pd.testing.assert_series_equal(resolve_station_lists(after)[0].heads["station"], before)


def test_a_station_named_by_label_is_named_by_id_before_its_label_changes(
    make: Any, hole: Any
) -> None:
    hole["heads"]["F1"] |= {"station": "st 1"}
    after = set_values(make(hole), "stations", ["S1"], {"label": "st 2"})
    assert row(after, "heads", "F1")["station"] == "S1"


def test_removed_heads_are_struck_off_their_list(make: Any, hole: Any) -> None:
    hole["stations"]["S1"] |= {"heads": "F1; tag-80; R1"}
    hole["heads"]["F2"] |= {"label": "tag-80"}
    after = remove(make(hole), "heads", ["F2"])
    assert "F2" not in after.heads.index
    assert after.stations.loc["S1", "heads"] == "F1; R1"
    assert int(after.stations.loc["S1", "heads_listed"]) == 2  # what the list said stays
    gone = remove(after, "heads", ["F1", "R1"])
    assert gone.stations.loc["S1", "heads"] is None


def test_what_others_name_is_not_removed(make: Any, hole: Any) -> None:
    hole["heads"]["F2"] |= {"station": "st 3"}
    ground = make(hole)
    with pytest.raises(UserError, match=r"heads:F1 still name this station"):
        remove(ground, "stations", ["S1"])
    with pytest.raises(UserError, match=r"heads:F2, heads:R2 still name this station"):
        remove(ground, "stations", ["S3"])
    with pytest.raises(UserError, match="R2, heads:T1 and 3 more still name these nozzles"):
        remove(ground, "nozzles", ["N", "small"])
    without = remove(ground, "heads", ["F1"])
    assert "S1" not in remove(without, "stations", ["S1"]).stations.index
    with pytest.raises(UserError, match="F7 is no head"):
        remove(ground, "heads", ["F7"])


def test_a_few_names_are_listed_and_the_rest_counted() -> None:
    assert listed("abc") == "a, b, c"
    assert listed("abcdefg") == "a, b, c, d, e and 2 more"


def test_values_come_from_json_as_they_are(ground: Ground) -> None:
    plain = json.loads('{"arc_deg": 90, "bearing_deg": 0.1, "label": "ä"}')
    new = row(set_values(ground, "heads", ["F1"], plain), "heads", "F1")
    assert (new["arc_deg"], new["bearing_deg"], new["label"]) == (90.0, 0.1, "ä")
