"""The page server of one course."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Final

from fastapi import FastAPI
from starlette.middleware.gzip import GZipMiddleware

from nightwater.web.access.file import AccessFile, access_path
from nightwater.web.access.links import first_owner_token
from nightwater.web.account.routes import router as account
from nightwater.web.audits.routes import router as audits
from nightwater.web.capacity.routes import router as capacity
from nightwater.web.course_map.routes import router as course_map
from nightwater.web.coverage.fix_routes import router as coverage_fixes
from nightwater.web.coverage.routes import router as coverage
from nightwater.web.coverage.try_routes import router as coverage_trials
from nightwater.web.errors import BugPages, add_error_pages
from nightwater.web.film.routes import router as film
from nightwater.web.frame.routes import router as frame
from nightwater.web.ground.edit_routes import router as ground_edits
from nightwater.web.ground.editor import router as ground_editor
from nightwater.web.ground.routes import router as ground
from nightwater.web.history.routes import router as history
from nightwater.web.holds.routes import router as holds
from nightwater.web.images.bringing import router as bringing_images
from nightwater.web.images.routes import router as images
from nightwater.web.images.sent import SentPictures
from nightwater.web.ledger.routes import router as ledger
from nightwater.web.morning.routes import router as morning
from nightwater.web.numbers.routes import router as numbers
from nightwater.web.people.routes import router as people
from nightwater.web.photos.routes import router as photos
from nightwater.web.pressures.routes import router as pressures
from nightwater.web.reading import CourseReader
from nightwater.web.reconcile.routes import router as reconcile
from nightwater.web.security import BodyLimit, SameSiteWrites, SecurityHeaders
from nightwater.web.server import Server, environment
from nightwater.web.shut_off.routes import router as shut_off
from nightwater.web.survey.routes import router as survey
from nightwater.web.survey.uploads import Uploads
from nightwater.web.tonight.pins import router as pins
from nightwater.web.tonight.routes import router as tonight
from nightwater.web.trims.routes import router as trims

LEAST_GZIP_BYTES: Final = 1000
ROUTERS: Final = (
    frame,
    account,
    people,
    course_map,
    capacity,
    tonight,
    pins,
    holds,
    film,
    pressures,
    morning,
    coverage,
    coverage_fixes,
    coverage_trials,
    shut_off,
    ground,
    ground_editor,
    ground_edits,
    images,
    bringing_images,
    photos,
    ledger,
    history,
    reconcile,
    survey,
    numbers,
    audits,
    trims,
)


def create_app(
    course_path: Path,
    *,
    now: Callable[[], datetime],
    today: Callable[[], date],
    secure_cookies: bool = False,
) -> FastAPI:
    """The pages of a course as an ASGI application.

    Args:
        course_path: the course file; accounts lie in `<course>.access.sqlite` beside it.
        now: the present instant, zone-aware.
        today: the date on which the pages open.
        secure_cookies: True where the pages are served over HTTPS.
    """
    app = FastAPI(title="nightwater", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.server = Server(
        courses=CourseReader(course_path),
        access=AccessFile(access_path(course_path)),
        now=now,
        today=today,
        secure_cookies=secure_cookies,
        templates=environment(),
    )
    app.state.uploads = Uploads()
    app.state.sent_pictures = SentPictures()
    for router in ROUTERS:
        app.include_router(router)
    add_error_pages(app)
    # The last one added is the outermost.
    for guard in (BodyLimit, SameSiteWrites, BugPages):
        app.add_middleware(guard)
    app.add_middleware(GZipMiddleware, minimum_size=LEAST_GZIP_BYTES)
    app.add_middleware(SecurityHeaders)
    return app


def first_owner_link(app: FastAPI) -> str | None:
    """Path of a fresh one-time link for the first owner, or None where there is one.

    It works once and for a day; a link made before dies.
    """
    server: Server = app.state.server
    token = first_owner_token(server.access, server.now())
    return None if token is None else f"/welcome/{token}"
