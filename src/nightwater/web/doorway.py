"""Who asks: the dependencies that routes declare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import Depends, Form, Header, Request
from starlette.responses import Response

from nightwater.desk.course import Course
from nightwater.findings import NotAllowedError
from nightwater.units import UnitSystem
from nightwater.web.access.people import Person
from nightwater.web.access.roles import Deed, check_may
from nightwater.web.access.sessions import SESSION_COOKIE, is_own_form, session_person
from nightwater.web.places import Places, places_of
from nightwater.web.server import Server, chosen, render, server_of

TOKEN_HEADER: Final = "x-nightwater-token"


class LoginNeededError(Exception):
    """Nobody is logged in; the answer is the way to the login page."""


def current_person(request: Request) -> Person:
    """Who is logged in.

    Raises:
        LoginNeededError: nobody is.
    """
    server = server_of(request)
    cookie = request.cookies.get(SESSION_COOKIE)
    person = session_person(server.access, cookie, server.now()) if cookie else None
    if person is None:
        raise LoginNeededError
    return person


def check_form_token(request: Request, token: Annotated[str, Form()] = "") -> None:
    """Refuse a form that this session's pages did not make.

    Raises:
        NotAllowedError: the token is missing, stale or another session's.
    """
    cookie = request.cookies.get(SESSION_COOKIE)
    if not is_own_form(server_of(request).access, cookie, token):
        raise NotAllowedError("This form is too old or not from this page. Load the page again.")


def check_page_token(
    request: Request, token: Annotated[str, Header(alias=TOKEN_HEADER)] = ""
) -> None:
    """Refuse what script sends unless it brings the token of this session's page.

    Raises:
        NotAllowedError: the token is missing, stale or another session's.
    """
    check_form_token(request, token)


CurrentServer = Annotated[Server, Depends(server_of)]
CurrentPerson = Annotated[Person, Depends(current_person)]


def open_for_request(request: Request, _person: CurrentPerson) -> Iterator[Course]:
    """The course, open while the request of somebody who is logged in is answered."""
    with server_of(request).courses.open() as course:
        yield course


CurrentCourse = Annotated[Course, Depends(open_for_request)]


@dataclass(frozen=True)
class Visit:
    """Somebody who is logged in asks for something of the course.

    Attributes:
        request: what was asked.
        person: who asks.
        course: the course, open until the answer is made.
        server: clock, people, templates.
    """

    request: Request
    person: Person
    course: Course
    server: Server

    @property
    def units(self) -> UnitSystem:
        """What this person reads: chosen for the device, else what the course uses."""
        choice = chosen(self.request, "units")
        return self.course.settings.site.units if choice == "auto" else UnitSystem(choice)

    @property
    def places(self) -> Places:
        """What things are called; kept until the course file changes."""
        return self.server.courses.remembered("places", lambda: places_of(self.course.ground))

    def page(self, template: str, **values: Any) -> Response:
        """A page of the course for this person."""
        site = self.course.settings.site
        common: dict[str, Any] = {
            "site": site,
            "units": self.units,
            "zone": site.timezone,
            "person": self.person,
        }
        return render(self.request, template, **(common | values))


def visit(
    request: Request, person: CurrentPerson, course: CurrentCourse, server: CurrentServer
) -> Visit:
    """The dependency that makes a visit."""
    return Visit(request, person, course, server)


CurrentVisit = Annotated[Visit, Depends(visit)]
OwnForm = Depends(check_form_token)
OwnScript = Depends(check_page_token)


def allowed(deed: Deed) -> Any:
    """A dependency that refuses those whose role does not cover the deed."""

    def check(person: CurrentPerson) -> None:
        check_may(person.role, deed)

    return Depends(check)
