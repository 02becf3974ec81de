"""Ines plans, sees what changes, pins a start and scrubs the film, at a desk and on a phone."""

from __future__ import annotations

import re
from typing import Any

import pytest

pytestmark = pytest.mark.browser
NIGHT = "2025-07-10"
WIDE = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
both = pytest.mark.parametrize("editing_watched", [WIDE, PHONE], indirect=True, ids=["1440", "390"])


@pytest.fixture
def editing_watched(
    chromium: Any, editing_site: Any, editor_signed_in: dict[str, Any], request: Any
) -> Any:
    """A page of Ines on a copy of the demo, since these journeys approve and pin."""
    context = chromium.new_context(storage_state=editor_signed_in, **request.param)
    context.set_default_timeout(120_000)  # a whole night is planned meanwhile
    page = context.new_page()
    page.complaints = []
    page.on("pageerror", lambda problem: page.complaints.append(str(problem)))
    page.site = editing_site.address
    yield page
    context.close()


def plan_anew(page: Any) -> None:
    page.goto(f"{page.site}/tonight?night={NIGHT}")
    page.get_by_role("button", name="Plan again").click()
    page.wait_for_selector(".state-draft", timeout=90_000)


def drag_first_bar(page: Any, by_px: float) -> str:
    """Drag the first bar; gives the clock time that it shows."""
    bar = page.locator("pin-times svg[data-station]").first
    bar.scroll_into_view_if_needed()
    box = bar.locator("rect").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_px, y, steps=4)
    page.mouse.up()
    return str(bar.get_attribute("aria-valuetext"))


@both
def test_plan_changes_pin_and_approve(editing_watched: Any) -> None:
    page = editing_watched
    plan_anew(page)
    page.get_by_role("navigation", name="Steps of the night").get_by_text("Changes").click()
    changes = page.locator("#changes").inner_text()
    assert "Against the approved night of" in changes
    page.locator("#changes").get_by_text("an ordinary night").click()
    page.wait_for_url("**against=ordinary**")
    assert re.search(r"[+−][\d,]+ gal", page.locator("#changes").inner_text())
    assert "by more than 25 %" in page.locator("#approve .changed-count").inner_text()

    page.goto(f"{page.site}/tonight/paths?night={NIGHT}")
    page.wait_for_selector("pin-times[ready]")
    wanted = drag_first_bar(page, 40)
    page.wait_for_selector("#pin-answer .pin-answer")
    answer = page.locator("#pin-answer").inner_text()
    assert f"→ {wanted}" in answer
    around = page.get_by_role("button", name="Plan the rest around it")
    around.click()
    page.wait_for_selector(".pins li", timeout=90_000)
    assert f"at {wanted}, by Ines Calloran" in page.locator(".pins").inner_text()

    page.goto(f"{page.site}/tonight?night={NIGHT}#approve")
    assert "1 start pinned by hand" in page.locator("#approve").inner_text()
    page.get_by_role("button", name="Approve this night").click()
    page.wait_for_selector(".state-approved")
    assert page.complaints == []


@pytest.mark.parametrize("editing_watched", [WIDE], indirect=True, ids=["1440"])
def test_a_pin_by_keyboard_alone(editing_watched: Any) -> None:
    page = editing_watched
    plan_anew(page)
    page.goto(f"{page.site}/tonight/paths?night={NIGHT}&q=green")
    page.wait_for_selector("pin-times[ready]")
    bar = page.locator("pin-times svg[data-station]").first
    before = int(bar.get_attribute("aria-valuenow"))
    bar.focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowRight")
    assert int(bar.get_attribute("aria-valuenow")) == before + 11
    page.keyboard.press("Escape")
    assert int(bar.get_attribute("aria-valuenow")) == before
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    page.wait_for_selector("#pin-answer .pin-answer")
    assert page.complaints == []


