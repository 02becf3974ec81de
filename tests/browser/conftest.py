"""A real Chromium on the demo course, served on the loopback address."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = (
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
NOW = datetime(2025, 7, 10, 21, tzinfo=UTC)
PASSWORD = "dry fairway seven"
SHOTS = Path(__file__).parents[2] / "build" / "screenshots"


@dataclass(frozen=True)
class Site:
    """Where the demo is served, and the first owner's link."""

    address: str
    link: str


@pytest.fixture(scope="session")
def demo_course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from nightwater.demo.build import build_demo

    return build_demo(tmp_path_factory.mktemp("demo"), lambda _step: None)


def _started(server: Any) -> int:
    for _ in range(200):
        if server.started:
            return int(server.servers[0].sockets[0].getsockname()[1])
        time.sleep(0.05)  # another thread starts the server; there is no clock to pass in
    raise RuntimeError("the page server did not start")


@contextmanager
def serving(course: Path) -> Iterator[Site]:
    """A course served from another thread."""
    import uvicorn

    from nightwater.demo.build import DEMO_NIGHT
    from nightwater.web.app import create_app, first_owner_link

    app = create_app(course, now=lambda: NOW, today=lambda: DEMO_NIGHT)
    link = first_owner_link(app)
    assert link is not None
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield Site(f"http://127.0.0.1:{_started(server)}", link)
    server.should_exit = True
    thread.join(timeout=10)


@pytest.fixture(scope="session")
def site(demo_course: Path) -> Iterator[Site]:
    with serving(demo_course) as served:
        yield served


@pytest.fixture(scope="session")
def editing_site(demo_course: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A copy of the demo, so that its record may be changed."""
    course = tmp_path_factory.mktemp("edited") / "edited.gpkg"
    shutil.copy(demo_course, course)
    with serving(course) as served:
        yield served


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    if not CHROMIUM.exists():
        pytest.skip("there is no Chromium at /usr/bin/chromium (Debian: apt install chromium)")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        yield browser
        browser.close()


def _first_owner(chromium: Any, site: Site) -> dict[str, Any]:
    """Cookies of Ines, who has used the first owner's link."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(site.address + site.link)
    page.get_by_label("Your name").fill("Ines Calloran")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Set the password and go in").click()
    page.wait_for_url("**/tonight")
    state: dict[str, Any] = context.storage_state()
    context.close()
    return state


@pytest.fixture(scope="session")
def signed_in(chromium: Any, site: Site) -> dict[str, Any]:
    return _first_owner(chromium, site)


@pytest.fixture(scope="session")
def editor_signed_in(chromium: Any, editing_site: Site) -> dict[str, Any]:
    return _first_owner(chromium, editing_site)


@dataclass
class Watched:
    """A page, and everything its console complained about."""

    page: Any
    address: str
    complaints: list[str]

    def open(self, path: str) -> None:
        self.page.goto(self.address + path)
        self.page.wait_for_load_state("networkidle")


@pytest.fixture
def watched(
    chromium: Any, site: Site, signed_in: dict[str, Any], request: Any
) -> Iterator[Watched]:
    """A page of Ines; parametrize indirectly with context options, such as a viewport."""
    options = {"viewport": {"width": 1440, "height": 900}} | getattr(request, "param", {})
    context = chromium.new_context(storage_state=signed_in, **options)
    context.set_default_timeout(8000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.on(
        "console",
        lambda said: complaints.append(said.text) if said.type == "error" else None,
    )
    yield Watched(page, site.address, complaints)
    context.close()
