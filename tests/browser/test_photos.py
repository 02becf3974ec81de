"""A photo is put on a head's sheet and withdrawn; a picture is sent with progress and kept."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[2]
AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
SHOTS = ROOT / "build" / "screenshots"
WIDE = {"viewport": {"width": 1440, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
NO_SCRIPT = PHONE | {"java_script_enabled": False}
SIZES = pytest.mark.parametrize("options", [WIDE, PHONE], ids=["1440", "390-touch"])


@pytest.fixture
def ines(
    chromium: Any, editing_site: Any, editor_signed_in: dict[str, Any], options: dict[str, Any]
) -> Iterator[tuple[Any, str, list[str]]]:
    """A page of Ines on a course that may be changed, its address, its console's complaints."""
    context = chromium.new_context(storage_state=editor_signed_in, **options)
    context.set_default_timeout(8000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.on("console", lambda s: complaints.append(s.text) if s.type == "error" else None)
    yield page, editing_site.address, complaints
    context.close()


def drawn(kind: str, width: int = 1200, height: int = 900) -> bytes:
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    colours = np.stack([x % 256, y % 256, (x + y) % 256], -1).astype(np.uint8)
    target = io.BytesIO()
    Image.fromarray(colours).save(target, kind)
    return target.getvalue()


def shot(page: Any, name: str, request: Any) -> None:
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SHOTS / f"{name}-{request.node.callspec.id}.png", full_page=True)
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= page.viewport_size["width"]
    if AXE.exists():
        assert barriers(page) == []


def barriers(page: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA."""
    page.evaluate(AXE.read_text())
    found = page.evaluate(
        "axe.run(document, {resultTypes: ['violations'], "
        "runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
    )
    return [f"{rule['id']}: {rule['nodes'][0]['html'][:160]}" for rule in found["violations"]]


def head(course: Path, number: int) -> str:
    from nightwater.desk.course import open_course

    with open_course(course) as opened:
        return str(opened.ground.heads.index[number])


def add_photo(page: Any, field: str) -> None:
    photo = {"name": "head.jpg", "mimeType": "image/jpeg", "buffer": drawn("JPEG")}
    page.locator(f"input[name={field}]").set_input_files(photo)
    page.get_by_label("What is to be seen").fill("Nozzle worn, stands 2 cm low")
    page.get_by_role("button", name="Add the photo").click()
    page.locator(".photo").wait_for()


@SIZES
def test_a_photo_is_added_to_a_head_and_withdrawn(
    ines: Any, demo_course: Path, options: dict[str, Any], request: Any
) -> None:
    page, address, complaints = ines
    phone = options is PHONE
    page.goto(f"{address}/ground/subject?subject=heads:{head(demo_course, int(phone))}")
    assert page.locator("input[name=taken]").is_visible() is phone  # a desk has no camera to hold
    shot(page, "photo-form", request)
    add_photo(page, "taken" if phone else "file")
    photo = page.locator(".photo")
    assert "Nozzle worn, stands 2 cm low" in photo.inner_text()
    assert "Ines Calloran" in photo.inner_text()
    page.wait_for_function("() => document.querySelector('.photo img').naturalWidth === 320")
    shot(page, "photo-sheet", request)

    page.get_by_text("Withdraw it").click()
    page.get_by_label("Why").fill("shows another head")
    page.get_by_role("button", name="Withdraw the photo").click()
    page.get_by_text("1 withdrawn photo").click()
    assert "Withdrawn by Ines Calloran" in page.locator("#photos").inner_text()
    assert page.locator(".photo").count() == 0
    assert complaints == []


@pytest.mark.parametrize("options", [NO_SCRIPT], ids=["390-no-script"])
def test_a_photo_is_added_without_script(ines: Any, demo_course: Path) -> None:
    page, address, _ = ines
    page.goto(f"{address}/ground/subject?subject=heads:{head(demo_course, 2)}")
    add_photo(page, "taken")
    assert "Nozzle worn" in page.locator(".photo").inner_text()


@SIZES
def test_a_picture_is_sent_seen_and_kept(ines: Any, request: Any) -> None:
    page, address, complaints = ines
    page.goto(f"{address}/ground")
    page.get_by_role("link", name="Add a picture").click()
    page.wait_for_load_state("networkidle")
    shot(page, "picture-form", request)
    wrong = {"name": "notes.txt", "mimeType": "text/plain", "buffer": b"no picture"}
    page.locator("input[name=file]").set_input_files(wrong)
    page.get_by_role("button", name="Send it").click()
    page.get_by_text("notes.txt is no picture that can be read").wait_for()
    complaints.clear()  # the browser notes the refusal itself

    picture = {"name": "flight.png", "mimeType": "image/png", "buffer": drawn("PNG")}
    page.locator("input[name=file]").set_input_files(picture)
    page.get_by_role("button", name="Send it").click()
    page.wait_for_url("**/ground/add-image/*")
    assert "does not say where it lies" in page.locator("main").inner_text()
    shot(page, "picture-look", request)
    page.get_by_role("button", name="Keep it and pick points").click()
    page.wait_for_selector("place-image[ready]")
    assert "/ground/place-image/flight" in page.url
    assert complaints == []
