"""Ines invites; others read the list and learn why they may not."""

from __future__ import annotations

import re
from typing import Any

import pytest

PASSWORD = "wet greens at dawn"


def invitation(page: str) -> str:
    found = re.search(r"/welcome/[\w-]+", page)
    assert found is not None
    return found.group()


def person_id(served: Any, name: str) -> str:
    from nightwater.web.access.people import people

    return next(p.id for p in people(served.app.state.server.access) if p.name == name)


def test_ines_invites_lena_who_sets_her_password_and_plans(served: Any) -> None:
    page = served.who("Ines").post("/people/invite", name="Lena", role="planner")
    assert page.status_code == 200
    lena = served.stranger()
    link = invitation(page.text)
    assert "Welcome, Lena" in lena.get(link).text
    assert lena.post(link, name="somebody else", password=PASSWORD).status_code == 303
    text = lena.get("/tonight").text
    assert "Lena" in text
    assert "somebody else" not in text
    assert lena.get(link).status_code == 404


@pytest.mark.parametrize("name", ["Tomas", "Pilar", "Vera"])
def test_others_see_everybody_and_read_why_they_may_not_invite(served: Any, name: str) -> None:
    page = served.who(name).get("/people").text
    assert "Ines" in page
    assert "Only an owner may invite people" in page
    assert "/people/invite" not in page
    for path in ("invite", "role", "remove", "link"):
        answer = served.who(name).post(f"/people/{path}", name="X", who="x", role="owner")
        assert answer.status_code == 403
        assert "Only an owner" in answer.text


def test_a_name_is_taken_once_however_it_is_written(served: Any) -> None:
    answer = served.who("Ines").post("/people/invite", name="pilar", role="viewer")
    assert answer.status_code == 409


def test_a_new_link_lets_pilar_choose_another_password_and_ends_her_sessions(served: Any) -> None:
    pilar = served.who("Pilar")
    page = served.who("Ines").post("/people/link", who=person_id(served, "Pilar"))
    assert pilar.get("/tonight").status_code == 200  # until she uses it
    served.stranger().post(invitation(page.text), password=PASSWORD)
    assert pilar.get("/tonight").status_code == 303
    assert served.stranger().post("/login", name="Pilar", password=PASSWORD).status_code == 303


def test_a_changed_role_counts_at_once(served: Any) -> None:
    vera = served.who("Vera")
    assert vera.post("/tonight/plan", night="2026-07-14").status_code == 403
    served.who("Ines").post("/people/role", who=person_id(served, "Vera"), role="planner")
    assert vera.post("/tonight/plan", night="2026-07-14").status_code == 303


def test_somebody_removed_is_out_at_once(served: Any) -> None:
    vera = served.who("Vera")
    served.who("Ines").post("/people/remove", who=person_id(served, "Vera"))
    assert vera.get("/tonight").status_code == 303
    assert "Vera" not in served.who("Ines").get("/people").text


def test_the_last_owner_stays(served: Any) -> None:
    ines = served.who("Ines")
    own = person_id(served, "Ines")
    assert ines.post("/people/remove", who=own).status_code == 400
    answer = ines.post("/people/role", who=own, role="viewer")
    assert answer.status_code == 400
    assert "only owner" in answer.text
    ines.post("/people/role", who=person_id(served, "Tomas"), role="owner")
    assert ines.post("/people/role", who=own, role="viewer").status_code == 303


def test_an_unknown_role_or_person_is_refused(served: Any) -> None:
    ines = served.who("Ines")
    assert ines.post("/people/invite", name="Lena", role="king").status_code == 400
    assert ines.post("/people/role", who="nobody", role="viewer").status_code == 404
