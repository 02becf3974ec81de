"""Errors as pages: a person's mistakes in their own words, bugs with a short number."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Mapping
from typing import Final
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from nightwater.findings import ConflictError, NotAllowedError, NotFoundError, UserError
from nightwater.web.access.attempts import TooManyAttemptsError
from nightwater.web.doorway import LoginNeededError
from nightwater.web.server import render

LOG: Final = logging.getLogger("nightwater.web")
STATUS: Final[Mapping[type[UserError], int]] = {
    UserError: 400,
    NotAllowedError: 403,
    NotFoundError: 404,
    ConflictError: 409,
    TooManyAttemptsError: 429,
}
TITLES: Final = {
    400: "That will not do",
    403: "Not allowed",
    404: "Not found",
    405: "Not possible here",
    409: "Somebody else was first",
    429: "Too many tries",
    500: "Something broke",
}


def status_of(mistake: UserError) -> int:
    """The HTTP status of a person's mistake: that of its nearest class in the table."""
    return next(STATUS[kind] for kind in type(mistake).__mro__ if kind in STATUS)


def error_page(request: Request, status: int, message: str) -> Response:
    """A page with one sentence."""
    title = TITLES.get(status, "That did not work")
    return render(request, "frame/error.html", status=status, title=title, message=message)


def _mistake(request: Request, mistake: Exception) -> Response:
    assert isinstance(mistake, UserError)  # registered for nothing else
    return error_page(request, status_of(mistake), str(mistake))


def _refusal(request: Request, refusal: Exception) -> Response:
    assert isinstance(refusal, HTTPException)  # registered for nothing else
    lost = refusal.status_code == 404
    message = "There is no such page." if lost else f"{refusal.detail}."
    return error_page(request, refusal.status_code, message)


def _misread(request: Request, problem: Exception) -> Response:
    assert isinstance(problem, RequestValidationError)  # registered for nothing else
    parts = [f"'{fault['loc'][-1]}': {fault['msg']}" for fault in problem.errors()]
    told = f"The address or form is not as it should be: {'; '.join(parts)}."
    return error_page(request, 400, told)


def _to_login(request: Request, _need: Exception) -> Response:
    if "hx-request" in request.headers:
        return Response(status_code=204, headers={"HX-Redirect": "/login"})
    wanted = request.url.path if request.method == "GET" else "/"
    if request.method == "GET" and request.url.query:
        wanted += f"?{request.url.query}"
    return RedirectResponse(f"/login?next={quote(wanted, safe='')}", 303)


def add_error_pages(app: FastAPI) -> None:
    """Register the handlers."""
    app.add_exception_handler(UserError, _mistake)
    app.add_exception_handler(HTTPException, _refusal)
    app.add_exception_handler(RequestValidationError, _misread)
    app.add_exception_handler(LoginNeededError, _to_login)


class BugPages:
    """Log what nobody expected under a short number, and show that number."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, with a page even where the code failed."""
        started = False

        async def send_noted(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, receive, send_noted)
        except ClientDisconnect:
            return
        except Exception as bug:
            number = secrets.token_hex(3)
            LOG.error("bug %s at %s", number, scope.get("path"), exc_info=bug)
            if started or scope["type"] != "http":
                raise
            text = f"Something broke; this is our fault. The log has it under {number}."
            await self._page(scope, receive, send, text)

    @staticmethod
    async def _page(scope: Scope, receive: Receive, send: Send, text: str) -> None:
        try:
            page = error_page(Request(scope), 500, text)
        except Exception:  # the page itself may be what is broken
            page = PlainTextResponse(text, 500)
        await page(scope, receive, send)
