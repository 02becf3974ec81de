"""The Reconcile page: look, judge the doubtful rows, accept hole by hole."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form
from starlette.responses import RedirectResponse, Response

from nightwater.desk.reconciling import Reconciled, accept_matches, reconcile_course
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.reconcile import view

router = APIRouter(prefix="/reconcile")


def _found(visit: Visit) -> Reconciled:
    return visit.server.courses.remembered("reconciled", lambda: reconcile_course(visit.course))


def _values(visit: Visit) -> dict[str, Any]:
    found = _found(visit)
    return {
        "places": view.places_of(found, visit.places.station_label, visit.units),
        "words": view.WORDS,
        "marks": view.MARKS,
        "free": len(found.matching.rows),
    }


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """Every hole that has heads without a station, or stations without heads."""
    return visit.page("reconcile/page.html", **_values(visit))


@router.post("/accept", dependencies=[allowed(Deed.RECORD), OwnForm])
def accept(visit: CurrentVisit, place: Annotated[str, Form()]) -> Response:
    """Put the matched heads of one hole on their stations, as a revision."""
    accept_matches(
        visit.course,
        _found(visit),
        [place],
        who=visit.person.name,
        why=f"reconciled {place} with the station list",
        now=visit.server.now(),
    )
    return RedirectResponse("/reconcile", 303)
