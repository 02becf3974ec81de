"""Work on the record in a real browser, at a desk and with a thumb: drawing, part, number, swap."""

from __future__ import annotations

import re
import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import ezdxf
import pytest

pytestmark = pytest.mark.browser
NOW = datetime(2025, 7, 10, 21, tzinfo=UTC)
DESK = {"viewport": {"width": 1440, "height": 900}}
THUMB = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
LOOKS = pytest.mark.parametrize("look", [DESK, THUMB], ids=["1440", "390 touch"])


@dataclass
class Desk:
    """A page of Ines on a course of her own, and the course file behind it."""

    page: Any
    address: str
    course: Path
    touch: bool

    def press(self, what: Any) -> None:
        """With the finger where there is one."""
        what.tap() if self.touch else what.click()

    def send(self, button: Any) -> None:
        """Press what leads to another page, and wait for it; a tap does not wait by itself."""
        with self.page.expect_navigation(wait_until="networkidle"):
            self.press(button)

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)
        self.page.wait_for_load_state("networkidle")

    def fits(self) -> bool:
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        return bool(wide <= self.page.viewport_size["width"])

    def column(self, table: str, name: str) -> dict[str, Any]:
        from nightwater.desk.course import open_course

        with open_course(self.course) as course:
            return {str(k): v for k, v in course.file.ground().table(table)[name].items()}


def edited(course: Path, edit: Any) -> None:
    from nightwater.desk.course import open_course
    from nightwater.desk.proposing import accept_ground

    with open_course(course) as opened:
        accept_ground(opened, edit, "Ines", "before the journey", NOW)


@pytest.fixture
def desk(chromium: Any, demo_course: Path, tmp_path: Path, look: Any) -> Iterator[Desk]:
    import uvicorn

    from nightwater.demo.build import DEMO_NIGHT
    from nightwater.web.app import create_app, first_owner_link

    course = Path(shutil.copy(demo_course, tmp_path / "own.gpkg"))
    app = create_app(course, now=lambda: NOW, today=lambda: DEMO_NIGHT)
    link = first_owner_link(app)
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)  # another thread starts the server
    port = server.servers[0].sockets[0].getsockname()[1]
    context = chromium.new_context(**look)
    context.set_default_timeout(30_000)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{port}{link}")
    page.get_by_label("Your name").fill("Ines Calloran")
    page.get_by_label("Password").fill("dry fairway seven")
    page.get_by_role("button", name="Set the password and go in").click()
    page.wait_for_url("**/tonight")
    yield Desk(page, f"http://127.0.0.1:{port}", course, bool(look.get("has_touch")))
    context.close()
    server.should_exit = True
    thread.join(timeout=10)


def drawing(desk: Desk, folder: Path) -> Path:
    """A designer's drawing: three heads moved to new places, in metres, with their tags."""
    from nightwater.desk.course import open_course

    with open_course(desk.course) as course:
        heads = course.ground.heads.loc[["H0001", "H0002", "H0003"]]
    made = ezdxf.new("R2010", units=6)
    block = made.blocks.new("HEAD")
    block.add_circle((0, 0), 0.2)
    block.add_attdef("ID", (0, 0))
    for identity, shape in heads.geometry.items():
        at = (shape.x + 4.0, shape.y)
        made.modelspace().add_blockref("HEAD", at, dxfattribs={"layer": "HEADS"}).add_auto_attribs(
            {"ID": str(identity)}
        )
    path = folder / "as-designed.dxf"
    made.saveas(path)
    return path


