"""The History page: who changed what, when and why; any revision can be taken back."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, Query
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.figures import local_moment

router = APIRouter(prefix="/history")
PER_PAGE: Final = 50


def revision_lines(visit: Visit) -> list[dict[str, Any]]:
    """Every revision, the newest first; `undone_by` names the one that took it back."""
    rows = visit.course.file.revisions()
    taken_back = {str(u): str(key) for key, u in rows["undoes"].items() if isinstance(u, str)}
    lines = [
        {
            "revision": str(revision),
            "time": local_moment(
                datetime.fromisoformat(row["time"]), visit.course.settings.site.timezone
            ),
            "undone_by": taken_back.get(str(revision)),
            "undoes": row["undoes"] if isinstance(row["undoes"], str) else None,
            **{name: row[name] for name in ("who", "why", "summary")},
        }
        for revision, row in rows.iterrows()
    ]
    return lines[::-1]


@router.get("")
def page(visit: CurrentVisit, first: Annotated[int, Query(ge=0)] = 0) -> Response:
    """The accepted changes, the newest first."""
    lines = revision_lines(visit)
    return visit.page(
        "history/page.html",
        lines=lines[first : first + PER_PAGE],
        count=len(lines),
        older=first + PER_PAGE if first + PER_PAGE < len(lines) else None,
    )


@router.get("/revisions.json")
def revisions(visit: CurrentVisit) -> Response:
    """The newest accepted changes, for the editor of the ground."""
    return JSONResponse({"revisions": revision_lines(visit)[:PER_PAGE]})


@router.post("/undo", dependencies=[allowed(Deed.RECORD), OwnForm])
def undo(
    visit: CurrentVisit, revision: Annotated[str, Form()], why: Annotated[str, Form()] = ""
) -> Response:
    """Take a revision back as a new one; refused where later work builds on it."""
    reason = why.strip() or f"revision {revision} taken back"
    visit.course.file.undo(revision, visit.person.name, reason, visit.server.now())
    return RedirectResponse("/history", 303)
