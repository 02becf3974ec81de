"""The Morning page: did it happen, and what to rescue before play."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.morning import morning
from nightwater.desk.nights import StoredNight, approved_night, night_by_id, required_approved
from nightwater.desk.rehearsing import rehearse
from nightwater.desk.rescue_sheet import rescue_begin, rescue_pdf
from nightwater.findings import NotFoundError
from nightwater.proof.verdict import Proof
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.morning import view
from nightwater.web.morning.faults import FaultsForm, faults_of
from nightwater.web.morning.flow import proof_chart
from nightwater.web.morning.view import Query
from nightwater.web.places import labels

router = APIRouter(prefix="/morning")
Asked = Annotated[Query, InAddress()]


def _common(visit: Visit, query: Query, night: date, stored: StoredNight | None) -> dict[str, Any]:
    return {
        "query": query,
        "night": night,
        "morning": night + timedelta(days=1),
        "stored": stored,
        "before": f"/morning?night={night - timedelta(days=1)}",
        "after": f"/morning?night={night + timedelta(days=1)}",
        "why_not_rehearse": view.why_not_rehearse(visit, stored),
        "controllers": labels(visit.course.ground.controllers),
    }


def _proved(visit: Visit, stored: StoredNight, proof: Proof, query: Query) -> dict[str, Any]:
    zone, places = visit.course.settings.site.timezone, visit.places
    found = view.found_lines(view.station_lines(proof, places), query, places)
    return {
        "proof": proof,
        "word": view.WORDS[proof.verdict],
        "counts": view.counts(proof),
        "station_words": view.STATION_WORDS,
        "rescue": view.rescue_lines(proof, stored.plan, places, zone),
        "causes": view.causes(proof),
        "rescue_rows": len(proof.rescue) if query.all else view.FIRST_RESCUES,
        "found": len(found),
        "lines": found if query.all else found[: view.FIRST_ROWS],
    }


@router.get("")
def page(visit: CurrentVisit, asked: Asked) -> Response:
    """The morning after a night: last night's, where none is named."""
    night = asked.night or visit.server.today() - timedelta(days=1)
    query = asked.model_copy(update={"night": night})
    stored = approved_night(visit.course, night)
    common = _common(visit, query, night, stored)
    if stored is None or stored.proof is None:
        return visit.page("morning/empty.html", **common)
    return visit.page("morning/page.html", **common, **_proved(visit, stored, stored.proof, query))


def _proof(visit: Visit, night: date) -> tuple[StoredNight, Proof]:
    stored = required_approved(visit.course, night)
    if stored.proof is None:
        raise NotFoundError(f"The night of {night} is not proved yet.")
    return stored, stored.proof


@router.get("/rescue.pdf")
def rescue_sheet(visit: CurrentVisit, night: date, begin: str = "") -> Response:
    """The rescue list on one page, to be walked before play."""
    stored, _ = _proof(visit, night)
    settings = visit.course.settings
    first = rescue_begin(stored, settings, begin or None)
    content = rescue_pdf(stored, visit.course.ground, settings, units=visit.units, begin=first)
    named = {"content-disposition": f'inline; filename="rescue-{night}.pdf"'}
    return Response(content, media_type="application/pdf", headers=named)


@router.get("/flow.json")
def flow_chart(visit: CurrentVisit, night: date) -> Response:
    """The chart of planned, commanded and metered flow."""
    stored, proof = _proof(visit, night)
    site = visit.course.settings.site
    return JSONResponse(proof_chart(proof, stored.plan, visit.units, site.timezone))


@router.get("/values.json")
def map_values(visit: CurrentVisit, night: date) -> Response:
    """The verdicts by which the map is marked."""
    return JSONResponse(view.map_values(_proof(visit, night)[1], visit.places))


@router.post("/prove", dependencies=[allowed(Deed.PLAN), OwnForm])
def prove(visit: CurrentVisit, night: Annotated[date, Form()]) -> Response:
    """Compare plan, log and meter as they stand now."""
    morning(visit.course, night)
    return RedirectResponse(f"/morning?night={night}", 303)


@router.post("/rehearse", dependencies=[allowed(Deed.REHEARSE), OwnForm])
def rehearse_night(visit: CurrentVisit, form: Annotated[FaultsForm, Form()]) -> Response:
    """Run an approved night of a demo against the simulated field, then prove it."""
    site, places = visit.course.settings.site, visit.places
    if not site.invented:
        raise NotFoundError("Only a demo course can be rehearsed from this page.")
    faults = faults_of(form, places.station_label, visit.units)
    seed = int(visit.server.now().timestamp())
    rehearse(visit.course, form.night_id, faults=faults, seed=seed)
    night = night_by_id(visit.course, form.night_id).plan.night
    morning(visit.course, night)
    return RedirectResponse(f"/morning?night={night}", 303)
