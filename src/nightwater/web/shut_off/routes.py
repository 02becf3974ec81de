"""The shut-off page: a break, its valves, and what has no water then."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, Response

from nightwater.desk.isolating import CAUTIONS, ShutOff, shut_off
from nightwater.desk.isolation_card import card_pdf
from nightwater.pipes.segments import Segments, build_segments
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.shut_off.view import marks_document, page_values

router = APIRouter(prefix="/ground/shut-off")
At = Annotated[str, InAddress(max_length=80)]
Stuck = Annotated[list[str], InAddress(max_length=200)]


def _segments(visit: Visit) -> Segments:
    ground = visit.course.ground
    return visit.server.courses.remembered("segments", lambda: build_segments(ground))


def _answer(visit: Visit, at: str, stuck: list[str]) -> ShutOff:
    return shut_off(visit.course.ground, at, stuck, _segments(visit))


@router.get("")
def page(visit: CurrentVisit, at: At, stuck: Stuck = []) -> Response:  # noqa: B006 - never changed
    """Which valves shut a pipe or a place off."""
    answer = _answer(visit, at, stuck)
    return visit.page("shut_off/page.html", cautions=CAUTIONS, **page_values(answer, visit.units))


@router.get("/marks.json")
def marks(visit: CurrentVisit, at: At, stuck: Stuck = []) -> Response:  # noqa: B006
    """What the map draws of it."""
    answer = _answer(visit, at, stuck)
    return JSONResponse(marks_document(answer, _segments(visit), visit.course.ground))


@router.get("/card.pdf")
def card(visit: CurrentVisit, at: At, stuck: Stuck = []) -> Response:  # noqa: B006
    """The card to print and take along."""
    content = card_pdf(_answer(visit, at, stuck), visit.course.settings, visit.units)
    named = {"content-disposition": 'inline; filename="shut-off.pdf"'}
    return Response(content, media_type="application/pdf", headers=named)
