"""Operations as plain values: read, refused, applied in order."""

from __future__ import annotations

import json
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.changes import plain_rows
from nightwater.ground.differences import changes_between, with_changes
from nightwater.ground.edits.digests import digest_of, digests, row_digest
from nightwater.ground.edits.forms import FORMS
from nightwater.ground.edits.operations import (
    EditRules,
    OperationError,
    apply_operations,
    read_operation,
    read_operations,
    try_operations,
)
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.ground.validity import row_faults

POINT = {"type": "Point", "coordinates": [70.0, 5.0]}
EVERY: list[dict[str, Any]] = [
    {"op": "add", "table": "heads", "id": None, "values": {"nozzle": "N"}, "geometry": POINT},
    {"op": "set", "table": "heads", "ids": ["F1", "F2"], "values": {"arc_deg": 90, "row_m": None}},
    {"op": "move", "table": "heads", "ids": ["F1"], "dx_m": 1.0, "dy_m": -2.0},
    {"op": "reshape", "table": "heads", "id": "F2", "geometry": POINT},
    {"op": "split", "table": "areas", "id": "fairway", "line": [[100, -99], [100, 99]]},
    {"op": "merge", "table": "areas", "ids": ["fairway", "area-0001"]},
    {"op": "copy_arc", "from": "G1", "ids": ["R1"]},
    {"op": "turn", "ids": ["G1"], "by_deg": 15.0},
    {"op": "turn", "ids": ["F1"], "bearing_deg": 90.0},
    {"op": "assign", "ids": ["F1"], "station": "S3"},
    {"op": "assign", "ids": ["F2"], "station": None},
    {"op": "place_along", "line": [[0, 50], [40, 50]], "spacing_m": 19.8, "like": "F1"},
    {"op": "renumber", "hole": "1"},
    {"op": "renumber", "hole": "1", "heads": ["F1"], "stations": []},
    {"op": "remove", "table": "heads", "ids": ["R2"]},
]


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    for row in hole["areas"].values():
        row["geometry"] = shapely.multipolygons([row["geometry"]])
    hole["holes"]["H1"]["geometry"] = shapely.multilinestrings([hole["holes"]["H1"]["geometry"]])
    hole["stations"]["S1"]["heads"] = "F1 F2"
    return make(hole)


def test_every_operation_is_read_from_json_and_done(ground: Ground) -> None:
    assert {plain["op"] for plain in EVERY} == set(FORMS)
    operations = read_operations(json.loads(json.dumps(EVERY)))
    applied = apply_operations(ground, operations)
    assert applied.created == {
        0: ("heads:head-0001",),
        11: ("heads:head-0002", "heads:head-0003", "heads:head-0004"),
    }  # the part cut off by 4 is merged again by 5
    assert list(applied.ground.areas.index) == list(ground.areas.index)
    assert applied.ground.heads.loc["F1", "station"] == "S3"
    assert applied.ground.stations["heads"].isna()["S1"]


def test_operations_name_their_rows() -> None:
    named = [list(read_operation(plain, 0).named) for plain in EVERY]
    assert named[0] == []
    assert named[1] == ["heads:F1", "heads:F2"]
    assert named[4] == ["areas:fairway"]
    assert named[6] == ["heads:G1", "heads:R1"]
    assert named[9] == ["heads:F1", "stations:S3"]
    assert named[10] == ["heads:F2"]
    assert named[11] == ["heads:F1"]
    assert named[12] == []


