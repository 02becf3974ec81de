"""Editing the record from the map: script asks, the core decides, every answer is JSON."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Body
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import JSONResponse, Response

from nightwater.desk import editing
from nightwater.desk.checking import check
from nightwater.desk.conflicts import EditConflictError
from nightwater.findings import ConflictError, Finding
from nightwater.ground.edits.operations import OperationError
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnScript, Visit, allowed
from nightwater.web.ground import edit_view
from nightwater.web.ground.table_rows import found_rows, rows_document
from nightwater.web.json_answers import JsonRoute
from nightwater.web.state import SearchText

router = APIRouter(prefix="/ground", route_class=JsonRoute)
_GUARDS: Final = [allowed(Deed.RECORD), OwnScript]
Text = Annotated[str, Field(max_length=500)]


class _Sent(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Trial(_Sent):
    """Operations to be tried."""

    operations: Any


class Edit(_Sent):
    """Operations to be saved, and the marks of the rows that the person saw."""

    operations: Any
    seen: dict[str, str] = {}
    why: Text = ""


class Undo(_Sent):
    """A revision to be taken back."""

    revision: Text
    why: Text = ""


def _findings(visit: Visit) -> list[Finding]:
    return visit.server.courses.remembered("findings", lambda: check(visit.course))


def _impossible(why: OperationError) -> Response:
    return JSONResponse({"message": str(why), "at": why.at}, 400)


@router.post("/edit/preview", dependencies=_GUARDS)
def preview(visit: CurrentVisit, sent: Annotated[Trial, Body()]) -> Response:
    """What operations would make of the record; nothing is saved."""
    try:
        found = editing.preview(visit.course, sent.operations, _findings(visit))
    except OperationError as why:
        return _impossible(why)
    return JSONResponse(edit_view.preview_document(found))


@router.post("/edit", dependencies=_GUARDS)
def save(visit: CurrentVisit, sent: Annotated[Edit, Body()]) -> Response:
    """Save operations as one revision, or tell who was first."""
    try:
        saved = editing.save(
            visit.course,
            sent.operations,
            sent.seen,
            who=visit.person.name,
            why=sent.why,
            now=visit.server.now(),
            known=_findings(visit),
        )
    except OperationError as why:
        return _impossible(why)
    except EditConflictError as conflict:
        told = [edit_view.conflict_document(one) for one in conflict.conflicts]
        return JSONResponse({"message": str(conflict), "conflicts": told}, 409)
    return JSONResponse(edit_view.saved_document(saved))


@router.post("/undo", dependencies=_GUARDS)
def undo(visit: CurrentVisit, sent: Annotated[Undo, Body()]) -> Response:
    """Take a revision back, unless later work builds on it."""
    why = sent.why.strip() or f"undo of revision {sent.revision}"
    try:
        saved = editing.take_back(
            visit.course,
            sent.revision,
            who=visit.person.name,
            why=why,
            now=visit.server.now(),
            known=_findings(visit),
        )
    except ConflictError as conflict:
        return JSONResponse({"message": str(conflict), "conflicts": []}, 409)
    return JSONResponse(edit_view.saved_document(saved))


@router.get("/rows")
def rows(visit: CurrentVisit, table: str, find: SearchText = "") -> Response:
    """The rows of a table with their marks; those that hold a text, where one is given."""
    course = visit.course
    document = visit.server.courses.remembered(
        f"rows {table}", lambda: rows_document(course.kept, course.ground, table)
    )
    return JSONResponse({**document, "rows": found_rows(document["rows"], find)})


@router.get("/wets")
def wets(visit: CurrentVisit, x: float, y: float) -> Response:
    """Which heads wet a spot, and how much each gives."""
    return JSONResponse(edit_view.wets_document(visit.course.ground, x, y))


@router.get("/history")
def history(visit: CurrentVisit, subject: str) -> Response:
    """What revisions did to a row, the newest first."""
    past = editing.row_history(visit.course, subject)
    return JSONResponse(edit_view.history_document(past, visit.course.settings.site.timezone))
