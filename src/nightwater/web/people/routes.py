"""The People page: who may do what, and one-time links to invite them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from starlette.responses import RedirectResponse, Response

from nightwater.web.access.links import invitation_token
from nightwater.web.access.people import (
    Person,
    add_person,
    change_role,
    people,
    person_by_id,
    remove_person,
)
from nightwater.web.access.roles import MEANING, Deed, Role
from nightwater.web.doorway import CurrentServer, CurrentVisit, OwnForm, Visit, allowed

router = APIRouter(prefix="/people")
_GUARDS = [allowed(Deed.PEOPLE), OwnForm]


def _page(visit: Visit, invitation: tuple[Person, str] | None = None) -> Response:
    return visit.page(
        "people/page.html",
        everybody=people(visit.server.access),
        invitation=invitation,
        meaning=MEANING,
        host=str(visit.request.base_url).rstrip("/"),
    )


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """Everybody on this course."""
    return _page(visit)


@router.post("/invite", dependencies=_GUARDS)
def invite(
    visit: CurrentVisit,
    name: Annotated[str, Form()] = "",
    role: Annotated[Role, Form()] = Role.VIEWER,
) -> Response:
    """Make an account and show its one-time link, this once."""
    server = visit.server
    added = add_person(server.access, name, role, server.now())
    return _page(visit, (added, invitation_token(server.access, added.id, server.now())))


@router.post("/link", dependencies=_GUARDS)
def new_link(visit: CurrentVisit, who: Annotated[str, Form()]) -> Response:
    """A new one-time link, for somebody who forgot the password or let the link grow old."""
    access = visit.server.access
    link = invitation_token(access, who, visit.server.now())
    return _page(visit, (person_by_id(access, who), link))


@router.post("/role", dependencies=_GUARDS)
def give_role(
    server: CurrentServer, who: Annotated[str, Form()], role: Annotated[Role, Form()]
) -> Response:
    """Give somebody another role."""
    change_role(server.access, who, role)
    return RedirectResponse("/people", 303)


@router.post("/remove", dependencies=_GUARDS)
def remove(server: CurrentServer, who: Annotated[str, Form()]) -> Response:
    """Take an account away; what it approved keeps its name."""
    remove_person(server.access, who)
    return RedirectResponse("/people", 303)
