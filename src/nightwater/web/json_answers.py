"""Routes that script talks to: every answer is JSON, also where it says no."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any, Final

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from nightwater.findings import UserError
from nightwater.web.doorway import LoginNeededError
from nightwater.web.errors import status_of

Handler = Callable[[Request], Coroutine[Any, Any, Response]]
LOG_IN_AGAIN: Final = "You are not logged in any more. Log in in another tab, then try again here."


def refused(mistake: UserError) -> Response:
    """A person's mistake in its own words."""
    return JSONResponse({"message": str(mistake)}, status_of(mistake))


def _misread(problem: RequestValidationError) -> Response:
    parts = [
        f"'{'.'.join(map(str, fault['loc'][1:]))}': {fault['msg']}" for fault in problem.errors()
    ]
    return JSONResponse({"message": f"This does not read: {'; '.join(parts)}."}, 400)


class JsonRoute(APIRoute):
    """A route that tells mistakes as JSON, with the statuses of the pages."""

    def get_route_handler(self) -> Handler:
        """The handler with its mistakes told as JSON."""
        handle = super().get_route_handler()

        async def answered(request: Request) -> Response:
            try:
                return await handle(request)
            except UserError as mistake:
                return refused(mistake)
            except LoginNeededError:
                return JSONResponse({"message": LOG_IN_AGAIN}, 401)
            except RequestValidationError as problem:
                return _misread(problem)
            except HTTPException as refusal:
                return JSONResponse({"message": f"{refusal.detail}."}, refusal.status_code)

        return answered
