"""Every page at two widths, by day and by night: no overflow, no barrier, and a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[2]
AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
SHOTS = ROOT / "build" / "screenshots"
PAGES = {
    "tonight": "/tonight?night=2025-07-10",
    "tonight-found": "/tonight?night=2025-07-10&q=green&colour=minutes",
    "paths": "/tonight/paths?night=2025-07-10",
    "holds": "/holds?night=2025-07-10",
    "film": "/film?night=2025-07-10&at=40",
    "conditions": "/tonight/conditions?night=2025-07-10",
    "sum": "/tonight/sum?night=2025-07-10&subject=stations:S048",
    "morning": "/morning?night=2025-07-09",
    "ground": "/ground?subject=heads:H0001&pipes=1",
    "ground-edit": "/ground/edit?subject=heads:H0405",
    "ledger": "/ledger",
    "coverage": "/coverage?night=2025-07-10&whole=1",
    "coverage-spot": "/coverage?night=2025-07-10&show=shortage&head=H0101",
    "trims": "/trims?night=2025-07-10",
    "people": "/people",
    "not-found": "/nowhere",
}
WIDE = {"viewport": {"width": 1440, "height": 900}, "color_scheme": "light"}
PHONE = {"viewport": {"width": 390, "height": 844}, "color_scheme": "light", "has_touch": True}
LOOKS = {
    "1440-day": WIDE,
    "1440-night": WIDE | {"color_scheme": "dark"},
    "390-day": PHONE,
    "390-night": PHONE | {"color_scheme": "dark"},
}


def settled(page: Any) -> None:
    for element in (
        "course-map",
        "draw-patch",
        "flow-chart",
        "night-film",
        "ground-editor",
        "coverage-map",
    ):
        if page.locator(element).count():
            page.wait_for_selector(f"{element}[ready]")
    page.wait_for_timeout(300)  # the map's drawing tells nobody about its last frame


def barriers(page: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA; read in through the debugger, past the policy."""
    page.evaluate(AXE.read_text())
    found = page.evaluate(
        "axe.run(document, {resultTypes: ['violations'], "
        "runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
    )
    assert len(found["passes"]) > 5  # it did look
    return [
        f"{rule['id']}: {node['html'][:160]} {node['failureSummary'][:200]}"
        for rule in found["violations"]
        for node in rule["nodes"][:3]
    ]


@pytest.mark.parametrize("watched", list(LOOKS.values()), indirect=True, ids=list(LOOKS))
@pytest.mark.parametrize("name", list(PAGES))
def test_page_has_no_overflow_and_no_barrier(watched: Any, name: str, request: Any) -> None:
    watched.open(PAGES[name])
    page = watched.page
    settled(page)
    SHOTS.mkdir(parents=True, exist_ok=True)
    look = next(look for look in LOOKS if look in request.node.name)
    page.screenshot(path=SHOTS / f"{name}-{look}.png", full_page=True)
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= page.viewport_size["width"]
    if AXE.exists():
        assert barriers(page) == []


@pytest.mark.parametrize("watched", [WIDE], indirect=True, ids=["readme"])
def test_the_picture_of_the_readme_can_be_made(watched: Any) -> None:
    """`make picture` puts it where the README shows it."""
    watched.open(PAGES["tonight"])
    settled(watched.page)
    SHOTS.mkdir(parents=True, exist_ok=True)
    made = SHOTS / "readme.jpg"
    watched.page.screenshot(path=made, type="jpeg", quality=80)
    assert 20_000 < made.stat().st_size < 300_000
    assert "(docs/tonight.jpg)" in (ROOT / "README.md").read_text()


@pytest.mark.parametrize("watched", [PHONE], indirect=True, ids=["phone"])
def test_what_is_touched_is_large_enough_for_a_thumb(watched: Any) -> None:
    watched.open(PAGES["tonight"])
    small = watched.page.evaluate(
        """[...document.querySelectorAll('button, nav a, .button, select')]
           .filter((e) => e.offsetParent !== null && !e.closest('.ol-control'))
           .filter((e) => e.getBoundingClientRect().height < 30)
           .map((e) => e.outerHTML)"""
    )
    assert small == []