@pytest.mark.parametrize(
    ("plain", "sentence"),
    [
        ("move", "a set of named values"),
        ({}, "There is no operation 'None'"),
        ({"op": "delete"}, "There is no operation 'delete'. Known: add"),
        ({"op": "mov"}, "Did you mean 'move'"),
        ({"op": ["move"]}, "There is no operation"),
        ({"op": "turn", "ids": ["a"], "by_dg": 1}, "'turn' has no 'by_dg'. Did you mean 'by_deg'"),
        ({"op": "turn", "ids": ["a"], "source": 1}, "'turn' has no 'source'"),
        ({"op": "add", "table": "heads", "values": {}, "identity": "x"}, "has no 'identity'"),
        ({"op": "add", "table": "heads", "values": {}, "retired": []}, "has no 'retired'"),
        ({"op": "move", "table": "heads", "ids": ["a"], "dx_m": 1}, "'move' lacks 'dy_m'"),
        ({"op": "move", "table": "heads", "ids": "a", "dx_m": 1, "dy_m": 1}, "a list of ids"),
        ({"op": "move", "table": "heads", "ids": [1], "dx_m": 1, "dy_m": 1}, "a text is wanted"),
        ({"op": "move", "table": "heads", "ids": ["a"], "dx_m": "1", "dy_m": 1}, "a number"),
        ({"op": "move", "table": "heads", "ids": ["a"], "dx_m": 1e999, "dy_m": 1}, "finite"),
        ({"op": "move", "table": "heads", "ids": ["a"], "dx_m": 10**999, "dy_m": 1}, "finite"),
        ({"op": "move", "table": "heads", "ids": ["a"], "dx_m": True, "dy_m": 1}, "a number"),
        ({"op": "remove", "table": "", "ids": ["a"]}, "a text is wanted"),
        ({"op": "remove", "table": "heads", "ids": ["\ud800"]}, "characters that are none"),
        ({"op": "remove", "table": "heads", "ids": ["a\x00"]}, "characters that are none"),
        ({"op": "set", "table": "heads", "ids": ["a"], "values": []}, "columns with values"),
        ({"op": "set", "table": "heads", "ids": ["a"], "values": {"label": "\udfff"}}, "none"),
        ({"op": "split", "table": "areas", "id": "a", "line": "x"}, "a list of [x, y]"),
        ({"op": "split", "table": "areas", "id": "a", "line": [[1, 2, 3]]}, "a list of [x, y]"),
        ({"op": "reshape", "table": "areas", "id": "a", "geometry": [1]}, "GeoJSON geometry"),
        ({"op": "reshape", "table": "areas", "id": "a", "geometry": None}, "GeoJSON geometry"),
    ],
)  # fmt: skip
def test_what_does_not_read_is_told_with_its_place(plain: Any, sentence: str) -> None:
    with pytest.raises(OperationError) as told:
        read_operations([EVERY[0], plain])
    assert sentence in str(told.value)
    assert told.value.at == 1


@pytest.mark.parametrize("plain", [None, [], {}, "x", [EVERY[0]] * 1001])
def test_no_list_is_told_without_a_place(plain: Any) -> None:
    with pytest.raises(OperationError) as told:
        read_operations(plain)
    assert told.value.at is None


def test_a_list_is_done_whole_or_not_at_all(ground: Ground) -> None:
    operations = read_operations([EVERY[2], {"op": "assign", "ids": ["F1"], "station": "S007"}])
    with pytest.raises(OperationError, match=r"S007 is no station of the record") as told:
        apply_operations(ground, operations)
    assert told.value.at == 1


def test_a_trial_does_what_can_be_done_and_tells_the_rest(ground: Ground) -> None:
    tried = try_operations(
        ground, [{"op": "assing"}, EVERY[0], {**EVERY[2], "ids": ["F9"]}, EVERY[2]]
    )
    assert [(why.at, str(why)[:12]) for why in tried.impossible] == [
        (0, "There is no "),
        (2, "F9 is no hea"),
    ]
    assert changes_between(ground, tried.ground).in_words() == "heads: 1 added, 1 changed"
    assert tried.created == {1: ("heads:head-0001",)}


def test_ids_that_the_record_had_are_not_made_again(ground: Ground) -> None:
    rules = EditRules(
        retired={"heads": frozenset({"head-0001"}), "areas": frozenset({"area-0001"})}
    )
    made = apply_operations(ground, read_operations([EVERY[0], EVERY[4]]), rules).created
    assert made == {0: ("heads:head-0002",), 1: ("areas:area-0002",)}


def test_a_digest_is_of_the_values_alone(ground: Ground) -> None:
    rows = plain_rows(ground.heads, TABLES["heads"])
    marks = digests(rows)
    assert len(set(marks.values())) == len(rows)
    turned = dict(reversed(rows["F1"].items()))
    assert row_digest(turned) == marks["F1"] == digest_of(ground, "heads:F1")
    assert row_digest({**rows["F1"], "new_column": None}) == marks["F1"]
    assert row_digest({**rows["F1"], "arc_deg": 359.0}) != marks["F1"]
    assert row_digest({**rows["F1"], "geometry": rows["F2"]["geometry"]}) != marks["F1"]


