"""Ines makes the first account; people log in and out; guessers are slowed down."""

from __future__ import annotations

import stat
from typing import Any

import pytest

from nightwater.web.app import first_owner_link

PASSWORD = "dry fairway seven"


def test_the_first_start_gives_a_link_that_works_once(served_fresh: Any) -> None:
    link = first_owner_link(served_fresh.app)
    ines = served_fresh.stranger()
    assert "Make the owner’s account" in ines.get(link).text
    assert ines.get(link).status_code == 200  # looking does not use it up
    answer = ines.post(link, name="Ines", password=PASSWORD)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert ines.get("/people").status_code == 200
    late = served_fresh.stranger()
    assert late.get(link).status_code == 404
    assert late.post(link, name="Mallory", password=PASSWORD).status_code == 404
    assert first_owner_link(served_fresh.app) is None


def test_the_link_grows_old_and_a_new_one_ends_it(served_fresh: Any) -> None:
    first = first_owner_link(served_fresh.app)
    second = first_owner_link(served_fresh.app)
    visitor = served_fresh.stranger()
    assert visitor.get(first).status_code == 404
    served_fresh.clock.go_on(hours=24)
    assert visitor.get(second).status_code == 404


@pytest.mark.parametrize(
    ("name", "password", "words"),
    [
        ("Ines", "short", "at least 10"),
        ("  ", PASSWORD, "name is empty"),
        ("x" * 61, PASSWORD, "61"),
    ],
)
def test_a_mistake_on_the_welcome_page_does_not_use_the_link_up(
    served_fresh: Any, name: str, password: str, words: str
) -> None:
    link = first_owner_link(served_fresh.app)
    visitor = served_fresh.stranger()
    answer = visitor.post(link, name=name, password=password)
    assert answer.status_code == 400
    assert words in answer.text
    assert visitor.post(link, name="Ines", password=PASSWORD).status_code == 303


def test_accounts_lie_beside_the_course_and_only_the_owner_of_the_file_reads_them(
    served: Any,
) -> None:
    access = served.path.with_name("small.gpkg.access.sqlite")
    assert stat.S_IMODE(access.stat().st_mode) == 0o600
    assert PASSWORD.encode() not in access.read_bytes()
    assert b"argon2" not in served.path.read_bytes()


def test_pilar_logs_in_and_comes_to_the_page_she_wanted(served: Any) -> None:
    pilar = served.stranger()
    sent = pilar.get("/tonight?night=2026-07-14")
    assert sent.status_code == 303
    login = pilar.get(sent.headers["location"])
    assert 'value="/tonight?night=2026-07-14"' in login.text
    answer = pilar.post(
        "/login", name=" pilar ", password=PASSWORD, wanted="/tonight?night=2026-07-14"
    )
    assert answer.headers["location"] == "/tonight?night=2026-07-14"
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "max-age=1209600" in cookie
    assert pilar.get("/tonight").status_code == 200


@pytest.mark.parametrize("wanted", ["//evil.test/", "https://evil.test/x", "/\\evil.test"])
def test_nobody_is_sent_to_another_site_after_login(served: Any, wanted: str) -> None:
    answer = served.stranger().post("/login", name="Pilar", password=PASSWORD, wanted=wanted)
    assert answer.status_code == 303
    assert "evil" not in answer.headers["location"].split("/")[:3]
    assert answer.headers["location"].startswith("/")
    assert not answer.headers["location"].startswith(("//", "/\\"))


@pytest.mark.parametrize("name", ["Pilar", "Nobody", ""])
def test_a_wrong_password_says_not_which_half_is_wrong(served: Any, name: str) -> None:
    answer = served.stranger().post("/login", name=name, password="wrong wrong wrong")
    assert answer.status_code == 400
    assert "do not belong together" in answer.text
    assert "set-cookie" not in answer.headers


def test_five_wrong_passwords_close_the_door_for_a_quarter_of_an_hour(served: Any) -> None:
    guesser = served.stranger()
    for _ in range(5):
        assert guesser.post("/login", name="Pilar", password="guess guess guess").status_code == 400
    answer = guesser.post("/login", name="PILAR", password=PASSWORD)
    assert answer.status_code == 429
    assert "15 minutes" in answer.text
    assert guesser.post("/login", name="Vera", password=PASSWORD).status_code == 303
    served.clock.go_on(minutes=16)
    assert guesser.post("/login", name="Pilar", password=PASSWORD).status_code == 303


def test_a_right_password_clears_the_count(served: Any) -> None:
    pilar = served.stranger()
    for _ in range(2):
        for _ in range(4):
            pilar.post("/login", name="Pilar", password="guess guess guess")
        assert pilar.post("/login", name="Pilar", password=PASSWORD).status_code == 303


def test_many_names_from_one_address_are_guessing_too(served: Any) -> None:
    guesser = served.stranger()
    for number in range(25):
        guesser.post("/login", name=f"name {number}", password="guess guess guess")
    assert guesser.post("/login", name="Vera", password=PASSWORD).status_code == 429


def test_logging_out_ends_the_session_on_the_server(served: Any) -> None:
    pilar = served.who("Pilar")
    cookie = dict(pilar.client.cookies)
    assert pilar.get("/tonight").status_code == 200
    assert pilar.post("/logout").headers["location"] == "/login"
    thief = served.stranger()
    thief.client.cookies.update(cookie)
    assert thief.get("/tonight").status_code == 303


def test_a_session_ends_after_two_weeks(served: Any) -> None:
    pilar = served.who("Pilar")
    served.clock.go_on(days=13, hours=23)
    assert pilar.get("/tonight").status_code == 200
    served.clock.go_on(hours=2)
    assert pilar.get("/tonight").status_code == 303


def test_a_forged_cookie_is_nobody(served: Any) -> None:
    from nightwater.web.access.sessions import SESSION_COOKIE

    visitor = served.stranger()
    visitor.client.cookies.set(SESSION_COOKIE, "IkluZXMi.forged")
    assert visitor.get("/tonight").status_code == 303


def test_a_fragment_asked_for_without_login_sends_the_whole_page_to_the_login(served: Any) -> None:
    answer = served.stranger().get("/tonight", headers={"HX-Request": "true"})
    assert answer.headers["hx-redirect"] == "/login"


def test_secure_cookies_where_the_pages_come_over_https(small_course: Any) -> None:
    from datetime import UTC, date, datetime

    from fastapi.testclient import TestClient

    from nightwater.web.access.sessions import form_token
    from nightwater.web.app import create_app

    app = create_app(
        small_course,
        now=lambda: datetime(2026, 7, 14, 21, tzinfo=UTC),
        today=lambda: date(2026, 7, 14),
        secure_cookies=True,
    )
    token = form_token(app.state.server.access, None)
    answer = TestClient(app, follow_redirects=False).post(
        first_owner_link(app) or "",
        data={"name": "Ines", "password": PASSWORD, "token": token},
        headers={"sec-fetch-site": "same-origin"},
    )
    assert "secure" in answer.headers["set-cookie"].lower()
