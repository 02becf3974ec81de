"""Tomas holds a hole for a wedding; Pilar reads it; Ines ends it early."""

from __future__ import annotations

import re
from typing import Any

import pytest

WHEN = {"start": "2026-07-14T18:00", "end": "2026-07-15T09:00"}


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def hold(served: Any, who: str = "Tomas", **more: str) -> Any:
    form = {"scope": "hole", "name": "1", "cause": "event", "reason": "wedding", **WHEN, **more}
    return served.who(who).post("/holds/add", **form)


def kept(served: Any) -> list[dict[str, Any]]:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        rows: list[dict[str, Any]] = course.file.running("holds").reset_index().to_dict("records")
    return rows


@pytest.mark.parametrize(
    ("form", "subject"),
    [
        ({}, "holes:H1"),
        ({"scope": "course", "name": ""}, "course"),
        ({"scope": "kind", "name": "green"}, "kind:green"),
        ({"scope": "area", "name": "A-F"}, "areas:A-F"),
        ({"scope": "station", "name": "G0"}, "stations:S-G0"),
    ],
)
def test_each_scope_is_kept(served: Any, form: dict[str, str], subject: str) -> None:
    assert hold(served, **form).status_code == 303
    assert [(row["subject"], row["author"]) for row in kept(served)] == [(subject, "Tomas")]


def test_a_radius_is_read_in_the_readers_unit(served: Any) -> None:
    assert hold(served, scope="around", name="H-G0", radius="100").status_code == 303
    (row,) = kept(served)
    assert row["subject"].startswith("point:")
    assert row["subject"].endswith(",30.5")  # 100 ft are 30.48 m


@pytest.mark.parametrize(
    ("form", "message"),
    [
        ({"name": ""}, "Say which"),
        ({"name": "9"}, "no row"),
        ({"scope": "moon"}, "nothing that can be held"),
        ({"scope": "around", "name": "H-G0", "radius": "far"}, "is no radius"),
        ({"end": WHEN["start"]}, "not after"),
        ({"cause": "party"}, "no cause"),
    ],
)
def test_what_cannot_be_held_is_told(served: Any, form: dict[str, str], message: str) -> None:
    answer = hold(served, **form)
    assert answer.status_code == 400
    assert message in answer.text
    assert kept(served) == []


def test_the_list_tells_end_author_and_what_is_owed(served: Any) -> None:
    hold(served)
    served.who("Tomas").post("/tonight/plan", night="2026-07-14")
    page = words(served.who("Pilar").get("/holds").text)
    assert "hole 1 event coming: wedding" in page
    assert "14 Jul 2026, 18:00 – 15 Jul 2026, 09:00, by Tomas" in page
    assert re.search(r"Tonight \d+ stations, [\d,]+ min, [1-9][\d,]* gal kept back", page)
    assert "It stays owed" in page
    assert "Only an owner or a planner may hold water back" in page
    tonight = words(served.who("Pilar").get("/tonight").text)
    assert re.search(r"1 hold standing; tonight [1-9][\d,]* gal kept back", tonight)


def test_a_hold_ends_by_itself(served: Any) -> None:
    hold(served)
    served.clock.go_on(hours=24)
    page = words(served.who("Vera").get("/holds").text)
    assert "No hold stands." in page
    assert "hole 1 event over: wedding" in page


def test_ending_early_keeps_who_and_why(served: Any) -> None:
    hold(served)
    (row,) = kept(served)
    answer = served.who("Ines").post("/holds/end", hold=row["id"], why="called off")
    assert answer.status_code == 303
    page = words(served.who("Vera").get("/holds").text)
    assert (
        "Ended by Ines, 2026-07-14 15:00 (it was to last until 2026-07-15 09:00): called off"
        in (page)
    )
    assert served.who("Ines").post("/holds/end", hold=row["id"], why="again").status_code == 400
    assert served.who("Ines").post("/holds/end", hold="none", why="x").status_code == 404


@pytest.mark.parametrize("who", ["Pilar", "Vera"])
def test_crew_and_viewers_hold_nothing(served: Any, who: str) -> None:
    assert hold(served, who).status_code == 403
    assert kept(served) == []
