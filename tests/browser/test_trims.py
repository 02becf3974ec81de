"""Ines draws a dry knoll on the map, with a mouse and with a thumb, and Tomas has no script."""

from __future__ import annotations

from typing import Any

import pytest

pytestmark = pytest.mark.browser
WIDE = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
SLOW = 30_000  # what each trim costs is worked out for the whole course
CORNERS = ((-40.0, -40.0), (40.0, -40.0), (40.0, 40.0), (-40.0, 40.0))


def draw(page: Any, *, touch: bool) -> None:
    """Four corners around the middle of the map."""
    button = page.get_by_role("button", name="Draw a patch")
    button.tap() if touch else button.click()
    frame = page.locator("draw-patch .map-frame")
    frame.evaluate("e => e.scrollIntoView({block: 'center'})")
    box = frame.bounding_box()
    for dx, dy in CORNERS:
        here = box["x"] + box["width"] / 2 + dx, box["y"] + box["height"] / 2 + dy
        page.touchscreen.tap(*here) if touch else page.mouse.click(*here)
        page.wait_for_timeout(350)  # or two clicks are a double click
    page.get_by_role("button", name="Finish").click()


@pytest.mark.parametrize("options", [WIDE, PHONE], ids=["1440", "390"])
def test_a_dry_knoll_from_the_map_to_the_list_and_its_end(
    chromium: Any, editing_site: Any, editor_signed_in: dict[str, Any], options: dict[str, Any]
) -> None:
    touch = bool(options.get("has_touch"))
    why = f"dry knoll at {options['viewport']['width']}"
    context = chromium.new_context(storage_state=editor_signed_in, **options)
    context.set_default_timeout(SLOW)
    page, complaints = context.new_page(), []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.goto(f"{editing_site.address}/trims")
    page.wait_for_selector("draw-patch[ready]")
    draw(page, touch=touch)
    page.get_by_text("A patch of 4 corners").wait_for()
    assert page.locator("#outline").input_value().count(",") == 3
    assert page.get_by_label("What").input_value() == "map"
    page.get_by_label("Per cent of the usual").fill("120")
    page.locator("#add [name=reason]").fill(why)
    page.get_by_role("button", name="Keep the trim").click()
    row = page.locator("#tonight tr", has_text=why)
    row.wait_for()
    assert "120 %" in row.inner_text()
    assert "of turf" in row.inner_text()
    assert "Ines" in row.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= options["viewport"]["width"]
    row.get_by_text("End it").click()
    row.get_by_label("Why").fill("it rained")
    row.get_by_role("button", name="End from tonight on").click()
    page.get_by_text("that ended").click()
    page.locator("td", has_text=f"{why} Ended by Ines").wait_for()
    assert complaints == []
    context.close()


def test_clear_takes_the_patch_back(watched: Any) -> None:
    watched.open("/trims")
    page = watched.page
    page.wait_for_selector("draw-patch[ready]")
    draw(page, touch=False)
    page.get_by_text("A patch of 4 corners").wait_for()
    page.get_by_role("button", name="Clear").click()
    assert page.locator("#outline").input_value() == ""
    assert watched.complaints == []


@pytest.mark.parametrize("watched", [WIDE | {"java_script_enabled": False}], indirect=True)
def test_without_script_the_form_stands(watched: Any) -> None:
    watched.open("/trims")
    page = watched.page
    assert page.get_by_role("button", name="Keep the trim").is_visible()
    assert not page.get_by_role("button", name="Draw a patch").is_visible()
    assert page.get_by_label("Radius round a head").is_visible()
