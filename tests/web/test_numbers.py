"""Tomas looks at what other number rules would change, and renumbers."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

OWN = json.dumps({"pattern": "{kind}{number}/{hole}"})


def labels(served: Any) -> dict[str, Any]:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return {str(key): value for key, value in course.ground.heads["label"].items()}


def test_the_page_shows_the_rules_kept_and_what_they_would_change(served: Any) -> None:
    page = served.who("Tomas").get("/numbers").text
    assert re.search(r"<textarea[^>]*>\{\}</textarea>", page)
    assert "would change" in page or "follows these rules already" in page


def test_a_preview_saves_nothing(served: Any) -> None:
    before = labels(served)
    page = served.who("Tomas").post("/numbers/preview", rules=OWN).text
    assert re.search(r"<b>F0?\d+/01</b>", page)
    assert labels(served) == before
    assert re.search(r"<textarea[^>]*>\{\}</textarea>", served.who("Tomas").get("/numbers").text)


@pytest.mark.parametrize(
    ("rules", "sentence"),
    [
        ("{", "not JSON"),
        ("[1]", "in braces"),
        ('{"patern": "x"}', "pattern"),
        ('{"kinds": {"fairwy": {}}}', "fairway"),
    ],
)
def test_wrong_rules_are_told_and_stay_in_the_box(served: Any, rules: str, sentence: str) -> None:
    answer = served.who("Tomas").post("/numbers/preview", rules=rules)
    assert answer.status_code == 200
    assert 'role="alert"' in answer.text
    assert sentence in answer.text
    before = labels(served)
    assert served.who("Tomas").post("/numbers/accept", rules=rules).status_code == 400
    assert labels(served) == before


def test_renumbering_keeps_ids_and_the_rules(served: Any) -> None:
    before = labels(served)
    answer = served.who("Tomas").post("/numbers/accept", rules=OWN)
    assert answer.status_code == 303
    after = labels(served)
    assert set(after) == set(before)
    assert all(re.fullmatch(r"[A-Z]\d+/\w+", str(label)) for label in after.values())
    page = served.who("Tomas").get("/numbers").text
    assert "{kind}{number}/{hole}" in page
    assert "follows these rules already" in page


def test_one_hole_alone_is_renumbered(served: Any) -> None:
    before = labels(served)
    assert served.who("Tomas").post("/numbers/accept", rules=OWN, hole="99").status_code == 303
    assert labels(served) == before
    assert served.who("Tomas").post("/numbers/accept", rules=OWN, hole="1").status_code == 303
    assert labels(served) != before


def test_the_map_says_each_label_by_the_rules_in_the_box(served: Any) -> None:
    tomas = served.who("Tomas")
    page = tomas.post("/numbers/preview", rules=OWN).text
    address = re.search(r'values="(/numbers/values\.json[^"]*)"', page)
    assert address is not None
    found = tomas.get(address.group(1).replace("&amp;", "&")).json()
    assert re.match(r"F0?\d+/01 \(now ", found["texts"]["heads:H-F004"])
    assert found["shown"]["labels"]["stations"]["S-F004"] == "amber"
    assert re.fullmatch(r"F0?\d+/01", found["labels"]["H-F004"])  # written beside the one now
    kept = tomas.get("/numbers/values.json").json()
    stay = {key for key, text in kept["texts"].items() if "(now" not in text}
    assert {f"heads:{head}" for head in kept["labels"]} == set(kept["texts"]) - stay
    assert set(kept["texts"]) == set(found["texts"])
    assert tomas.get("/numbers/values.json?rules=%7B").status_code == 400


def test_others_may_look_but_not_renumber(served: Any) -> None:
    page = served.who("Pilar").get("/numbers").text
    assert "may change the record; your role is crew" in page
    assert served.who("Pilar").post("/numbers/preview", rules=OWN).status_code == 200
    before = labels(served)
    assert served.who("Pilar").post("/numbers/accept", rules=OWN).status_code == 403
    assert labels(served) == before
