"""Log in, log out, and set a password through a one-time link."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from nightwater.findings import NotFoundError, UserError
from nightwater.web.access.attempts import check_attempts, forget_failures, note_failure
from nightwater.web.access.links import invited, use_link
from nightwater.web.access.people import LEAST_PASSWORD, Person, person_with_password
from nightwater.web.access.sessions import (
    SESSION_COOKIE,
    SESSION_LIFE,
    begin_session,
    end_session,
)
from nightwater.web.doorway import CurrentServer, OwnForm
from nightwater.web.errors import status_of
from nightwater.web.frame.routes import own_path
from nightwater.web.server import Server, render

router = APIRouter()


class WrongPasswordError(UserError):
    """Name and password do not belong together; it does not say which is wrong."""


def _address(request: Request) -> str:
    return request.client.host if request.client else "unknown"


def _entered(server: Server, person: Person, path: str) -> Response:
    answer = RedirectResponse(path, 303)
    answer.set_cookie(
        SESSION_COOKIE,
        begin_session(server.access, person, server.now()),
        max_age=int(SESSION_LIFE.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=server.secure_cookies,
    )
    return answer


def checked_login(server: Server, name: str, password: str, address: str) -> Person:
    """Whose name and password these are.

    Raises:
        TooManyAttemptsError: too many failures lately.
        WrongPasswordError: they do not belong together.
    """
    now = server.now()
    check_attempts(server.access, name, address, now)
    person = person_with_password(server.access, name, password)
    if person is None:
        note_failure(server.access, name, address, now)
        raise WrongPasswordError("Name and password do not belong together. Try again.")
    forget_failures(server.access, name, address)
    return person


def _login_page(request: Request, wanted: str, name: str, mistake: UserError | None) -> Response:
    status = 200 if mistake is None else status_of(mistake)
    return render(
        request, "account/login.html", status=status, wanted=wanted, name=name, mistake=mistake
    )


@router.get("/login")
def login_page(request: Request, next: str = "/") -> Response:
    """Ask for name and password."""
    return _login_page(request, own_path(next), "", None)


@router.post("/login", dependencies=[OwnForm])
def login(
    request: Request,
    server: CurrentServer,
    name: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
    wanted: Annotated[str, Form()] = "/",
) -> Response:
    """Begin a session, or say why not."""
    try:
        person = checked_login(server, name, password, _address(request))
    except UserError as mistake:
        return _login_page(request, own_path(wanted), name, mistake)
    return _entered(server, person, own_path(wanted))


@router.post("/logout", dependencies=[OwnForm])
def logout(request: Request, server: CurrentServer) -> Response:
    """End the session here."""
    end_session(server.access, request.cookies.get(SESSION_COOKIE, ""))
    answer = RedirectResponse("/login", 303)
    answer.delete_cookie(SESSION_COOKIE)
    return answer


def _welcome(
    request: Request, token: str, person: Person | None, mistake: UserError | None, name: str = ""
) -> Response:
    return render(
        request,
        "account/welcome.html",
        status=200 if mistake is None else status_of(mistake),
        link=token,
        invitee=person,
        mistake=mistake,
        name=name,
        least_password=LEAST_PASSWORD,
    )


@router.get("/welcome/{link}")
def welcome_page(request: Request, server: CurrentServer, link: str) -> Response:
    """Ask whom a one-time link lets in for a password. Looking does not use it up."""
    return _welcome(request, link, invited(server.access, link, server.now()), None)


@router.post("/welcome/{link}", dependencies=[OwnForm])
def welcome(
    request: Request,
    server: CurrentServer,
    link: str,
    name: Annotated[str, Form()] = "",
    password: Annotated[str, Form()] = "",
) -> Response:
    """Set the password and begin a session; the link is used up."""
    try:
        person = use_link(server.access, link, name, password, server.now())
    except NotFoundError:
        raise
    except UserError as mistake:
        who = invited(server.access, link, server.now())
        return _welcome(request, link, who, mistake, name)
    return _entered(server, person, "/")
