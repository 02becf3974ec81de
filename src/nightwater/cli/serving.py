"""Start the page server on this machine."""

from __future__ import annotations

import socket
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import uvicorn

from nightwater.cli.printing import say
from nightwater.desk.course import open_course
from nightwater.findings import UserError
from nightwater.web.app import create_app, first_owner_link

HOST = "127.0.0.1"


def _check_free(port: int) -> None:
    """Refuse a port that another program listens on, before anything is said to be served."""
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HOST, port))
        except OSError as problem:
            raise UserError(
                f"Port {port} of {HOST} cannot be used ({problem.strerror}). "
                "Name another with --port."
            ) from None


def serve_course(course: Path, port: int, today: Callable[[], date] | None = None) -> None:
    """Serve a course until interrupted.

    Args:
        course: the course file.
        port: on the loopback address.
        today: what date the pages open on; the course's local date if not given.

    Raises:
        UserError: the port is taken, or the file is no course.
    """
    _check_free(port)
    with open_course(course) as opened:
        site = opened.settings.site
        zone = ZoneInfo(site.timezone)
        planned = opened.file.nights()["night"].tolist() if site.invented else []
    if today is None and planned:
        # A demo lives in its own year: its pages open on its last night.
        last = date.fromisoformat(max(planned))
        today = lambda: last  # noqa: E731
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
