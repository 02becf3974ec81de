"""The small course served to people with names, at an hour that a test sets."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

NIGHT = date(2026, 7, 14)
AFTERNOON = datetime(2026, 7, 14, 21, tzinfo=UTC)  # 15:00 at the course
PASSWORD = "dry fairway seven"
PEOPLE = {"Ines": "owner", "Tomas": "planner", "Pilar": "crew", "Vera": "viewer"}
FROM_PAGE = {"sec-fetch-site": "same-origin"}


@dataclass
class Clock:
    """The hour at which the server thinks it is."""

    moment: datetime = AFTERNOON

    def __call__(self) -> datetime:
        return self.moment

    def go_on(self, **span: float) -> None:
        self.moment += timedelta(**span)


@dataclass
class Visitor:
    """A browser in the hands of somebody."""

    client: TestClient
    app: FastAPI

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def token(self) -> str:
        from nightwater.web.access.sessions import SESSION_COOKIE, form_token

        access = self.app.state.server.access
        return form_token(access, self.client.cookies.get(SESSION_COOKIE))

    def post(self, path: str, headers: dict[str, str] | None = None, **form: Any) -> Any:
        sent = {"token": self.token(), **form}
        return self.client.post(path, data=sent, headers=headers or FROM_PAGE)


@dataclass
class Served:
    """The pages of one course, and the people who look at them."""

    app: FastAPI
    path: Path
    clock: Clock
    visitors: dict[str, Visitor] = field(default_factory=dict)

    def stranger(self) -> Visitor:
        client = TestClient(self.app, follow_redirects=False, raise_server_exceptions=False)
        return Visitor(client, self.app)

    def who(self, name: str) -> Visitor:
        """Somebody who is logged in already."""
        from nightwater.web.access.people import people
        from nightwater.web.access.sessions import SESSION_COOKIE, begin_session

        if name not in self.visitors:
            access = self.app.state.server.access
            person = next(one for one in people(access) if one.name == name)
            visitor = self.stranger()
            cookie = begin_session(access, person, self.clock())
            visitor.client.cookies.set(SESSION_COOKIE, cookie)
            self.visitors[name] = visitor
        return self.visitors[name]


def _people(course: Path) -> None:
    from nightwater.web.access.file import AccessFile, access_path
    from nightwater.web.access.people import add_person, hashed
    from nightwater.web.access.roles import Role

    access, kept = AccessFile(access_path(course)), hashed(PASSWORD)
    for name, role in PEOPLE.items():
        person = add_person(access, name, Role(role), AFTERNOON)
        with access.writing() as rows:
            rows.execute("UPDATE users SET password_hash = ? WHERE id = ?", [kept, person.id])


@pytest.fixture(scope="session")
def planned_course(built_course: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small course with a draft for its night and accounts beside it; do not write to it."""
    from nightwater.desk.course import open_course
    from nightwater.desk.planning import plan

    course = tmp_path_factory.mktemp("planned") / "small.gpkg"
    shutil.copy(built_course, course)
    with open_course(course) as opened:
        plan(opened, NIGHT, who="Tomas", now=AFTERNOON)
    _people(course)
    return course


def serve(course: Path, clock: Clock) -> Served:
    from nightwater.web.app import create_app

    app = create_app(course, now=clock, today=lambda: NIGHT)
    return Served(app, course, clock)


@pytest.fixture
def served(planned_course: Path, tmp_path: Path) -> Served:
    """A copy of the planned course, served."""
    for part in planned_course.parent.iterdir():
        shutil.copy(part, tmp_path / part.name)
    return serve(tmp_path / planned_course.name, Clock())


@pytest.fixture
def served_fresh(small_course: Path) -> Served:
    """The small course without any account, as at the first start."""
    return serve(small_course, Clock())


@pytest.fixture
def as_demo() -> Callable[[Served], None]:
    """Mark a served course as invented, so that it may be rehearsed."""

    def mark(served: Served) -> None:
        from dataclasses import replace

        from nightwater.desk.course import open_course

        with open_course(served.path) as course:
            site = replace(course.settings.site, invented=True)
            course.file.save_settings(
                replace(course.settings, site=site), "Ines", "a test", AFTERNOON
            )

    return mark
