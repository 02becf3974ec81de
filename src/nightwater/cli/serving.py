"""Start the page server on this machine."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import uvicorn

from nightwater.cli.printing import say
from nightwater.desk.course import open_course
from nightwater.web.app import create_app, first_owner_link

HOST = "127.0.0.1"


def serve_course(course: Path, port: int, today: Callable[[], date] | None = None) -> None:
    """Serve a course until interrupted.

    Args:
        course: the course file.
        port: on the loopback address.
        today: what date the pages open on; the course's local date if not given.
    """
    with open_course(course) as opened:
        zone = ZoneInfo(opened.settings.site.timezone)
    app = create_app(
        course,
        now=lambda: datetime.now(UTC),
        today=today or (lambda: datetime.now(zone).date()),
    )
    address = f"http://{HOST}:{port}"
    say(f"Serving {course.name} at {address} (stop with Ctrl-C)")
    link = first_owner_link(app)
    if link:
        say(f"First start: open {address}{link} once to make the owner's account.")
    uvicorn.run(app, host=HOST, port=port, log_level="warning")
