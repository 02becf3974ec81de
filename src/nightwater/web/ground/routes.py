"""The Ground page: the record on the map, and where it is doubtful."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Form
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.checking import check
from nightwater.desk.dismissing import (
    MOST_REASON,
    DismissWish,
    SortedFindings,
    dismiss,
    message_digest,
    restore,
    sort_findings,
)
from nightwater.desk.imaging import course_images
from nightwater.desk.photographing import MOST_WORDS, photos_of
from nightwater.findings import Finding, Severity
from nightwater.ground.tables import WATERED_KINDS
from nightwater.pipes.network import build_network
from nightwater.web.access.roles import Deed
from nightwater.web.course_map.shapes import subject_texts
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.ground import view
from nightwater.web.ground.feeding import Feeder, feeders
from nightwater.web.ground.running import running_words
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


def _sorted(visit: Visit) -> SortedFindings:
    return sort_findings(visit.course, _findings(visit))


def _subject_values(visit: Visit, subject: str) -> dict[str, Any]:
    ground, units = visit.course.ground, visit.units
    found = view.subject_of(ground, subject, units, visit.places)
    return {
        "one": found,
        "related": view.related(found, visit.places),
        "doubts": view.about(_sorted(visit).open, subject),
        "feeders": _feeders(visit, found),
        "running": running_words(ground, found.name, visit.course.settings.night, units)
        if found.table == "pipes"
        else (),
        "photos": photos_of(visit.course, subject),
        "most_words": MOST_WORDS,
    }


def _feeders(visit: Visit, found: view.Subject) -> list[Feeder]:
    if found.table != "heads":
        return []
    ground = visit.course.ground
    network = visit.server.courses.remembered("network", lambda: build_network(ground)[0])
    return feeders(ground, network, found.name, visit.units)


@router.get("")
def page(visit: CurrentVisit, query: Annotated[Query, InAddress()]) -> Response:
    """The whole record, and one row of it where a subject is named."""
    found = _sorted(visit)
    known = _subject_values(visit, query.subject) if query.subject else {"one": None}
    return visit.page(
        "ground/page.html",
        query=query,
        findings=[f for f in found.open if query.severity in ("", f.severity)],
        tally={s.value: sum(f.severity is s for f in found.open) for s in Severity},
        dismissed=found.dismissed,
        digest=message_digest,
        most_reason=MOST_REASON,
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
    doubtful = {f.subject for f in _sorted(visit).open if f.severity is not Severity.NOTE}
    stations = {
        name: "amber" for name in visit.places.station_label if f"stations:{name}" in doubtful
    }
    kinds = visit.course.ground.areas["kind"].items()
    areas = {str(name): f"turf-{kind}" for name, kind in kinds}
    return JSONResponse(
        {"shown": {"doubt": {"areas": areas, "stations": stations}}, "texts": texts}
    )


def _back(severity: str) -> Response:
    """To the findings, of the weight that was shown."""
    known = severity in {s.value for s in Severity}
    state = f"?severity={severity}" if known else ""
    return RedirectResponse(f"/ground{state}#findings", 303)


def dismiss_wish(
    code: Annotated[str, Form()],
    subject: Annotated[str, Form()],
    digest: Annotated[str, Form()],
    reason: Annotated[str, Form()] = "",
) -> DismissWish:
    """What the form asks for: the one finding that its page showed."""
    return DismissWish(code, subject, reason, digest)


@router.post("/dismiss", dependencies=[allowed(Deed.DISMISS), OwnForm])
def dismiss_finding(
    visit: CurrentVisit,
    wish: Annotated[DismissWish, Depends(dismiss_wish)],
    severity: Annotated[str, Form()] = "",
) -> Response:
    """Let the finding be that the person has looked at."""
    dismiss(visit.course, _findings(visit), wish, who=visit.person.name, now=visit.server.now())
    return _back(severity)


@router.post("/restore", dependencies=[allowed(Deed.DISMISS), OwnForm])
def restore_finding(
    visit: CurrentVisit, code: Annotated[str, Form()], subject: Annotated[str, Form()]
) -> Response:
    """Open a dismissed finding again."""
    restore(
        visit.course, _findings(visit), code, subject, who=visit.person.name, now=visit.server.now()
    )
    return _back("")
