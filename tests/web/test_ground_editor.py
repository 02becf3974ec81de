"""The editor of the ground: who may open it, and what it is given."""

from __future__ import annotations

import re
from typing import Any

import pytest


@pytest.mark.parametrize("who", ["Ines", "Tomas"])
def test_those_who_may_change_the_record_find_the_editor(served: Any, who: str) -> None:
    page = served.who(who).get("/ground?subject=heads:H-F004").text
    assert 'href="/ground/edit?subject=heads%3AH-F004">Edit</a>' in page
    editor = served.who(who).get("/ground/edit?subject=heads:H-F004")
    assert editor.status_code == 200
    assert 'subject="heads:H-F004"' in editor.text


@pytest.mark.parametrize("who", ["Pilar", "Vera"])
def test_others_see_why_not(served: Any, who: str) -> None:
    page = served.who(who).get("/ground").text
    assert re.search(r"<button disabled[^>]*>Edit</button>", page)
    assert "may change the record; your role is" in page
    refused = served.who(who).get("/ground/edit")
    assert refused.status_code == 403
    assert "may change the record" in refused.text


def test_a_stranger_is_led_to_the_login(served: Any) -> None:
    assert served.stranger().get("/ground/edit").status_code == 303
    assert served.stranger().get("/ground/belongings.json").status_code == 303


def test_the_editor_has_its_token_units_tables_and_kinds(served: Any) -> None:
    tomas = served.who("Tomas")
    page = tomas.get("/ground/edit").text
    assert f'token="{tomas.token()}"' in page
    assert 'units="us"' in page
    assert 'tables="heads areas stations holes pipes pumps valves' in page
    assert 'kinds="green tee approach fairway' in page
    assert "<noscript>" in page


def test_every_table_of_the_record_can_be_shown_once(served: Any) -> None:
    from nightwater.ground.tables import GROUND_TABLES

    found = re.search(r'tables="([^"]+)"', served.who("Tomas").get("/ground/edit").text)
    assert found is not None
    assert sorted(found.group(1).split()) == sorted(GROUND_TABLES)


def test_heads_and_stations_know_their_hole_and_kind(served: Any) -> None:
    known = served.who("Pilar").get("/ground/belongings.json").json()
    assert known["heads:H-F004"] == {"hole": "1", "kind": "fairway"}
    assert known["stations:S-F004"] == {"hole": "1", "kind": "fairway"}
    assert {name.partition(":")[0] for name in known} == {"heads", "stations"}


def test_the_shapes_carry_what_people_call_them(served: Any) -> None:
    shapes = served.who("Pilar").get("/map/shapes.json").json()
    assert all(area["label"] for area in shapes["areas"])
    assert all(head["label"] for head in shapes["heads"])
