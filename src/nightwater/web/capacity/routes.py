"""The Capacity page, under Tonight."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import Response

from nightwater.desk.capacity import USUAL_PERCENTILE, Study, study
from nightwater.desk.capacity_sheet import printed, study_pdf
from nightwater.units import MM_PER_INCH, UnitSystem
from nightwater.web.doorway import CurrentVisit, Visit

router = APIRouter(prefix="/tonight/capacity")
Percentile = Annotated[float, InAddress(ge=50, le=100)]
# In the reader's unit of depth; empty is the percentile.
Entered = Annotated[str, InAddress(max_length=12, pattern=r"^\s*(\d{0,3}([.,]\d{0,4})?)?\s*$")]
Go = Annotated[bool, InAddress()]


def _entered_mm(text: str, units: UnitSystem) -> float | None:
    """What the reader typed, in mm."""
    plain = text.strip().replace(",", ".")
    if plain in ("", "."):
        return None
    return float(plain) * (MM_PER_INCH if units is UnitSystem.US else 1.0)


def _study(visit: Visit, percentile: float, et: str) -> Study:
    """Worked out once for a state of the course file."""
    entered = _entered_mm(et, visit.units)
    return visit.server.courses.remembered(
        f"capacity {percentile} {entered}",
        lambda: study(visit.course, percentile=percentile, entered_mm=entered),
    )


@router.get("")
def page(
    visit: CurrentVisit, percentile: Percentile = USUAL_PERCENTILE, et: Entered = "", go: Go = False
) -> Response:
    """The form, and the study where it was asked for: it takes some seconds."""
    done = _study(visit, percentile, et) if go else None
    return visit.page(
        "capacity/page.html",
        percentile=percentile,
        et=et.strip(),
        depth_unit="inches" if visit.units is UnitSystem.US else "mm",
        study=printed(done, visit.course.settings, visit.units) if done else None,
    )


@router.get("/study.pdf")
def sheet(
    visit: CurrentVisit, percentile: Percentile = USUAL_PERCENTILE, et: Entered = ""
) -> Response:
    """The study as one page to print."""
    content = study_pdf(_study(visit, percentile, et), visit.course.settings, visit.units)
    named = {"content-disposition": 'inline; filename="capacity.pdf"'}
    return Response(content, media_type="application/pdf", headers=named)
