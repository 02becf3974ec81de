"""Ines and Tomas edit the record from the map; Pilar may only look."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

HEAD, OTHER = "H-F004", "H-R204"
FROM_PAGE = {"sec-fetch-site": "same-origin"}


def send(visitor: Any, path: str, **document: Any) -> Any:
    headers = FROM_PAGE | {"x-nightwater-token": visitor.token()}
    return visitor.client.post(path, json=document, headers=headers)


def arc(arc_deg: float, *heads: str) -> list[dict[str, Any]]:
    ids = list(heads) or [HEAD]
    return [{"op": "set", "table": "heads", "ids": ids, "values": {"arc_deg": arc_deg}}]


def table(visitor: Any, name: str = "heads", **query: str) -> dict[str, dict[str, Any]]:
    answer = visitor.get("/ground/rows", params={"table": name, **query})
    assert answer.status_code == 200
    return {row["id"]: row for row in answer.json()["rows"]}


def seen(visitor: Any, *heads: str) -> dict[str, str]:
    rows = table(visitor)
    return {f"heads:{head}": rows[head]["digest"] for head in heads}


def test_a_preview_shows_what_would_be_and_saves_nothing(served: Any) -> None:
    ines = served.who("Ines")
    steps = [
        *arc(180),
        {"op": "move", "table": "heads", "ids": [HEAD], "dx_m": 2.0, "dy_m": 0.0},
        {"op": "remove", "table": "heads", "ids": [OTHER]},
        {"op": "assign", "ids": [HEAD], "station": "S007"},
        {"op": "tern", "ids": [HEAD], "by_deg": 1},
    ]
    before = table(ines)
    answer = send(ines, "/ground/edit/preview", operations=steps)
    assert answer.status_code == 200
    found = answer.json()
    (feature,) = found["changed"]["heads"]["features"]
    assert found["changed"]["heads"]["type"] == "FeatureCollection"
    assert feature["id"] == HEAD
    assert feature["geometry"]["type"] == "Point"
    assert feature["properties"]["arc_deg"] == 180.0
    assert feature["properties"]["station"] == "S-F004"  # named by the list alone
    assert feature["properties"]["throw_m"] == pytest.approx(65 * 0.3048)
    assert found["removed"] == [f"heads:{OTHER}"]
    assert [why["at"] for why in found["impossible"]] == [3, 4]
    assert "S007 is no station of the record" in found["impossible"][0]["message"]
    assert "Did you mean 'turn'" in found["impossible"][1]["message"]
    codes = {(row["code"], row["subject"]) for row in found["findings"]}
    assert ("arc-without-bearing", f"heads:{HEAD}") in codes
    assert ("station-without-heads", "stations:S-R204") in codes
    assert table(ines) == before


def test_a_renumbered_head_that_changed_meanwhile_is_a_conflict(served: Any) -> None:
    """The page names the heads whose label it changes, with their marks."""
    ines, tomas = served.who("Ines"), served.who("Tomas")
    wrong = [{"op": "set", "table": "heads", "ids": [HEAD, OTHER], "values": {"label": "wrong"}}]
    send(ines, "/ground/edit", operations=wrong, why="a slip")
    marks = seen(ines, HEAD, OTHER)
    again = [{"op": "renumber", "hole": "1", "heads": [HEAD, OTHER], "stations": []}]
    send(tomas, "/ground/edit", operations=arc(180), seen=marks, why="half")
    told = send(ines, "/ground/edit", operations=again, seen=marks, why="order")
    assert told.status_code == 409
    (conflict,) = told.json()["conflicts"]
    assert conflict["subject"] == f"heads:{HEAD}"
    assert conflict["yours"]["label"].startswith("01-")
    assert conflict["theirs"] == {"label": "wrong", "arc_deg": 180.0}
    others = [{**again[0], "heads": [OTHER]}]  # theirs for one, mine for the other
    assert send(ines, "/ground/edit", operations=others, seen=marks, why="order").status_code == 200
    labels = {key: row["label"] for key, row in table(ines).items()}
    assert labels[HEAD] == "wrong"
    assert labels[OTHER].startswith("01-")


def test_saved_edits_are_one_revision_with_a_reason(served: Any) -> None:
    ines = served.who("Ines")
    place = {"type": "Point", "coordinates": [0.0, 0.0]}
    new = {"op": "add", "table": "heads", "id": None, "values": {}, "geometry": place}
    answer = send(
        ines, "/ground/edit", operations=[*arc(180), new], seen=seen(ines, HEAD), why="two halves"
    )
    assert answer.status_code == 200
    saved = answer.json()
    assert saved["created"] == {"1": ["heads:head-0001"]}
    assert {row["subject"] for row in saved["findings"]} >= {"heads:head-0001"}
    assert table(ines)[HEAD]["arc_deg"] == 180.0
    past = ines.get("/ground/history", params={"subject": f"heads:{HEAD}"}).json()["revisions"]
    assert past[0] | {"time": ""} == {
        "revision": saved["revision"],
        "time": "",
        "who": "Ines",
        "why": "two halves",
        "columns": {"arc_deg": [360.0, 180.0]},
    }
    (newest, *_) = ines.get("/history/revisions.json").json()["revisions"]
    assert past[0]["time"] == newest["time"]  # both on the course's own clock
    first = past[-1]["columns"]
    assert first["nozzle"] == [None, "N-big"]
    assert first["geometry"][1]["type"] == "Point"


def test_two_people_on_different_rows_both_go_through(served: Any) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    hers, his = seen(ines, HEAD), seen(tomas, OTHER)
    assert send(ines, "/ground/edit", operations=arc(180), seen=hers, why="a").status_code == 200
    answer = send(tomas, "/ground/edit", operations=arc(90, OTHER), seen=his, why="b")
    assert answer.status_code == 200
    rows = table(ines)
    assert (rows[HEAD]["arc_deg"], rows[OTHER]["arc_deg"]) == (180.0, 90.0)


def test_the_second_save_of_a_row_is_told_shown_both_and_loses_nothing(served: Any) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    loaded = seen(tomas, HEAD, OTHER)
    worn = {"op": "set", "table": "heads", "ids": [HEAD], "values": {"condition": "worn"}}
    first = send(ines, "/ground/edit", operations=[*arc(180), worn], seen=seen(ines, HEAD), why="a")
    steps = arc(90, HEAD, OTHER)
    answer = send(tomas, "/ground/edit", operations=steps, seen=loaded, why="b")
    assert answer.status_code == 409
    told = answer.json()
    assert "nothing was saved" in told["message"]
    (conflict,) = told["conflicts"]
    assert conflict == {
        "subject": f"heads:{HEAD}",
        "yours": {"arc_deg": 90.0},
        "theirs": {"arc_deg": 180.0, "condition": "worn"},
        "by": "Ines",
        "revision": first.json()["revision"],
        "digest": table(tomas)[HEAD]["digest"],
    }
    rows = table(tomas)
    assert (rows[HEAD]["arc_deg"], rows[OTHER]["arc_deg"]) == (180.0, 360.0)
    # He takes hers for the one and his own for the other; then he insists on the first, too.
    answer = send(tomas, "/ground/edit", operations=arc(90, OTHER), seen=loaded, why="b")
    assert answer.status_code == 200
    mark = {conflict["subject"]: conflict["digest"]}
    assert send(tomas, "/ground/edit", operations=arc(90), seen=mark, why="c").status_code == 200
    row = table(ines)[HEAD]
    assert (row["arc_deg"], row["condition"]) == (90.0, "worn")


def test_a_moved_row_shows_both_places(served: Any) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    loaded = seen(tomas, HEAD)
    step = {"op": "move", "table": "heads", "ids": [HEAD], "dx_m": 1.0, "dy_m": 0.0}
    send(ines, "/ground/edit", operations=[step], why="a")
    answer = send(tomas, "/ground/edit", operations=[step | {"dx_m": -1}], seen=loaded, why="b")
    (conflict,) = answer.json()["conflicts"]
    mine, theirs = (conflict[who]["geometry"]["coordinates"][0] for who in ("yours", "theirs"))
    assert theirs - mine == pytest.approx(2.0)


def test_who_edits_a_row_that_is_gone_is_told(served: Any) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    loaded = seen(tomas, HEAD)
    gone = [{"op": "remove", "table": "heads", "ids": [HEAD]}]
    assert send(ines, "/ground/edit", operations=gone, why="dug out").status_code == 200
    answer = send(tomas, "/ground/edit", operations=arc(90), seen=loaded, why="b")
    assert answer.status_code == 409
    (conflict,) = answer.json()["conflicts"]
    assert (conflict["yours"], conflict["theirs"]) == ({"arc_deg": 90.0}, None)
    assert send(tomas, "/ground/edit", operations=arc(90), why="b").status_code == 400


def test_undo_takes_a_revision_back_until_later_work_builds_on_it(served: Any) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    first = send(ines, "/ground/edit", operations=arc(180), why="a").json()["revision"]
    second = send(tomas, "/ground/edit", operations=arc(90), why="b").json()["revision"]
    refused = send(ines, "/ground/undo", revision=first)
    assert refused.status_code == 409
    assert refused.json()["conflicts"] == []
    assert f"revision {second} of Tomas" in refused.json()["message"]
    assert send(ines, "/ground/undo", revision=second).status_code == 200
    undone = send(ines, "/ground/undo", revision=second)
    assert undone.status_code == 409
    assert table(ines)[HEAD]["arc_deg"] == 180.0
    assert send(ines, "/ground/undo", revision="99999").status_code == 404
    assert send(ines, "/ground/undo", revision=7).status_code == 400


@pytest.mark.parametrize(
    ("document", "message", "at"),
    [
        ({"operations": [], "why": "x"}, "one or more operations", None),
        ({"operations": {}, "why": "x"}, "one or more operations", None),
        ({"operations": [{"op": "set"}], "why": "x"}, "'set' lacks 'table'", 0),
        ({"operations": arc(90) + arc(5), "why": "x"}, "must lie between 10 and 360", 1),
        ({"operations": arc(90), "why": " "}, "who made it and why", ...),
        ({"operations": arc(360), "why": "x"}, "like that already", ...),
        ({"why": "x"}, "'operations'", ...),
        ({"operations": arc(90), "why": "x", "sen": {}}, "'sen'", ...),
        ({"operations": arc(90), "why": "x", "seen": {"heads:H": 1}}, "seen", ...),
        ({"operations": arc(90), "why": "x" * 501}, "500", ...),
    ],
)
def test_what_cannot_be_done_is_told_in_a_sentence(
    served: Any, document: Any, message: str, at: Any
) -> None:
    ines = served.who("Ines")
    answer = send(ines, "/ground/edit", **document)
    assert answer.status_code == 400
    assert message in answer.json()["message"]
    if at is not ...:
        assert answer.json()["at"] == at
    assert table(ines)[HEAD]["arc_deg"] == 360.0


@pytest.mark.parametrize("body", ["{", "[]", '"x"', "\xff", "[" * 50_000, ""])
def test_a_body_that_is_no_document_is_told(served: Any, body: str) -> None:
    ines = served.who("Ines")
    headers = FROM_PAGE | {"x-nightwater-token": ines.token(), "content-type": "application/json"}
    answer = ines.client.post("/ground/edit", content=body.encode("latin-1"), headers=headers)
    assert answer.status_code == 400
    assert answer.json()["message"]


def test_numbers_that_are_none_are_refused(served: Any) -> None:
    ines = served.who("Ines")
    headers = FROM_PAGE | {"x-nightwater-token": ines.token(), "content-type": "application/json"}
    step = {"op": "move", "table": "heads", "ids": [HEAD], "dx_m": math.nan, "dy_m": 0}
    body = json.dumps({"operations": [step], "why": "x"})
    answer = ines.client.post("/ground/edit", content=body, headers=headers)
    assert (answer.status_code, answer.json()["at"]) == (400, 0)
    assert "a finite number" in answer.json()["message"]


@pytest.mark.parametrize("path", ["/ground/edit/preview", "/ground/edit", "/ground/undo"])
@pytest.mark.parametrize("who", ["Pilar", "Vera"])
def test_others_may_look_but_not_edit(served: Any, who: str, path: str) -> None:
    answer = send(served.who(who), path, operations=arc(90), why="x")
    assert answer.status_code == 403
    assert "may change the record; your role is" in answer.json()["message"]
    assert HEAD in table(served.who(who))


@pytest.mark.parametrize("path", ["/ground/edit/preview", "/ground/edit", "/ground/undo"])
def test_another_sessions_token_is_refused(served: Any, path: str) -> None:
    ines, tomas = served.who("Ines"), served.who("Tomas")
    for token in ("", "x", tomas.token()):
        headers = FROM_PAGE | {"x-nightwater-token": token}
        answer = ines.client.post(path, json={"operations": arc(90), "why": "x"}, headers=headers)
        assert answer.status_code == 403
        assert "Load the page again" in answer.json()["message"]
    assert table(ines)[HEAD]["arc_deg"] == 360.0


def test_another_sites_page_edits_nothing(served: Any) -> None:
    ines = served.who("Ines")
    headers = {"sec-fetch-site": "cross-site", "x-nightwater-token": ines.token()}
    document = {"operations": arc(90), "why": "x"}
    assert ines.client.post("/ground/edit", json=document, headers=headers).status_code == 403


@pytest.mark.parametrize(
    "path", ["/ground/rows?table=heads", "/ground/wets?x=0&y=0", "/ground/history?subject=heads:H"]
)
def test_a_stranger_is_told_to_log_in_and_learns_nothing(served: Any, path: str) -> None:
    answer = served.stranger().get(path)
    assert answer.status_code == 401
    assert list(answer.json()) == ["message"]


def test_a_bulk_edit_of_a_whole_course_may_be_sent(served: Any) -> None:
    """2,000 rows with their marks are more than a form may hold."""
    ines = served.who("Ines")
    marks = {f"heads:H-{number:05d}-of-a-long-name": "0" * 16 for number in range(2000)}
    answer = send(ines, "/ground/edit", operations=arc(90), seen=marks, why="all of them")
    assert answer.status_code == 200
    huge = {f"heads:{number}": "0" * 400 for number in range(3000)}
    assert send(ines, "/ground/edit", operations=arc(91), seen=huge, why="x").status_code == 413
    assert send(ines, "/ground/undo", revision="x" * 70_000).status_code == 413


def test_the_table_beside_the_map_comes_from_the_declaration(served: Any) -> None:
    from nightwater.ground.tables import GROUND_TABLES, TABLES

    vera = served.who("Vera")
    for name in GROUND_TABLES:
        document = vera.get(f"/ground/rows?table={name}").json()
        assert [c["name"] for c in document["columns"]] == [c.name for c in TABLES[name].columns]
        for row in document["rows"]:
            assert set(row) == {"id", "digest", *TABLES[name].by_name}
    columns = {c["name"]: c for c in vera.get("/ground/rows?table=heads").json()["columns"]}
    assert columns["spacing_m"] | {"meaning": ""} == {
        "name": "spacing_m", "title": "spacing", "unit": "m", "kind": "number", "choices": None,
        "meaning": "", "required": False, "lowest": 1, "highest": 40, "refers_to": None,
    }  # fmt: skip
    assert columns["condition"]["choices"][0] == "good"
    assert columns["station"]["refers_to"] == "stations"
    assert vera.get("/ground/rows?table=nights").status_code == 404
    assert vera.get("/ground/rows").status_code == 400


def test_every_number_of_the_record_has_a_unit_or_is_a_ratio() -> None:
    from nightwater.ground.columns import Kind
    from nightwater.ground.tables import GROUND_TABLES, TABLES
    from nightwater.web.ground.table_rows import unit_of

    bare = {
        column.name
        for name in GROUND_TABLES
        for column in TABLES[name].columns
        if column.kind is Kind.NUMBER and unit_of(column) is None
    }
    assert bare == {
        "area_factor", "curve_number", "du_lq", "efficiency", "flow_exponent", "hazen_williams_c",
        "pump_efficiency", "motor_efficiency", "price_per_m3",
    }  # fmt: skip
    units = {c.name: unit_of(c) for name in GROUND_TABLES for c in TABLES[name].columns}
    assert (units["arc_deg"], units["slope_pct"], units["wetted_m2"]) == ("°", "%", "m²")
    assert (units["rotation_s"], units["available_water_mm_m"]) == ("s", "mm/m")
    assert (units["diameter_mm"], units["flow_l_s"], units["label"]) == ("mm", "L/s", None)


def test_rows_are_found_by_any_text(served: Any) -> None:
    vera = served.who("Vera")
    assert list(table(vera, find="f004")) == [HEAD]
    assert len(table(vera, find="n-small")) == 2
    assert set(table(vera, find="N-BIG 315")) == {"H-G1"}
    assert table(vera, find="nothing like it") == {}
    digest = table(vera)[HEAD]["digest"]
    assert table(vera, find=digest) == {}  # a mark is no text of the record


def test_a_digest_changes_with_its_row_alone(served: Any) -> None:
    ines = served.who("Ines")
    before = table(ines)
    send(ines, "/ground/edit", operations=arc(180), why="a")
    after = table(ines)
    assert {head for head in after if after[head]["digest"] != before[head]["digest"]} == {HEAD}
    send(ines, "/ground/edit", operations=arc(360), why="and back")
    assert table(ines)[HEAD]["digest"] == before[HEAD]["digest"]


def test_a_spot_says_which_heads_wet_it_and_how_much(served: Any) -> None:
    vera = served.who("Vera")
    shapes = vera.get("/map/shapes.json").json()
    head = next(one for one in shapes["heads"] if one["id"] == HEAD)
    found = vera.get(f"/ground/wets?x={head['x']}&y={head['y']}").json()
    first = found["heads"][0]
    assert (first["id"], first["label"], first["station"]) == (HEAD, HEAD, "S-F004")
    flow_l_s, radius_m = 27.5 * 3.785411784 / 60, 65 * 0.3048
    peak_mm_h = 3 * flow_l_s / (math.pi * radius_m**2) * 3600
    assert first["rate_mm_h"] == pytest.approx(peak_mm_h, rel=0.001)
    assert sum(one["rate_mm_h"] for one in found["heads"]) == pytest.approx(found["total_mm_h"])
    assert sum(one["share"] for one in found["heads"]) == pytest.approx(1.0)
    assert vera.get("/ground/wets?x=0&y=0").json() == {"heads": [], "total_mm_h": 0.0}
    assert vera.get("/ground/wets?x=nan&y=inf").json() == {"heads": [], "total_mm_h": 0.0}
    assert vera.get("/ground/wets?x=here&y=0").status_code == 400


def test_history_of_what_never_was_is_empty_or_told(served: Any) -> None:
    vera = served.who("Vera")
    assert vera.get("/ground/history?subject=heads:none").json() == {"revisions": []}
    assert vera.get("/ground/history?subject=nights:1").status_code == 400
