"""Ines asks what a repair is worth, and tries one on the phone and at her desk."""

from __future__ import annotations

import re
from typing import Any

import pytest

pytestmark = pytest.mark.browser
DAY = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WIDTHS = pytest.mark.parametrize("watched", [DAY, PHONE], indirect=True, ids=["1440", "390"])


@WIDTHS
def test_a_change_is_tried_and_shown_at_once(watched: Any) -> None:
    watched.open("/coverage/try?night=2025-07-10&head=H0387")
    page = watched.page
    page.get_by_label("Throw, ft").fill("30")
    page.get_by_label("Throw, ft").press("Tab")
    page.wait_for_selector("#trial .lead")
    assert "radius=30" in page.url
    assert page.locator("#trial tbody tr").count() == 8
    for picture in page.locator(".before-after img").all():
        assert picture.evaluate("one => one.decode().then(() => one.naturalWidth)") > 100
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert watched.complaints == []


@WIDTHS
def test_coverage_leads_to_repairs_and_they_fit_the_screen(watched: Any) -> None:
    watched.page.set_default_timeout(60_000)
    watched.open("/coverage?night=2025-07-10")
    watched.page.get_by_role("link", name="Dry spots and repairs").click()
    watched.page.wait_for_selector("#repairs-title")
    page = watched.page
    assert page.locator(".spots > li").count() > 0
    assert re.search(r"lacks [\d,]+ gal", page.locator(".spots > li").first.inner_text())
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert watched.complaints == []
