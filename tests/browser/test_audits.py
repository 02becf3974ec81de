"""An audit in a real browser, at a desk and with a thumb: plan, print, enter, read, accept."""

from __future__ import annotations

from typing import Any

import pytest

from .conftest import SHOTS

pytestmark = pytest.mark.browser
DESK = {"viewport": {"width": 1440, "height": 900}}
THUMB = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
CASES = [
    pytest.param(DESK, "03-green", id="1440"),
    pytest.param(THUMB, "05-green", id="390 touch"),
]


def _shot(page: Any, name: str, width: int) -> None:
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SHOTS / f"audit-{name}-{width}.png", full_page=True)


def _fits(page: Any) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


@pytest.mark.parametrize(("look", "area"), CASES)
def test_plan_print_enter_read_accept(
    chromium: Any, editing_site: Any, editor_signed_in: Any, look: dict[str, Any], area: str
) -> None:
    width = look["viewport"]["width"]
    context = chromium.new_context(storage_state=editor_signed_in, **look)
    context.set_default_timeout(25_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.goto(editing_site.address + "/audits")
    page.locator("select[name=area]").select_option(area)
    page.locator("input[name=opening]").fill("11")
    page.locator("select[name=opening_unit]").select_option("cm")
    _shot(page, "plan", width)
    page.get_by_role("button", name="Place the cans").click()
    page.wait_for_url("**/audits/AU*")
    here = page.url
    card = page.request.get(here + "/card.pdf")
    assert card.body().startswith(b"%PDF")
    page.locator("input[name=run_min]").fill("15")
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("link", name="Enter cans").click()
    cans = int(page.locator("h1 small").inner_text().split(" of ")[1].split()[0])
    _shot(page, "enter", width)
    for number in range(1, cans + 1):
        page.get_by_role("heading", name=f"Can {number} ").wait_for()
        assert page.evaluate("document.activeElement.id") == "caught"  # no tap between cans
        page.keyboard.type(str(60 - 2 * (number % 12)))
        page.keyboard.press("Enter")
    page.get_by_role("heading", name="What the cans say").wait_for()
    assert f"{cans} of {cans} cans read" in page.locator("h1").inner_text()
    _fits(page)
    _shot(page, "result", width)
    page.get_by_role("button", name="Accept what is ticked").click()
    page.get_by_text("tonight’s minutes take it from there").wait_for()
    _fits(page)
    _shot(page, "used", width)
    assert complaints == []
    context.close()


def test_every_step_works_without_script(
    chromium: Any, editing_site: Any, editor_signed_in: Any
) -> None:
    context = chromium.new_context(
        storage_state=editor_signed_in, java_script_enabled=False, **THUMB
    )
    page = context.new_page()
    page.goto(editing_site.address + "/audits")
    page.locator("select[name=area]").select_option("07-green")
    page.get_by_role("button", name="Place the cans").click()
    page.get_by_role("link", name="Enter cans").click()
    page.locator("#caught").fill("31")
    page.get_by_role("button", name="Keep and next").click()
    assert "Can 2" in page.locator("h1").inner_text()
    page.get_by_role("link", name="‹ Can 1").click()
    assert "recorded: 31" in page.locator("#can-entry").inner_text()
    context.close()