@pytest.mark.parametrize("subject", ["heads:F9", "nights:1", "x", "settings:settings", ""])
def test_what_is_not_there_has_no_digest(ground: Ground, subject: str) -> None:
    assert digest_of(ground, subject) is None


HEADS = ("F1", "F2", "R1", "R2", "T1", "T2", "G1", "G2", "head-0001", "head-0002")
AREAS = ("rough", "fairway", "green", "tee", "area-0001")
_ids = st.lists(st.sampled_from(HEADS), min_size=1, max_size=4)
_metres = st.floats(-60, 260, allow_nan=False)
_places = st.tuples(_metres, st.floats(-40, 40)).map(list)
_station = st.sampled_from(["S1", "S2", "S3", None])
_line = st.lists(_places, min_size=2, max_size=4)
_steps = st.one_of(
    st.builds(
        lambda place: {"op": "add", "table": "heads", "values": {},
                       "geometry": {"type": "Point", "coordinates": place}}, _places),
    st.builds(lambda i, a: {"op": "set", "table": "heads", "ids": i, "values": {"arc_deg": a}},
              _ids, st.one_of(st.none(), st.floats(0, 400))),
    st.builds(lambda i, t: {"op": "set", "table": "heads", "ids": i, "values": {"label": t}},
              _ids, st.sampled_from(["a", "F1", "tag 60 0", None])),
    st.builds(lambda i, x, y: {"op": "move", "table": "heads", "ids": i, "dx_m": x, "dy_m": y},
              _ids, _metres, _metres),
    st.builds(lambda i, x: {"op": "move", "table": "areas", "ids": [i], "dx_m": x, "dy_m": 0.1},
              st.sampled_from(AREAS), _metres),
    st.builds(lambda i: {"op": "remove", "table": "heads", "ids": i}, _ids),
    st.builds(lambda i, s: {"op": "assign", "ids": i, "station": s}, _ids, _station),
    st.builds(lambda i, a: {"op": "turn", "ids": i, "bearing_deg": a}, _ids, st.floats(-1e4, 1e4)),
    st.builds(lambda i, a: {"op": "turn", "ids": i, "by_deg": a}, _ids, st.floats(-1e4, 1e4)),
    st.builds(lambda s, i: {"op": "copy_arc", "from": s, "ids": i}, st.sampled_from(HEADS), _ids),
    st.builds(lambda i, p: {"op": "split", "table": "areas", "id": i, "line": p},
              st.sampled_from(AREAS), _line),
    st.builds(lambda i: {"op": "merge", "table": "areas", "ids": i},
              st.lists(st.sampled_from(AREAS), min_size=2, max_size=3)),
    st.builds(lambda i, p: {"op": "reshape", "table": "areas", "id": i,
                            "geometry": {"type": "Polygon", "coordinates": [[*p, p[0]]]}},
              st.sampled_from(AREAS), st.lists(_places, min_size=3, max_size=6)),
    st.builds(lambda p, m, i: {"op": "place_along", "line": p, "spacing_m": m, "like": i},
              _line, st.floats(2, 40), st.sampled_from(HEADS)),
    st.just({"op": "renumber", "hole": "1"}),
)  # fmt: skip


_GROUND: list[Ground] = []  # hypothesis takes no fixture that is made anew for each test


@pytest.fixture(autouse=True)
def _given_ground(ground: Ground) -> None:
    _GROUND[:] = [ground]


def _whole() -> Ground:
    return _GROUND[0]


def _sound(ground: Ground) -> None:
    for name in GROUND_TABLES:
        rows = ground.table(name)
        assert rows.index.is_unique
        for values in plain_rows(rows, TABLES[name]).values():
            assert row_faults(TABLES[name], values) == []
    assert shapely.is_valid(ground.areas.geometry.to_numpy()).all()
    for name in GROUND_TABLES:
        for column in TABLES[name].columns:
            if column.refers_to is not None:
                named = ground.table(name)[column.name].dropna()
                assert named.isin(ground.table(column.refers_to).index).all()