@LOOKS
def test_a_drawing_is_imported_and_accepted_in_part(desk: Desk, tmp_path: Path) -> None:
    before = desk.column("heads", "geometry")
    page = desk.page
    desk.open("/survey")
    page.get_by_label(re.compile(r"^File")).set_input_files(drawing(desk, tmp_path))
    page.get_by_label("Fills the table").select_option("heads")
    desk.send(page.get_by_role("button", name="Look at it"))
    page.wait_for_url("**/survey/*")
    assert "--crs" in page.get_by_role("alert").inner_text()  # the drawing does not say its system
    page.get_by_label("Coordinate system, where the file does not say").fill("EPSG:32612")
    desk.send(page.get_by_role("button", name="Look again"))
    assert desk.fits()
    whole = page.locator('input[name="part"]')
    for box in whole.all():
        if box.is_checked():
            desk.press(box)
    desk.press(page.locator("summary", has_text="Row by row").first)
    desk.press(page.locator('input[name="row"][value="H0002"]'))
    page.get_by_label("Why").fill("as designed, one of three")
    desk.send(page.get_by_role("button", name="Accept what is ticked"))
    page.wait_for_url("**/ground")
    after = desk.column("heads", "geometry")
    assert after["H0002"].distance(before["H0002"]) == pytest.approx(4.0, abs=1e-3)
    assert after["H0001"].equals(before["H0001"])


@LOOKS
def test_a_hole_is_renumbered(desk: Desk) -> None:
    edited(desk.course, lambda g: g.with_table("heads", g.heads.assign(label=None)))
    page = desk.page
    desk.open("/numbers")
    assert desk.fits()
    page.get_by_label("Only this hole (for accepting)").fill("7")
    desk.send(page.get_by_role("button", name="Keep the rules and renumber"))
    labels = desk.column("heads", "label")
    named = {label for label in labels.values() if label}
    assert named
    assert all(label.startswith("07-") for label in named)


def relabelled(desk: Desk, station: str, label: str) -> None:
    """She gives a station another label in the editor; it is not saved yet."""
    page = desk.page
    page.get_by_label("Filter rows").fill(f"id={station}")
    page.locator(".found").filter(has_text=re.compile("^1 of .* stations")).wait_for()
    desk.press(page.get_by_role("button", name="Choose all found"))
    page.get_by_label("Column").select_option("label")
    page.get_by_label("Value").fill(label)
    desk.press(page.get_by_role("button", name="Preview", exact=True))
    desk.press(page.get_by_role("button", name="Change 1", exact=True))
    page.wait_for_function("() => !document.querySelector('ground-editor').work.asking")


@LOOKS
def test_a_swapped_pair_is_told_put_right_and_taken_back(desk: Desk) -> None:
    """Two neighbours of hole 7 stand exchanged; she corrects the list and matches the hole."""
    labels = desk.column("stations", "label")
    one, other = sorted(k for k, v in labels.items() if v in ("07-F-03", "07-F-04"))

    def exchanged(ground: Any) -> Any:
        stations = ground.stations.copy()
        stations.loc[[one, other], "label"] = stations.loc[[other, one], "label"].to_numpy()
        bare = ground.heads.assign(station=None, label=None)
        return ground.with_table("stations", stations).with_table("heads", bare)

    edited(desk.course, exchanged)
    page = desk.page
    desk.open("/reconcile")
    assert desk.fits()
    told = page.locator("#place-7").inner_text()
    assert "likely exchanged" in told
    assert "07-F-03" in told

    desk.open("/ground/edit")
    page.wait_for_selector("ground-editor[ready]")
    page.get_by_label("Table", exact=True).select_option("stations")
    relabelled(desk, one, labels[one])
    relabelled(desk, other, labels[other])
    desk.press(page.locator("[data-tool=save]"))
    dialog = page.locator("dialog[open]")
    dialog.get_by_label("Why?").fill("exchanged on the list")
    desk.press(dialog.get_by_role("button", name="Save", exact=True))
    page.locator(".edit-said").filter(has_text="Saved as revision").wait_for()
    assert desk.column("stations", "label") == labels

    desk.open("/reconcile")
    assert "likely exchanged" not in page.locator("#place-7").inner_text()
    desk.send(page.locator("#place-7").get_by_role("button", name=re.compile("^Accept")))
    assert page.locator("#place-7").count() == 0
    matched = [s for s in desk.column("heads", "station").values() if s]
    assert len(matched) >= 49

    desk.open("/history")
    assert desk.fits()
    desk.send(page.get_by_role("button", name=re.compile(r"^Take revision \d+ back")).first)
    page.get_by_text("taken back by").first.wait_for()
    desk.open("/reconcile")
    assert page.locator("#place-7").count() == 1
