"""A break at five in the morning: from the pipe's sheet to the valves, at desk and by thumb."""

from __future__ import annotations

import re
from typing import Any

import pytest

from .conftest import SHOTS, Watched

pytestmark = pytest.mark.browser
LOOKS = pytest.mark.parametrize(
    "watched",
    [
        {"viewport": {"width": 1440, "height": 900}},
        {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True},
    ],
    ids=["1440", "390 touch"],
    indirect=True,
)


def fits(page: Any) -> bool:
    wide = page.evaluate("document.documentElement.scrollWidth")
    return bool(wide <= page.viewport_size["width"])


def shot(page: Any, name: str) -> None:
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=str(SHOTS / f"{name}-{page.viewport_size['width']}.png"), full_page=True)


@LOOKS
def test_break_here_leads_from_the_pipe_to_its_valves(watched: Watched) -> None:
    page = watched.page
    watched.open("/ground?subject=pipes:P0008&pipes=1")
    sheet = page.locator("article.subject")
    assert "A sudden stop at that limit adds up to" in sheet.inner_text()
    sheet.get_by_role("link", name="Break here").click()
    page.wait_for_selector("shut-off-map[ready]")
    lead = page.locator(".lead").inner_text()
    assert re.search(r"Close V-35\.", lead)
    assert "then have no water" in lead
    assert "injures" in page.locator(".caution.box").inner_text()
    assert fits(page)
    page.wait_for_timeout(500)
    shot(page, "shut-off")
    assert watched.complaints == []


@LOOKS
def test_a_valve_that_does_not_close_is_passed_over(watched: Watched) -> None:
    page = watched.page
    watched.open("/ground/shut-off?at=pipes:P0008")
    page.get_by_role("link", name="does not close").first.click()
    page.wait_for_selector("shut-off-map[ready]")
    assert "V-35" not in page.locator(".lead").inner_text()
    assert "Passed over, as not closing: V-35" in page.locator("body").inner_text()
    page.get_by_role("link", name="They do close").click()
    page.wait_for_selector("shut-off-map[ready]")
    assert "Close V-35." in page.locator(".lead").inner_text()
    assert watched.complaints == []


@LOOKS
def test_a_tap_on_a_pipe_moves_the_break(watched: Watched) -> None:
    page = watched.page
    watched.open("/ground/shut-off?at=pipes:P0018")
    page.wait_for_selector("shut-off-map[ready]")
    page.wait_for_timeout(500)
    box = page.locator("shut-off-map .map-frame").bounding_box()
    page.locator("shut-off-map .map-frame").scroll_into_view_if_needed()
    box = page.locator("shut-off-map .map-frame").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)  # the broken spur
    page.wait_for_timeout(1200)
    note = page.locator("shut-off-map .map-note").inner_text()
    assert "at=" in page.url
    assert "%2C" in page.url or "That is no pipe" in note


def test_the_card_is_a_pdf(watched: Watched) -> None:
    watched.open("/ground/shut-off?at=pipes:P0008")
    address = watched.page.get_by_role("link", name="Print the card").get_attribute("href")
    answer = watched.page.request.get(watched.address + address)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF")