@given(steps=st.lists(_steps, min_size=1, max_size=8))
@settings(max_examples=80, deadline=None)
def test_any_edits_keep_the_record_sound_and_can_be_taken_back(
    steps: list[dict[str, Any]],
) -> None:
    """Whatever is done: rows may stand, ids are unique, links lead somewhere, undo is exact."""
    before = _whole()
    after = try_operations(before, steps).ground
    _sound(after)
    changes = changes_between(before, after)
    assert len(changes_between(after, with_changes(before, changes))) == 0
    assert len(changes_between(before, with_changes(after, changes.reversed))) == 0


@given(x=st.floats(41, 249), slope=st.floats(-0.4, 0.4))
@settings(max_examples=40, deadline=None)
def test_split_then_merge_is_the_same_ground(x: float, slope: float) -> None:
    line = [[x - 30 * slope, -30], [x + 30 * slope, 30]]
    before = _whole()
    cut = try_operations(before, [{"op": "split", "table": "areas", "id": "fairway", "line": line}])
    if cut.impossible:
        return
    (part,) = (subject.partition(":")[2] for subject in cut.created[0])
    merged = [{"op": "merge", "table": "areas", "ids": ["fairway", part]}]
    after = try_operations(cut.ground, merged).ground
    was, now = before.areas.geometry["fairway"], after.areas.geometry["fairway"]
    assert now.area == pytest.approx(was.area, abs=1e-6)
    assert shapely.symmetric_difference(was, now).area < 1e-6
    assert list(after.areas.index) == list(before.areas.index)


@given(line=_line, spacing_m=st.floats(2, 40))
@settings(max_examples=40, deadline=None)
def test_heads_along_a_line_stand_exactly_apart(line: list[Any], spacing_m: float) -> None:
    step = {"op": "place_along", "line": line, "spacing_m": spacing_m, "like": "F1"}
    tried = try_operations(_whole(), [step])
    drawn = shapely.LineString(line)
    if tried.impossible:
        assert len({tuple(place) for place in line}) < 2 or drawn.length == 0
        return
    ids = [subject.partition(":")[2] for subject in tried.created[0]]
    assert len(ids) == int(drawn.length / spacing_m + 1e-9) + 1
    for number, head in enumerate(ids):
        wanted = drawn.interpolate(number * spacing_m)
        assert tried.ground.heads.geometry[head].distance(wanted) < 1e-9


@given(dx=st.floats(-1e4, 1e4), dy=st.floats(-1e4, 1e4))
@settings(max_examples=30, deadline=None)
def test_moving_is_translation(dx: float, dy: float) -> None:
    before = _whole()
    step = {"op": "move", "table": "areas", "ids": ["green"], "dx_m": dx, "dy_m": dy}
    after = apply_operations(before, read_operations([step])).ground
    was, now = (shapely.get_coordinates(g.areas.geometry["green"]) for g in (before, after))
    assert now - was == pytest.approx(shapely.get_coordinates([shapely.Point(dx, dy)] * len(was)))
    assert after.areas.geometry["green"].area == pytest.approx(200 * 2, rel=1e-6)


def test_refused_changes_are_user_errors() -> None:
    assert issubclass(OperationError, UserError)


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6)
    | st.sampled_from([*HEADS, *AREAS, "heads", "areas", "Point", "Polygon", "S1"]),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.sampled_from(["type", "coordinates", "arc_deg", "kind", "label"]), inner),
    max_leaves=12,
)  # fmt: skip


@given(data=st.data(), name=st.sampled_from(list(FORMS)))
@settings(max_examples=150, deadline=None)
def test_whatever_is_sent_is_done_soundly_or_told(data: st.DataObject, name: str) -> None:
    keys = {key: data.draw(_json, label=key) for key in FORMS[name].keys}
    before = _whole()
    after = try_operations(before, [{"op": name, **keys}]).ground
    _sound(after)


@given(plain=_json)
def test_what_is_no_list_of_operations_is_told(plain: Any) -> None:
    try:
        tried = try_operations(_whole(), plain)
    except OperationError:
        return
    assert len(tried.impossible) == len(plain)
