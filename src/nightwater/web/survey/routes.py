"""The Survey page: send a file, say what it is, look, and accept in part or whole."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi import Query as InAddress
from starlette.responses import RedirectResponse, Response

from nightwater.desk.surveying import accept_some, look_at_file, parts_of, survey_file
from nightwater.findings import UserError
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.propose import Proposal
from nightwater.survey.sources import ENDINGS
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.survey import view
from nightwater.web.survey.said import Chosen, Said
from nightwater.web.survey.uploads import Uploads

router = APIRouter(prefix="/survey")
_GUARDS = [allowed(Deed.RECORD), OwnForm]


def uploads_of(request: Request) -> Uploads:
    """The files that people look at on this server."""
    kept: Uploads = request.app.state.uploads
    return kept


def _proposal(visit: Visit, sent: str, said: Said) -> Proposal:
    path = uploads_of(visit.request).path(visit.person.id, sent)
    return survey_file(visit.course, path, said.table, said.options(), complete=said.complete)


def _looked(visit: Visit, sent: str, said: Said) -> dict[str, Any]:
    """What the page shows: columns and proposal, or why the file cannot be read so."""
    path = uploads_of(visit.request).path(visit.person.id, sent)
    try:
        options = said.options()
    except UserError as wrong:
        return {"layers": [], "columns": [], "proposal": None, "parts": [], "fault": str(wrong)}
    found = look_at_file(visit.course, path, said.table, options, complete=said.complete)
    parts = [] if found.proposal is None else view.parts(found.proposal)
    return {**vars(found), "parts": parts}


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """Choose a file and the table it fills."""
    return visit.page("survey/page.html", tables=GROUND_TABLES, endings=ENDINGS)


@router.post("/read", dependencies=_GUARDS)
def read(
    visit: CurrentVisit,
    file: Annotated[UploadFile, File()],
    table: Annotated[str, Form()] = "heads",
) -> Response:
    """Take a file in; nothing of it is in the record yet."""
    content = file.file.read()
    sent = uploads_of(visit.request).keep(visit.person.id, file.filename or "", content)
    return RedirectResponse(f"/survey/{sent}?table={table}", 303)


@router.get("/{sent}")
def look(visit: CurrentVisit, sent: str, said: Annotated[Said, InAddress()]) -> Response:
    """What the file would change, by what is said of it."""
    path = uploads_of(visit.request).path(visit.person.id, sent)
    return visit.page(
        "survey/look.html",
        sent=sent,
        name=path.name,
        said=said,
        tables=GROUND_TABLES,
        ours=["id", *TABLES[said.table].by_name] if said.table in TABLES else [],
        query=visit.request.url.query,
        **_looked(visit, sent, said),
    )


@router.post("/{sent}/accept", dependencies=_GUARDS)
def accept(
    visit: CurrentVisit,
    sent: str,
    said: Annotated[Said, InAddress()],
    chosen: Annotated[Chosen, Form()],
) -> Response:
    """Make the chosen parts and rows part of the record, as one revision."""
    proposal = _proposal(visit, sent, said)
    whole = {key for name in chosen.part for key in parts_of(proposal).get(name, {})}
    revision = accept_some(
        visit.course,
        proposal,
        whole | set(chosen.row),
        who=visit.person.name,
        why=chosen.why.strip() or f"survey of {said.table}",
        now=visit.server.now(),
    )
    if revision is None:
        raise UserError("Nothing was chosen, so nothing was changed.")
    uploads_of(visit.request).forget(visit.person.id, sent)
    return RedirectResponse("/ground", 303)