@both
def test_conditions_open_in_place_and_an_approved_night_is_not_pinned(editing_watched: Any) -> None:
    page = editing_watched
    page.goto(f"{page.site}/tonight?night=2025-07-09")
    page.locator("#conditions summary").click()
    page.wait_for_selector("#conditions .facts")
    assert "Reference ET of the day" in page.locator("#conditions").inner_text()
    page.goto(f"{page.site}/tonight/paths?night=2025-07-09")
    assert page.locator("#pin-form").count() == 0  # approved: it does not change any more
    assert "is approved" in page.locator("#why-not-pin").inner_text()
    assert page.complaints == []


@both
def test_the_film_is_scrubbed_played_and_paused(editing_watched: Any) -> None:
    page = editing_watched
    page.goto(f"{page.site}/film?night={NIGHT}")
    page.wait_for_selector("night-film[ready]")
    page.wait_for_selector("course-map[ready]")
    slider = page.get_by_role("slider", name="Time of the night")
    slider.focus()
    for _ in range(12):
        page.keyboard.press("ArrowRight")
    assert page.locator("[data-figure=clock]").inner_text() == "22:00"
    assert page.locator("course-map").get_attribute("show") == "f12"
    assert re.fullmatch(r"[\d,]+ gpm", page.locator("[data-figure=flow]").inner_text())
    assert slider.get_attribute("aria-valuetext").startswith("22:00, ")
    page.get_by_role("button", name="Play").click()
    page.wait_for_selector("course-map:not([show=f12])")
    page.get_by_role("button", name="Pause").click()
    stopped = page.locator("course-map").get_attribute("show")
    page.wait_for_timeout(600)  # two frames' time: nothing may move
    assert page.locator("course-map").get_attribute("show") == stopped
    assert page.complaints == []


@pytest.mark.parametrize(
    "editing_watched", [WIDE | {"reduced_motion": "reduce"}], indirect=True, ids=["still"]
)
def test_who_wants_no_motion_steps_frame_by_frame(editing_watched: Any) -> None:
    page = editing_watched
    page.goto(f"{page.site}/film?night={NIGHT}")
    page.wait_for_selector("night-film[ready]")
    page.get_by_role("button", name="Next").click()
    assert page.locator("course-map").get_attribute("show") == "f1"
    page.wait_for_timeout(600)  # two frames' time: nothing may move
    assert page.locator("course-map").get_attribute("show") == "f1"


@pytest.mark.parametrize("editing_watched", [WIDE], indirect=True, ids=["1440"])
def test_the_night_chart_zooms_by_button(editing_watched: Any) -> None:
    page = editing_watched
    page.goto(f"{page.site}/tonight?night={NIGHT}")
    page.wait_for_selector("flow-chart[ready]")
    seen = "() => document.querySelector('flow-chart').querySelector('canvas').toDataURL().length"
    before = page.evaluate(seen)
    page.get_by_role("button", name="Zoom in").click()
    page.wait_for_function(f"before => ({seen})() !== before", arg=before)
    assert page.complaints == []


@pytest.mark.parametrize(
    "editing_watched", [PHONE | {"java_script_enabled": False}], indirect=True, ids=["no script"]
)
def test_holds_pins_and_film_work_without_script(editing_watched: Any) -> None:
    page = editing_watched
    page.goto(f"{page.site}/holds")
    page.get_by_label("Holds").select_option("kind")
    page.get_by_label("Which").fill("practice")
    page.get_by_label("Why").fill("members' day")
    page.get_by_role("button", name="Hold", exact=True).click()
    assert "every practice" in page.locator("main").inner_text()
    page.goto(f"{page.site}/film?night={NIGHT}&at=12")
    assert page.locator("[data-figure=clock]").inner_text() == "22:00"
    page.goto(f"{page.site}/tonight?night={NIGHT}")
    page.locator("#conditions summary").click()
    page.get_by_role("link", name="Open the numbers").click()
    assert "Reference ET" in page.locator("main").inner_text()
