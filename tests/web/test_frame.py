"""The way in, day and night, health, and errors in words."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

import pytest

from nightwater.web.frame.routes import own_path, page_of_the_hour


@pytest.mark.parametrize(
    ("hour_utc", "page"),
    [(9, "/morning"), (8, "/tonight"), (16, "/morning"), (17, "/tonight"), (2, "/tonight")],
)
def test_the_page_of_the_hour_follows_the_courses_clock(hour_utc: int, page: str) -> None:
    moment = datetime(2026, 7, 14, hour_utc, tzinfo=UTC)  # Denver is six hours behind
    assert page_of_the_hour(moment, "America/Denver") == page


def test_the_start_leads_to_the_page_of_the_hour(served: Any) -> None:
    pilar = served.who("Pilar")
    assert pilar.get("/").headers["location"] == "/tonight"
    served.clock.go_on(hours=14)  # five in the morning
    assert pilar.get("/").headers["location"] == "/morning"


def test_health_needs_no_login_and_tells_nothing(served: Any) -> None:
    answer = served.stranger().get("/healthz")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})
    served.path.unlink()
    assert served.stranger().get("/healthz").status_code == 503


def test_day_and_night_are_kept_in_a_cookie(served: Any) -> None:
    pilar = served.who("Pilar")
    as_device = pilar.get("/tonight").text
    assert "data-theme" not in as_device.split("<head>")[0]
    assert as_device.count('media="(prefers-color-scheme: dark)"') == 1
    headers = {"sec-fetch-site": "same-origin", "referer": "http://testserver/tonight?q=green"}
    answer = pilar.post("/choose/theme", headers=headers, value="dark")
    assert answer.headers["location"] == "/tonight?q=green"
    page = pilar.get("/tonight").text
    assert '<html lang="en" data-theme="dark">' in page
    assert 'value="dark" aria-pressed="true"' in page
    assert re.search(r'href="/static/dark-\w+\.css">', page)
    pilar.post("/choose/theme", value="purple")
    assert 'data-theme="dark"' in pilar.get("/tonight").text


def test_each_reader_chooses_units_for_the_device(served: Any) -> None:
    pilar, ines = served.who("Pilar"), served.who("Ines")
    assert " gpm" in pilar.get("/tonight").text
    pilar.post("/choose/units", value="metric")
    page = pilar.get("/tonight").text
    assert 'value="metric" aria-pressed="true"' in page
    assert " L/s" in page
    assert " gpm" not in re.sub(r'<section id="findings".*?</section>', "", page, flags=re.S)
    assert "L/s" in pilar.get("/tonight/flow.json?night=2026-07-14").text
    assert " gpm" in ines.get("/tonight").text
    assert pilar.post("/choose/weight", value="kg").status_code == 404


@pytest.mark.parametrize(
    ("address", "path"),
    [
        ("http://testserver/tonight?q=1", "/tonight?q=1"),
        ("https://evil.test/tonight", "/tonight"),
        ("//evil.test//x", "/"),
        ("http://testserver//evil.test", "/"),
        ("javascript:alert(1)", "/"),
        (None, "/"),
        ("", "/"),
    ],
)
def test_ways_back_stay_on_this_server(address: str | None, path: str) -> None:
    assert own_path(address) == path


def test_every_page_can_be_reached_from_every_page_by_keyboard(served: Any) -> None:
    for path in ("/tonight", "/morning", "/ground", "/ledger", "/people"):
        page = served.who("Pilar").get(path).text
        assert '<a class="skip" href="#content">' in page
        assert '<main id="content"' in page
        assert page.count('aria-current="page"') == 1
        assert re.search(rf'href="{path}(\?night=[\d-]+)?" aria-current="page"', page)
        assert page.count("<h1") == 1


def test_the_caution_stands_on_every_page(served: Any) -> None:
    for path in ("/tonight", "/morning", "/ground", "/ledger", "/people", "/nowhere"):
        assert "water starts only after a person confirms" in served.who("Pilar").get(path).text


def test_a_demo_says_on_every_page_that_it_is_invented(served: Any, as_demo: Any) -> None:
    assert "invented" not in served.who("Pilar").get("/tonight").text
    as_demo(served)
    for path in ("/tonight", "/ground", "/ledger"):
        assert "is an invented club" in served.who("Pilar").get(path).text


def test_a_page_that_does_not_exist_is_told_in_words(served: Any) -> None:
    answer = served.who("Pilar").get("/nowhere")
    assert answer.status_code == 404
    assert "There is no such page." in answer.text
    assert served.who("Pilar").post("/ledger").status_code == 405


def test_a_bug_is_logged_under_the_number_that_the_page_shows(
    served: Any, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr("nightwater.web.ledger.routes.night_book", broken)
    answer = served.who("Pilar").get("/ledger")
    assert answer.status_code == 500
    assert "secret detail" not in answer.text
    number = re.search(r"The log has it under (\w{6})\.", answer.text)
    assert number is not None
    assert f"bug {number.group(1)} at /ledger" in caplog.text
    assert "content-security-policy" in answer.headers


def test_each_kind_of_mistake_has_its_status() -> None:
    from nightwater.findings import ConflictError, NotAllowedError, NotFoundError, UserError
    from nightwater.web.access.attempts import TooManyAttemptsError
    from nightwater.web.account.routes import WrongPasswordError
    from nightwater.web.errors import status_of

    wanted = {
        UserError: 400,
        NotAllowedError: 403,
        NotFoundError: 404,
        ConflictError: 409,
        TooManyAttemptsError: 429,
        WrongPasswordError: 400,
    }
    assert {kind: status_of(kind("x")) for kind in wanted} == wanted
