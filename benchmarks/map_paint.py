"""First useful paint and panning of the map of the demo course, drawn in software.

The course is served on the loopback address to a headless Chromium without a graphics card.
Printed as ratios against 1 s to the first useful paint (areas and heads are on the canvas) and
30 frames a second while panning at a zoom that shows heads with their throw; 1.0 is just good
enough, more is better.
"""

from __future__ import annotations

import shutil
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import uvicorn
from playwright.sync_api import sync_playwright

from nightwater.demo.build import DEMO_NIGHT, build_demo
from nightwater.web.app import create_app, first_owner_link

PAINT_S: Final = 1.0
FRAMES_PER_S: Final = 30.0
CHROMIUM: Final = shutil.which("chromium") or "/usr/bin/chromium"
FLAGS: Final = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
PAGES: Final = {"Ground": ("/ground", "course-map"), "editor": ("/ground/edit", "edit-map")}
HEAD: Final = "heads:H0379"  # a fairway head with others all around
PAN_FRAMES: Final = 90
# From the start of loading until the map says that it is drawn, seen at the next frame.
PAINTED: Final = """name => new Promise((done) => {
  const look = () => document.querySelector(`${name}[ready] canvas`)
    ? requestAnimationFrame(() => done(performance.now())) : requestAnimationFrame(look);
  look();
})"""
FRAMES: Final = """count => new Promise((done) => {
  const times = [];
  const next = (now) => { times.push(now); times.length > count ? done(times) : requestAnimationFrame(next); };
  requestAnimationFrame(next);
})"""  # noqa: E501  (one line of script)

PICTURE: Final = "document.querySelector('.map-frame canvas').toDataURL()"


def _serve(course: Path) -> tuple[uvicorn.Server, str, str]:
    now = datetime(2025, 7, 10, 21, tzinfo=UTC)
    app = create_app(course, now=lambda: now, today=lambda: DEMO_NIGHT)
    link = first_owner_link(app)
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    port = server.servers[0].sockets[0].getsockname()[1]
    return server, f"http://127.0.0.1:{port}", str(link)


def _sign_in(page: Any, address: str, link: str) -> None:
    page.goto(address + link)
    page.get_by_label("Your name").fill("Ines Calloran")
    page.get_by_label("Password").fill("dry fairway seven")
    page.get_by_role("button", name="Set the password and go in").click()
    page.wait_for_url("**/tonight")


def _paint_s(page: Any, address: str, path: str, element: str) -> float:
    """The best of three loads [s]; the first one fills caches of server and browser."""
    found = []
    for _ in range(3):
        page.goto(address + path, wait_until="commit")
        found.append(float(page.evaluate(PAINTED, element)) / 1000)
        page.wait_for_load_state("networkidle")
    return min(found)


def _pan_frames_per_s(page: Any, address: str, path: str, element: str) -> float:
    """Frames a second while the map is dragged to and fro where heads and throws are drawn."""
    page.goto(f"{address}{path}?subject={HEAD}")
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(1000)  # the map glides to the head and tells nobody when it has come
    frame = page.locator(f"{element} .map-frame")
    frame.focus()
    box = frame.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = page.evaluate(PICTURE)
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate("window.panned = null")
    page.evaluate(f"({FRAMES})({PAN_FRAMES}).then((times) => {{ window.panned = times; }}); null")
    step = 0
    while page.evaluate("window.panned === null"):
        step += 1
        page.mouse.move(x + 80 * ((step % 20) - 10) / 10, y + 4 * (step % 10))
    if page.evaluate(PICTURE) == before:
        raise RuntimeError("The map did not move; there is nothing to measure.")
    page.mouse.up()
    times = page.evaluate("window.panned")
    return PAN_FRAMES / ((times[-1] - times[0]) / 1000)


def main() -> None:
    """Print both figures for both pages."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server, address, link = _serve(build_demo(Path(folder), lambda _step: None))
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        _sign_in(page, address, link)
        for name, (path, element) in PAGES.items():
            paint = _paint_s(page, address, path, element)
            frames = _pan_frames_per_s(page, address, path, element)
            print(f"{name}: first useful paint {paint:.2f} s, {PAINT_S / paint:.2f} × the bound")
            print(f"{name}: panning {frames:.0f} frames/s, {frames / FRAMES_PER_S:.2f} × the bound")
        browser.close()
        server.should_exit = True


if __name__ == "__main__":
    main()
