"""What every page needs: the course, the people, the clock, and how a template is rendered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from nightwater.desk.sheet import clock as clock_at
from nightwater.units import UnitSystem
from nightwater.web import assets, figures
from nightwater.web.access.file import AccessFile
from nightwater.web.access.roles import Deed, Role, why_not
from nightwater.web.access.sessions import SESSION_COOKIE, form_token
from nightwater.web.findings_shown import grouped
from nightwater.web.reading import CourseReader

# What each reader chooses for this device; the first is what holds without a choice.
CHOICES: Final = {"theme": ("auto", "light", "dark"), "units": ("auto", *UnitSystem)}
FILTERS: Final = (
    "quantity", "fine", "plain", "minutes", "percent", "text_or", "local_moment", "day", "counted",
    "clock", "signed_minutes", "signed_water",
)  # fmt: skip
FOLDER: Final = Path(__file__).parent


def environment() -> Environment:
    """Templates that stand beside their routes; a name that is not given is an error."""
    made = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {name: getattr(figures, name) for name in FILTERS}
    made.filters |= {"clock_at": clock_at, "grouped": grouped}
    made.globals |= {"Deed": Deed, "Role": Role, "why_not": why_not, "choices": CHOICES}
    return made


@dataclass(frozen=True)
class Server:
    """One course served; lives in `app.state.server`.

    Attributes:
        courses: opens the course.
        access: people and sessions.
        now: the present instant.
        today: the date on which the pages open.
        secure_cookies: whether cookies travel over HTTPS only.
        templates: of all pages.
    """

    courses: CourseReader
    access: AccessFile
    now: Callable[[], datetime]
    today: Callable[[], date]
    secure_cookies: bool
    templates: Environment


def server_of(request: Request) -> Server:
    """The server that answers this request."""
    server: Server = request.app.state.server
    return server


def choice_cookie(name: str) -> str:
    """The cookie that keeps a choice."""
    return f"nightwater_{name}"


def chosen(request: Request, name: str) -> str:
    """What the reader chose of `CHOICES`, or what holds without a choice."""
    value = request.cookies.get(choice_cookie(name), "")
    return value if value in CHOICES[name] else CHOICES[name][0]


def wants_fragment(request: Request) -> bool:
    """Whether the page asks for a part of itself instead of the whole."""
    return request.headers.get("hx-request-type") == "partial"


def render(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A page or fragment; whoever shows one of the course goes through `Visit.page`."""
    server = server_of(request)
    context = {
        "assets": assets.manifest(),
        "theme": chosen(request, "theme"),
        "chosen_units": chosen(request, "units"),
        "token": form_token(server.access, request.cookies.get(SESSION_COOKIE)),
        "path": request.url.path,
        "person": None,
        "site": None,
    } | values
    return HTMLResponse(server.templates.get_template(template).render(context), status)
