"""Elements out of answers and markup in which anything may stand."""

from __future__ import annotations

import json
from typing import Any

import pytest

from nightwater.findings import UserError
from nightwater.survey import osm_elements
from nightwater.survey.osm_elements import Way, answer_in, from_answer, from_markup
from nightwater.survey.osm_shapes import OpenRingError, relation_shape, way_places


def elements(*rows: Any) -> osm_elements.Elements:
    return from_answer({"elements": list(rows)}, "x.json")


@pytest.mark.parametrize(
    ("content", "answer"),
    [
        (b'{"elements": []}', True),
        (b'{"version": 0.6, "elements": [{}]}', True),
        (b'{"elements": {}}', False),
        (b'{"elements": [], "features": []}', False),
        (b'[{"elements": []}]', False),
        (b'{"elements": [', False),
        (b"{}", False),
        (b'{"elements": ' + b"[" * 100_000, False),
        (b'{"elements": [' + b"9" * 5000 + b"]}", False),
    ],
)
def test_an_answer_is_known_by_its_elements(content: bytes, answer: bool) -> None:
    assert (answer_in(content) is not None) is answer


@pytest.mark.parametrize(
    ("lon", "lat", "known"),
    [
        (-112, 39.2, True),
        ("-112.0", "39.2", True),
        (180, -90, True),
        (180.1, 0, False),
        (0, 90.1, False),
        ("east", 39, False),
        (None, 39, False),
        ([], {}, False),
        (float("nan"), 0, False),
        (10**400, 0, False),
    ],
)
def test_a_place_is_a_pair_of_degrees_or_none(lon: Any, lat: Any, known: bool) -> None:
    found = elements({"type": "node", "id": 1, "lon": lon, "lat": lat})
    assert (1 in found.places) is known


@pytest.mark.parametrize("key", [None, "x", [], {}, float("inf"), float("nan")])
def test_what_has_no_number_is_passed_over(key: Any) -> None:
    found = elements({"type": "way", "id": key, "nodes": [1]}, "not an element", None)
    assert found == osm_elements.Elements()


def test_wrong_things_in_an_element_are_missing_not_passed_over() -> None:
    found = elements(
        {
            "type": "way",
            "id": 1,
            "nodes": [1, "2", None, {}, 3],
            "tags": {"a": 1, "b": [], "c": "d"},
        },
        {"type": "way", "id": 2, "nodes": "12", "tags": ["x"], "geometry": {}},
        {"type": "relation", "id": 3, "members": [None, {"ref": "x"}, {"ref": 9, "role": None}]},
        {"type": "building", "id": 4},
    )
    assert found.ways[1] == Way({"a": "1", "c": "d"}, (1, 2, None, None, 3))
    assert found.ways[2] == Way({})
    assert [(m.kind, m.key, m.role) for m in found.relations[3].members] == [
        ("way", None, ""),
        ("None", None, ""),
        ("None", 9, ""),
    ]


def test_a_line_with_a_node_that_cannot_be_read_is_not_drawn() -> None:
    nodes = [{"type": "node", "id": n, "lon": n, "lat": 0} for n in (1, 2, 3)]
    whole = elements(*nodes, {"type": "way", "id": 1, "nodes": [1, 2, 3]})
    torn = elements(*nodes, {"type": "way", "id": 1, "nodes": [1, None, 3]})
    assert way_places(1, whole) == ((1, 0), (2, 0), (3, 0))
    assert way_places(1, torn) is None
    bare = from_markup(b"<osm><way id='1'><nd ref='1'/><nd/><nd ref='3'/></way></osm>", "x")
    assert bare.ways[1].nodes == (1, None, 3)


def test_an_area_with_a_member_that_cannot_be_read_is_not_whole() -> None:
    ring = [{"lon": x, "lat": y} for x, y in ((0, 0), (1, 0), (1, 1), (0, 0))]
    outer = {"type": "way", "ref": 1, "role": "outer", "geometry": ring}
    whole = elements({"type": "relation", "id": 5, "members": [outer]})
    torn = elements({"type": "relation", "id": 5, "members": [outer, {"type": "way", "role": ""}]})
    assert relation_shape(whole.relations[5], whole).area == pytest.approx(0.5)
    with pytest.raises(OpenRingError, match="member without a number"):
        relation_shape(torn.relations[5], torn)


def test_more_than_a_million_elements_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(osm_elements, "MAX_ELEMENTS", 3)
    rows = [{"type": "node", "id": n} for n in range(4)]
    with pytest.raises(UserError, match=r"x\.json holds more than 3 elements"):
        elements(*rows)
    markup = b"<osm>" + b'<node id="1"/>' * 4 + b"</osm>"
    with pytest.raises(UserError, match=r"x\.osm holds more than 3 elements"):
        from_markup(markup, "x.osm")
    assert len(from_markup(markup.replace(b'<node id="1"/>', b"", 1), "x.osm").places) == 0


def test_markup_and_answer_say_the_same() -> None:
    row = {"type": "node", "id": 5, "lon": -112, "lat": 39.2, "tags": {"golf": "pin"}}
    markup = b'<osm><node id="5" lon="-112" lat="39.2"><tag k="golf" v="pin"/></node></osm>'
    assert from_markup(markup, "x.osm") == elements(row)


def test_places_drawn_on_the_spot_are_read_in_both() -> None:
    spots = [{"lon": -112.0, "lat": 39.2}, {"lon": -112.1, "lat": 39.3}]
    drawn = {"type": "way", "id": 1, "geometry": spots, "tags": {"golf": "hole"}}
    nds = "".join(f'<nd ref="{n}" lon="{s["lon"]}" lat="{s["lat"]}"/>' for n, s in enumerate(spots))
    markup = f'<osm><way id="1">{nds}<tag k="golf" v="hole"/></way></osm>'
    assert from_markup(markup.encode(), "x").ways[1].places == ((-112.0, 39.2), (-112.1, 39.3))
    assert elements(json.loads(json.dumps(drawn))).ways[1].places == (
        (-112.0, 39.2),
        (-112.1, 39.3),
    )
