"""What guards every page: headers, cross-site writes, form tokens, sizes."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.routing import APIRoute
from starlette.datastructures import Headers

from nightwater.web.app import ROUTERS
from nightwater.web.json_answers import JsonRoute
from nightwater.web.security import MOST_BODY_BYTES, is_cross_site

POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' data: blob:",
    "connect-src": "'self'",
    "worker-src": "'self'",
    "form-action": "'self'",
    "base-uri": "'none'",
    "frame-ancestors": "'none'",
}
PAGES = ("/tonight", "/morning", "/ground", "/ledger", "/people", "/login", "/nowhere")


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_carries_the_strict_policy_and_is_not_kept(served: Any, path: str) -> None:
    answer = served.who("Pilar").get(path)
    parts = dict(p.split(" ", 1) for p in answer.headers["content-security-policy"].split("; "))
    assert parts == POLICY
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["x-frame-options"] == "DENY"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize("path", PAGES)
def test_no_page_needs_what_the_policy_forbids(served: Any, path: str) -> None:
    text = served.who("Pilar").get(path).text
    assert re.search(r"<script(?![^>]*\bsrc=)", text) is None
    assert re.search(r"\sstyle=|<style|\son\w+=|javascript:", text) is None
    outside = re.findall(r'(?:src|href)="(https?://[^"]*)"', text)
    assert outside == []


@pytest.mark.parametrize(
    ("headers", "cross"),
    [
        ({"sec-fetch-site": "same-origin"}, False),
        ({"sec-fetch-site": "none"}, False),
        ({"sec-fetch-site": "same-site"}, True),
        ({"sec-fetch-site": "cross-site"}, True),
        ({"sec-fetch-site": "cross-site", "origin": "http://here"}, True),
        ({"origin": "http://here"}, False),
        ({"origin": "http://elsewhere"}, True),
        ({"origin": "http://here:81"}, True),
        ({"origin": "null"}, True),
        ({}, True),
    ],
)
def test_where_a_write_comes_from(headers: dict[str, str], cross: bool) -> None:
    assert is_cross_site(Headers({"host": "here", **headers})) is cross


@pytest.mark.parametrize("path", ["/login", "/tonight/plan", "/tonight/approve", "/people/invite"])
def test_a_write_from_another_site_is_refused_even_with_a_good_token(
    served: Any, path: str
) -> None:
    answer = served.who("Ines").post(path, headers={"sec-fetch-site": "cross-site"}, night="x")
    assert answer.status_code == 403
    assert "another site" in answer.text


@pytest.mark.parametrize("token", ["", "nonsense", None])
def test_a_form_needs_the_token_of_its_own_session(served: Any, token: str | None) -> None:
    ines = served.who("Ines")
    if token is None:
        token = served.who("Pilar").token()
    answer = ines.post("/tonight/plan", token=token, night="2026-07-14")
    assert answer.status_code == 403
    assert "Load the page again" in answer.text


def test_the_token_does_not_give_the_cookie_away(served: Any) -> None:
    import base64

    from nightwater.web.access.sessions import SESSION_COOKIE

    ines = served.who("Ines")
    cookie = ines.client.cookies.get(SESSION_COOKIE)
    body = ines.token().split(".")[0]
    told = base64.urlsafe_b64decode(body + "=" * (-len(body) % 4)).decode()
    assert cookie not in told


def test_a_body_is_counted_while_it_is_read(served: Any) -> None:
    ines = served.who("Ines")
    name = "x" * MOST_BODY_BYTES
    answer = ines.post("/people/invite", name=name, role="viewer")
    assert answer.status_code == 413

    def pieces() -> Any:
        for _ in range(80):
            yield b"name=" + b"x" * 1000

    headers = {
        "sec-fetch-site": "same-origin",
        "content-type": "application/x-www-form-urlencoded",
    }
    answer = ines.client.post("/people/invite", content=pieces(), headers=headers)
    assert answer.status_code == 413
    fits = ines.post("/people/invite", name="y" * 1000, role="viewer")
    assert fits.status_code == 400  # read, and too long for a name


@pytest.mark.parametrize(
    "name", ["../app.py", "..%2fapp.py", "manifest.json", "digest", "nothing.js"]
)
def test_only_what_was_built_is_served(served: Any, name: str) -> None:
    assert served.stranger().get(f"/static/{name}").status_code == 404


def test_what_was_built_may_be_kept(served: Any) -> None:
    from nightwater.web.assets import manifest

    answer = served.stranger().get(f"/static/{manifest()['style.css']}")
    assert answer.status_code == 200
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-type"].startswith("text/css")


OPEN_TO_ALL = {"/login", "/healthz", "/static/{name}", "/welcome/{link}"}
GUARDED = {
    route.path: isinstance(route, JsonRoute)
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute) and "GET" in route.methods and route.path not in OPEN_TO_ALL
}
READING = sorted(path for path, is_script in GUARDED.items() if not is_script)
ASKED_BY_SCRIPT = sorted(path for path, is_script in GUARDED.items() if is_script)


def test_there_are_pages_to_guard() -> None:
    assert len(READING) >= 15


@pytest.mark.parametrize("path", READING)
def test_no_page_of_the_course_is_shown_to_a_stranger(served: Any, path: str) -> None:
    address = path.replace("{form}", "pdf")
    answer = served.stranger().get(f"{address}?night=2026-07-14&subject=x")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/login")


@pytest.mark.parametrize("path", ASKED_BY_SCRIPT)
def test_a_strangers_script_is_told_in_json(served: Any, path: str) -> None:
    answer = served.stranger().get(f"{path}?subject=heads:x&table=heads&x=0&y=0")
    assert answer.status_code == 401
    assert list(answer.json()) == ["message"]
