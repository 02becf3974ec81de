"""Pilar stands on a dry spot with the phone, and Ines looks at the night at her desk."""

from __future__ import annotations

import re
from typing import Any

import pytest

pytestmark = pytest.mark.browser
DAY = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WIDTHS = pytest.mark.parametrize("watched", [DAY, PHONE], indirect=True, ids=["1440", "390"])
NIGHT = "/coverage?night=2025-07-10"


def ready(watched: Any, path: str) -> Any:
    watched.open(path)
    watched.page.wait_for_selector("coverage-map[ready]")
    watched.page.wait_for_selector("#figures table")
    return watched.page


def tap_middle(page: Any) -> None:
    page.locator(".map-frame").scroll_into_view_if_needed()
    box = page.locator(".map-frame").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2 + 6, box["y"] + box["height"] / 2 + 6)


@WIDTHS
def test_a_tap_tells_what_falls_there(watched: Any) -> None:
    page = ready(watched, f"{NIGHT}&head=H0101")
    first = page.locator("#spot .lead").inner_text()
    tap_middle(page)
    page.wait_for_function(
        "first => document.querySelector('#spot .lead').innerText !== first", arg=first
    )
    told = page.locator("#spot .lead").inner_text()
    assert re.search(r"\d\.\d\d in", told)
    assert page.locator(".map-note").inner_text() == told
    assert page.locator(".spot-heads tbody tr").count() >= 1
    assert "x=" in page.url
    assert "head=" not in page.url
    assert watched.complaints == []


@WIDTHS
def test_an_area_is_picked_from_the_list(watched: Any) -> None:
    page = ready(watched, NIGHT)
    page.locator("select[name=area]").select_option(label="07 fairway")
    page.get_by_role("button", name="Look").click()
    page.wait_for_selector("flow-chart[ready]")
    assert "07 fairway" in page.locator("#spot h3").inner_text()
    assert page.locator("#spot flow-chart canvas").count() == 1
    page.wait_for_selector("coverage-map[ready]")
    assert watched.complaints == []


@WIDTHS
def test_the_map_comes_first_and_nothing_runs_over(watched: Any) -> None:
    page = ready(watched, f"{NIGHT}&show=shortage")
    map_at = page.locator("#map").bounding_box()
    spot_at = page.locator("#spot").bounding_box()
    assert map_at["y"] <= spot_at["y"]
    if page.viewport_size["width"] == 390:
        assert map_at["y"] + map_at["height"] <= spot_at["y"]
        assert page.locator(".map-frame").bounding_box()["y"] < 420
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert "as needed" in page.locator(".map-classes").inner_text()


def test_enter_asks_about_the_middle(watched: Any) -> None:
    page = ready(watched, f"{NIGHT}&head=H0101")
    page.locator(".map-frame").focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)  # the map glides and tells nobody when it stands
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"x=\d+\.\d&y=\d+\.\d"))
    assert page.locator("#spot [data-short]").count() == 1


def test_the_driest_square_is_shown_on_the_map(watched: Any) -> None:
    page = ready(watched, f"{NIGHT}&area=07-fairway")
    page.get_by_role("link", name=re.compile("driest")).click()
    page.wait_for_selector("coverage-map[ready][spot]")
    assert "07 fairway" in page.locator("#spot .lead").inner_text()


def test_without_script_there_is_the_picture_and_every_figure(
    chromium: Any, site: Any, signed_in: Any
) -> None:
    context = chromium.new_context(storage_state=signed_in, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{site.address}{NIGHT}")
    if page.get_by_role("link", name="Show them").count():
        page.get_by_role("link", name="Show them").click()
    assert page.locator("#figures table tbody tr").count() == 7
    picture = page.locator(".plain-map")
    assert picture.is_visible()
    page.get_by_label("or at head").fill("H0101")
    page.get_by_role("button", name="Look").click()
    assert re.search(r"from \d+ heads", page.locator("#spot").inner_text())
    context.close()
