"""Tomas asks which repairs pay, tries one on paper, and makes it the record."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image

NIGHT = "2026-07-14"
PART = {"hx-request": "true", "hx-request-type": "partial"}


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def first_head(served: Any) -> str:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return str(course.ground.heads.index[course.ground.heads["nozzle"].notna()][0])


def head_row(served: Any, head: str) -> Any:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return course.kept.heads.loc[head]


@pytest.fixture
def head(served: Any) -> str:
    return first_head(served)


class TestRepairs:
    def test_the_page_ranks_repairs_and_tells_of_dry_spots(self, served: Any) -> None:
        page = served.who("Pilar").get(f"/coverage/fixes?night={NIGHT}")
        assert page.status_code == 200
        told = words(page.text)
        assert "What repairs would save" in told
        assert "A season is 100 nights" in told
        assert "Dry spots" in told

    def test_a_low_head_is_listed_with_a_way_to_try(self, served: Any, head: str) -> None:
        tomas = served.who("Tomas")
        tomas.get("/coverage")  # the matrix is kept; the record changes under it
        from nightwater.desk import editing
        from nightwater.desk.course import open_course

        change = {"op": "set", "table": "heads", "ids": [head], "values": {"condition": "low"}}
        with open_course(served.path) as course:
            editing.save(course, [change], {}, who="Tomas", why="seen", now=served.clock())
        page = tomas.get(f"/coverage/fixes?night={NIGHT}").text
        assert "Raise the head" in page
        assert f"head={head}" in page
        assert "level=1" in page
        assert "taken to throw 85%" in words(page)

    def test_coverage_leads_there(self, served: Any) -> None:
        page = served.who("Pilar").get(f"/coverage?night={NIGHT}").text
        assert f'href="/coverage/fixes?night={NIGHT}"' in page
        assert 'action="/coverage/try"' in page

    def test_a_night_that_is_not_planned_is_the_latest_one(self, served: Any) -> None:
        page = served.who("Pilar").get("/coverage/fixes?night=2031-01-01").text
        assert f"night={NIGHT}" in page


class TestTry:
    def test_numbers_before_and_after(self, served: Any, head: str) -> None:
        pilar = served.who("Pilar")
        page = pilar.get(f"/coverage/try?night={NIGHT}&head={head}&radius=20&unit=us").text
        told = words(page)
        for name in ("DUlq", "CU", "Mean rate", "Gets its need", "Water at equal shortage"):
            assert name in told
        assert 'src="/coverage/try/before.png?' in page
        assert "no water starts" in told

    def test_without_a_change_nothing_is_computed(self, served: Any, head: str) -> None:
        page = words(served.who("Pilar").get(f"/coverage/try?head={head}").text)
        assert "Change something" in page
        assert "DUlq" not in page

    def test_a_part_for_script(self, served: Any, head: str) -> None:
        part = served.who("Pilar").get(f"/coverage/try?head={head}&level=1&add=1", headers=PART)
        assert "<html" not in part.text
        assert "before and after" in part.text

    def test_what_may_not_stand_is_told_in_a_sentence(self, served: Any, head: str) -> None:
        page = served.who("Pilar").get(f"/coverage/try?head={head}&arc=4").text
        assert 'role="alert"' in page
        assert "arc_deg" in page

    def test_fields_that_a_form_sends_empty_are_left_as_they_are(
        self, served: Any, head: str
    ) -> None:
        empty = "nozzle=&arc=&bearing=&radius=10&pressure=&east=&north="
        page = served.who("Pilar").get(f"/coverage/try?head={head}&unit=metric&{empty}")
        assert page.status_code == 200
        assert "before and after" in page.text

    def test_a_throw_without_end_is_refused(self, served: Any, head: str) -> None:
        answer = served.who("Pilar").get(f"/coverage/try?head={head}&radius=inf")
        assert 400 <= answer.status_code < 500

    def test_an_unknown_head(self, served: Any) -> None:
        assert served.who("Pilar").get("/coverage/try?head=nobody").status_code == 404

    def test_units_of_the_form_are_those_of_the_address(self, served: Any, head: str) -> None:
        pilar = served.who("Pilar")
        feet = pilar.get(f"/coverage/try?head={head}&radius=32.808398950131235&unit=us").text
        metres = pilar.get(f"/coverage/try?head={head}&radius=10&unit=metric").text
        pick = re.compile(r"<tbody>.*?</tbody>", re.S)
        assert pick.search(feet).group() == pick.search(metres).group()  # type: ignore[union-attr]

    def test_pictures_differ_where_the_water_does(self, served: Any, head: str) -> None:
        pilar = served.who("Pilar")
        asked = f"night={NIGHT}&head={head}&radius=3&unit=metric"
        before, after = (
            np.asarray(
                Image.open(io.BytesIO(pilar.get(f"/coverage/try/{side}.png?{asked}").content))
            )
            for side in ("before", "after")
        )
        assert before.shape == after.shape
        assert (before != after).any()


class TestKeep:
    def test_it_becomes_one_revision_with_the_reason(self, served: Any, head: str) -> None:
        tomas = served.who("Tomas")
        address = f"/coverage/try?head={head}&radius=10&unit=metric"
        answer = tomas.post("/coverage/try/keep", address=address, why="measured on the 12th")
        assert (answer.status_code, answer.headers["location"]) == (303, "/history")
        assert head_row(served, head)["measured_radius_m"] == pytest.approx(10.0)
        assert "measured on the 12th" in tomas.get("/history").text

    def test_trying_alone_changes_nothing(self, served: Any, head: str) -> None:
        before = head_row(served, head)
        served.who("Tomas").get(f"/coverage/try?head={head}&radius=10&unit=metric")
        assert head_row(served, head).drop("geometry").equals(before.drop("geometry"))

    def test_crew_may_try_and_not_keep(self, served: Any, head: str) -> None:
        pilar = served.who("Pilar")
        address = f"/coverage/try?head={head}&radius=10&unit=metric"
        assert "disabled" in pilar.get(address).text
        assert pilar.post("/coverage/try/keep", address=address, why="x").status_code == 403

    def test_a_reason_is_needed(self, served: Any, head: str) -> None:
        address = f"/coverage/try?head={head}&radius=10&unit=metric"
        answer = served.who("Tomas").post("/coverage/try/keep", address=address, why=" ")
        assert answer.status_code == 400
        assert np.isnan(head_row(served, head)["measured_radius_m"])

    def test_who_was_first_is_told(self, served: Any, head: str) -> None:
        tomas, ines = served.who("Tomas"), served.who("Ines")
        address = f"/coverage/try?head={head}&radius=10&unit=metric"
        seen = re.search(r'name="seen" value="([^"]+)"', tomas.get(address).text)
        assert seen is not None
        ines.post("/coverage/try/keep", address=address.replace("10", "11"), why="first")
        late = tomas.post("/coverage/try/keep", address=address, why="second", seen=seen.group(1))
        assert late.status_code == 409
        assert head_row(served, head)["measured_radius_m"] == pytest.approx(11.0)


def test_words_for_every_cause_of_the_settings() -> None:
    from nightwater.ground.settings import FixRules
    from nightwater.web.coverage.dry_view import REPAIRS, WORDS

    assert set(FixRules().hours) == set(REPAIRS)
    assert set(REPAIRS) <= set(WORDS)
    assert replace(FixRules(), hours={}).hours == {}
