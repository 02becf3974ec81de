"""The way in, what a reader chooses, what was built, and whether the server is well."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Final
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response

from nightwater.findings import NotFoundError, UserError
from nightwater.web.assets import DIST
from nightwater.web.doorway import CurrentCourse, CurrentServer, OwnForm
from nightwater.web.server import CHOICES, choice_cookie

router = APIRouter()
MORNING_HOURS: Final = range(3, 11)
_YEAR_S: Final = 365 * 24 * 3600
_TYPES: Final = {".js": "text/javascript", ".css": "text/css"}


def page_of_the_hour(now: datetime, timezone: str) -> str:
    """Morning from three to eleven by the course's clock, Tonight for the rest of the day."""
    hour = now.astimezone(ZoneInfo(timezone)).hour
    return "/morning" if hour in MORNING_HOURS else "/tonight"


@router.get("/")
def start(server: CurrentServer, course: CurrentCourse) -> Response:
    """To the page of the hour."""
    return RedirectResponse(page_of_the_hour(server.now(), course.settings.site.timezone), 303)


@router.get("/healthz")
def health(server: CurrentServer) -> Response:
    """Whether the course file can be opened; for a watchdog, so it needs no login."""
    try:
        with server.courses.open():
            return JSONResponse({"status": "ok"})
    except UserError:
        return JSONResponse({"status": "the course file cannot be opened"}, 503)


@router.get("/static/{name}")
def built(name: str) -> Response:
    """A built script or style; its name changes with its content, so it may be kept for long."""
    path = DIST / name
    if Path(name).name != name or path.suffix not in _TYPES or not path.is_file():
        raise NotFoundError("There is no such file.")
    kept = {"cache-control": f"public, max-age={_YEAR_S}, immutable"}
    return FileResponse(path, media_type=_TYPES[path.suffix], headers=kept)


def own_path(address: str | None) -> str:
    """A path of this server to go back to, and never another site's."""
    parts = urlsplit(address or "/")
    path = parts.path or "/"
    if not path.startswith("/") or path.startswith(("//", "/\\")):
        return "/"
    return f"{path}?{parts.query}" if parts.query else path


@router.post("/choose/{name}", dependencies=[OwnForm])
def choose(
    request: Request, server: CurrentServer, name: str, value: Annotated[str, Form()]
) -> Response:
    """Keep what a reader chooses for this device – day or night, US or metric – in a cookie."""
    if name not in CHOICES:
        raise NotFoundError("There is nothing of this name to choose.")
    answer = RedirectResponse(own_path(request.headers.get("referer")), 303)
    if value in CHOICES[name]:
        answer.set_cookie(
            choice_cookie(name), value, max_age=_YEAR_S, httponly=True, samesite="lax",
            secure=server.secure_cookies,
        )  # fmt: skip
    return answer


def night_or(given: date | None, otherwise: date) -> date:
    """The night a page was asked for, or the one it opens on."""
    return otherwise if given is None else given
