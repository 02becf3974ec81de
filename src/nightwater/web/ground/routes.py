"""The Ground page: the record on the map, and where it is doubtful."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, Response

from nightwater.desk.checking import check
from nightwater.desk.imaging import course_images
from nightwater.findings import Finding, Severity
from nightwater.ground.tables import WATERED_KINDS
from nightwater.web.course_map.shapes import subject_texts
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.ground import view
from nightwater.web.server import wants_fragment
from nightwater.web.state import PageState, SearchText

router = APIRouter(prefix="/ground")


class Query(PageState):
    """The state of the page."""

    path: ClassVar[str] = "/ground"

    subject: str = ""
    q: SearchText = ""
    severity: Literal["", "error", "warning", "note"] = ""
    pipes: bool = False


def _findings(visit: Visit) -> list[Finding]:
    return visit.server.courses.remembered("findings", lambda: check(visit.course))


def _subject_values(visit: Visit, subject: str) -> dict[str, Any]:
    ground, units = visit.course.ground, visit.units
    found = view.subject_of(ground, subject, units, visit.places)
    return {
        "one": found,
        "related": view.related(found, visit.places),
        "doubts": view.about(_findings(visit), subject),
    }


@router.get("")
def page(visit: CurrentVisit, query: Annotated[Query, InAddress()]) -> Response:
    """The whole record, and one row of it where a subject is named."""
    findings = _findings(visit)
    known = _subject_values(visit, query.subject) if query.subject else {"one": None}
    return visit.page(
        "ground/page.html",
        query=query,
        findings=[f for f in findings if query.severity in ("", f.severity)],
        tally={s.value: sum(f.severity is s for f in findings) for s in Severity},
        found=view.search(visit.course.ground, query.q),
        kinds=WATERED_KINDS,
        row_counts=view.row_counts(visit.course.ground),
        images=course_images(visit.course),
        **known,
    )


@router.get("/subject")
def one(visit: CurrentVisit, subject: str) -> Response:
    """One row of the record, as a part for the map or a page of its own."""
    template = (
        "ground/subject.html" if wants_fragment(visit.request) else "ground/subject_page.html"
    )
    return visit.page(template, **_subject_values(visit, subject))


@router.get("/values.json")
def map_values(visit: CurrentVisit) -> Response:
    """What the map says of areas and stations."""
    texts = subject_texts(visit.course.ground, visit.places)
    doubtful = {f.subject for f in _findings(visit) if f.severity is not Severity.NOTE}
    stations = {
        name: "amber" for name in visit.places.station_label if f"stations:{name}" in doubtful
    }
    kinds = visit.course.ground.areas["kind"].items()
    areas = {str(name): f"turf-{kind}" for name, kind in kinds}
    return JSONResponse(
        {"shown": {"doubt": {"areas": areas, "stations": stations}}, "texts": texts}
    )
