"""A picture is placed by control points: picked on picture and map, doubted, accepted, seen."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[2]
AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
SHOTS = ROOT / "build" / "screenshots"
NOW = datetime(2025, 7, 10, 21, tzinfo=UTC)
WIDE = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
# The same offsets from the middle of both frames [px]: both show their content to scale, so
# these pairs lie on one similarity.
OFFSETS = [(-100, -70), (90, -60), (80, 75), (-85, 60), (10, 5)]
WRONG = ((0, -50), (60, 30))


@pytest.fixture
def picture(demo_course: Path, tmp_path: Path) -> Iterator[str]:
    """A picture without a place in the demo course; taken out again afterwards."""
    from nightwater.desk.course import open_course
    from nightwater.desk.imaging import ImageWish, accept_image, propose_image, remove_image

    x, y = np.meshgrid(np.arange(1200), np.arange(900))
    colours = np.stack([x % 256, y % 256, (x + y) % 256], -1).astype(np.uint8)
    Image.fromarray(colours).save(tmp_path / "flight.jpg")
    with open_course(demo_course) as course:
        proposal = propose_image(course, tmp_path / "flight.jpg", ImageWish())
        accept_image(course, proposal, who="Pilar", why="flight", now=NOW)
    yield proposal.id
    with open_course(demo_course) as course:
        remove_image(course, proposal.id, who="Pilar", why="end of the test", now=NOW)


def choose(page: Any, part: str, offset: tuple[int, int], touch: bool) -> None:
    frame = page.locator(f"[data-part={part}]")
    frame.scroll_into_view_if_needed()
    box = frame.bounding_box()
    where = {"x": box["width"] / 2 + offset[0], "y": box["height"] / 2 + offset[1]}
    frame.tap(position=where) if touch else frame.click(position=where)


def pick(page: Any, number: int, pixel: tuple[int, int], place: tuple[int, int]) -> None:
    touch = page.viewport_size["width"] < 500
    note = page.locator(".map-note")
    choose(page, "picture", pixel, touch)
    note.filter(has_text=f"Point {number}: now the same spot on the map").wait_for()
    choose(page, "map", place, touch)
    note.filter(has_text=f"Point {number + 1}: choose a spot in the picture").wait_for()
    page.locator(f"[data-part=fit] tbody tr:nth-child({number})").wait_for()


@pytest.mark.parametrize("watched", [WIDE, PHONE], indirect=True, ids=["1440", "390-touch"])
def test_a_picture_is_placed_by_pairs_and_seen_on_the_map(
    watched: Any, picture: str, request: Any
) -> None:
    page, fit = watched.page, watched.page.locator("[data-part=fit]")
    watched.open(f"/ground/place-image/{picture}")
    page.wait_for_selector("place-image[ready]")
    assert "Pick 3 more points" in fit.inner_text()
    assert page.get_by_role("button", name="Place it so").is_disabled()
    for number, offset in enumerate(OFFSETS, 1):
        pick(page, number, offset, offset)
    assert "Similarity, agreeing within" in fit.inner_text()
    assert "looks wrong" not in fit.inner_text()

    pick(page, 6, *WRONG)
    row = fit.locator("tbody tr:nth-child(6)")
    assert "not used, looks wrong" in row.inner_text()
    assert "image-pair-wrong" in fit.inner_text()
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SHOTS / f"place-image-{request.node.callspec.id}.png", full_page=True)
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= page.viewport_size["width"]
    if AXE.exists():
        assert barriers(page) == []

    row.get_by_role("link", name="Drop").click()  # the address holds the points
    page.wait_for_selector("place-image[ready]")
    assert page.locator("[data-part=fit] tbody tr").count() == 5
    squares: list[int] = []
    page.on("response", lambda r: squares.append(r.status) if "/ground/images/" in r.url else None)
    page.get_by_role("button", name="Place it so").click()
    page.wait_for_selector("course-map[ready]")
    page.wait_for_load_state("networkidle")
    assert squares
    assert set(squares) == {200}
    course_map = page.locator("course-map")
    assert course_map.get_attribute("pictures") == picture
    page.screenshot(path=SHOTS / f"ground-picture-{request.node.callspec.id}.png", full_page=True)
    page.get_by_label("Opacity").fill("40")
    assert course_map.get_attribute("opacity") == "0.4"
    page.get_by_label("flight", exact=True).uncheck()
    assert course_map.get_attribute("pictures") == ""
    assert watched.complaints == []


def barriers(page: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA."""
    page.evaluate(AXE.read_text())
    found = page.evaluate(
        "axe.run(document, {resultTypes: ['violations'], "
        "runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
    )
    return [f"{rule['id']}: {rule['nodes'][0]['html'][:160]}" for rule in found["violations"]]


@pytest.mark.parametrize("watched", [WIDE], indirect=True, ids=["1440"])
def test_picking_the_same_side_again_moves_it(watched: Any, picture: str) -> None:
    page = watched.page
    watched.open(f"/ground/place-image/{picture}")
    page.wait_for_selector("place-image[ready]")
    choose(page, "map", (10, 10), touch=False)
    page.locator(".map-note").filter(has_text="now the same spot in the picture").wait_for()
    page.wait_for_timeout(300)  # two clicks on one map in short order are a double click
    choose(page, "map", (-40, 20), touch=False)
    page.wait_for_timeout(400)
    choose(page, "picture", (0, 0), touch=False)
    page.locator("[data-part=fit] tbody tr").wait_for()
    assert page.locator("[data-part=fit] tbody tr").count() == 1
    words = page.locator("[data-part=fit] tbody td").first.inner_text()
    column, row = (float(word) for word in words.split(","))
    assert abs(column - 600) < 3  # the middle of the picture
    assert abs(row - 450) < 3
