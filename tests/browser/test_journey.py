"""A day of Ines, in a real browser, on the demo course."""

from __future__ import annotations

import re
from typing import Any

import pytest

pytestmark = pytest.mark.browser
TONIGHT = "/tonight?night=2025-07-10"


def table_labels(page: Any) -> list[str]:
    labels: list[str] = page.locator(".stations tbody .col-station a").all_inner_texts()
    return labels


def test_ines_logs_in_with_her_password(chromium: Any, site: Any, signed_in: Any) -> None:
    page = chromium.new_context().new_page()
    page.goto(f"{site.address}/tonight")
    assert "/login" in page.url
    page.get_by_label("Name").fill("ines calloran")
    page.get_by_label("Password").fill("dry fairway seven")
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url("**/tonight")
    assert "Ines Calloran" in page.locator("header").inner_text()
    page.context.close()


def test_tonight_is_drawn_without_a_complaint(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.wait_for_selector("course-map[ready]")
    page.wait_for_selector("flow-chart[ready]")
    assert page.locator("course-map canvas").count() >= 1
    assert page.locator("flow-chart canvas").count() == 1
    assert watched.complaints == []


def test_she_filters_fairways_on_hole_seven(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.get_by_role("searchbox", name="Find").fill("fairway 7")
    page.wait_for_url(re.compile(r"q=fairway(\+|%20)7"))
    page.wait_for_function("() => document.querySelectorAll('.stations .col-hole').length > 1")
    rows = page.locator(".stations tbody tr:first-child")
    assert rows.count() > 3
    for row in rows.all():
        assert row.locator(".kind-fairway").count() == 1
        assert row.locator(".col-hole").inner_text() == "7"
    assert page.locator("#stations").count() == 1
    page.reload()
    assert page.get_by_role("searchbox", name="Find").input_value() == "fairway 7"
    assert table_labels(page)


def test_a_row_opens_to_its_sum_in_place(watched: Any) -> None:
    watched.open(f"{TONIGHT}&q=fairway+7")
    page = watched.page
    page.locator(".stations tbody .col-station a").first.click()
    page.wait_for_selector(".sum-cell .sum-line")
    assert "60 ×" in page.locator(".sum-cell .sum-line").inner_text()
    assert page.url.endswith("q=fairway+7")
    assert watched.complaints == []


def test_hovering_the_chart_tells_the_minute_in_numbers(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.wait_for_selector("flow-chart[ready]")
    page.locator("flow-chart").scroll_into_view_if_needed()
    box = page.locator("flow-chart canvas").bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5)
    page.mouse.move(box["x"] + box["width"] * 0.45, box["y"] + box["height"] * 0.5)
    tip = page.locator("#vg-tooltip-element.visible")
    tip.wait_for()
    text = tip.inner_text()
    assert re.search(r"total \[gpm\]:?\s*[\d,]+", text)
    assert re.search(r"clock:?\s*\d\d:\d\d", text)
    assert watched.complaints == []


def test_the_map_follows_the_choice_of_colour_and_the_address_keeps_it(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.wait_for_selector("course-map[ready]")
    page.get_by_label("minutes", exact=True).check()
    assert page.locator("course-map").get_attribute("show") == "minutes"
    assert "colour=minutes" in page.url
    assert page.locator("[data-legend=minutes]").is_visible()
    assert page.locator("[data-legend=need]").is_hidden()
    page.reload()
    assert page.get_by_label("minutes", exact=True).is_checked()


def test_a_place_on_the_map_explains_itself(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.wait_for_selector("course-map[ready]")
    page.locator("course-map .map-frame").scroll_into_view_if_needed()
    box = page.locator("course-map canvas").first.bounding_box()
    note = page.locator(".map-note")
    for step in range(60):  # across the course until the pointer stands on turf
        x, y = 0.1 + 0.8 * step / 60, 0.7
        page.mouse.move(box["x"] + box["width"] * x, box["y"] + box["height"] * y)
        if "need 0." in note.inner_text():
            break
    assert "need 0." in note.inner_text()
    page.mouse.down()
    page.mouse.up()
    page.wait_for_selector(".map-sum .sum-line")
    assert watched.complaints == []


def test_the_table_leads_to_the_map_by_keyboard(watched: Any) -> None:
    watched.open(f"{TONIGHT}&q=green+7")
    page = watched.page
    page.wait_for_selector("course-map[ready]")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"
    page.locator(".stations tbody .col-station a").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".sum-cell .sum-line")


def test_what_is_found_on_ground_zooms_the_map_and_the_page_stays(watched: Any) -> None:
    watched.open("/ground?q=07-F-01")
    page = watched.page
    page.wait_for_selector("course-map[ready]")
    before = page.locator(".ol-scale-line-inner").inner_text()
    page.locator(".found-list a[data-show-on-map]").first.click()
    page.wait_for_function(
        "t => document.querySelector('.ol-scale-line-inner').textContent !== t", arg=before
    )
    assert page.url.endswith("/ground?q=07-F-01")
    assert watched.complaints == []


def test_she_approves_rehearses_and_reads_the_morning(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.get_by_role("button", name="Approve this night").click()
    page.wait_for_selector(".state-approved")
    assert "by Ines Calloran" in page.locator(".state").inner_text()
    assert page.get_by_role("button", name="Approve this night").count() == 0

    watched.open("/morning?night=2025-07-10")
    page.get_by_label("Pumps trip at").fill("01:30")
    page.get_by_label("and run again at").fill("03:10")
    page.get_by_role("button", name="Rehearse this night").click()
    page.wait_for_selector(".verdict", timeout=60_000)
    verdict = page.locator(".verdict").inner_text()
    assert "no water" in verdict
    assert page.locator(".verdict .verdict-mark").count() == 1
    page.wait_for_selector("course-map[ready]")
    page.wait_for_selector("flow-chart[ready]")
    assert "Caution." in page.locator("#rescue").inner_text()
    assert page.locator("#rescue tbody tr").count() > 0

    watched.open("/ledger")
    assert "2025-07-10" in page.locator("main").inner_text()
    assert watched.complaints == []


@pytest.mark.parametrize(
    "watched", [{"java_script_enabled": False}], indirect=True, ids=["without script"]
)
def test_tables_and_forms_work_without_script(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    page.get_by_role("searchbox", name="Find").fill("fairway 7")
    page.get_by_role("button", name="Find").click()
    page.wait_for_load_state()
    assert "q=fairway+7" in page.url
    assert page.locator(".stations tbody tr:first-child").count() > 3
    page.locator(".stations tbody .col-station a").first.click()
    page.wait_for_load_state()
    assert "60 ×" in page.locator(".sum-line").inner_text()
    page.goto(watched.address + "/morning?night=2025-07-09")
    assert page.locator(".verdict").count() == 1


def test_night_is_chosen_by_a_button_and_stays(watched: Any) -> None:
    watched.open(TONIGHT)
    page = watched.page
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.get_by_role("button", name="night", exact=True).click()
    page.wait_for_selector("html[data-theme=dark]")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != before
    watched.open("/ledger")
    assert page.locator("html[data-theme=dark]").count() == 1
