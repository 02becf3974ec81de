"""Dry spots, why they are dry, and what repairs would save."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import Response

from nightwater.desk.nights import latest_night, stored_night
from nightwater.web.coverage import dry_state, dry_view
from nightwater.web.doorway import CurrentVisit
from nightwater.web.state import NONE_IF_EMPTY, PageState

router = APIRouter(prefix="/coverage/fixes")


class FixQuery(PageState):
    """The state of the page.

    Attributes:
        night: evening's date; None for the latest night that is planned.
        by_hour: whether repairs are ranked by water saved for an hour of work.
        all: whether every spot and repair is shown.
    """

    path: ClassVar[str] = "/coverage/fixes"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    by_hour: bool = False
    all: bool = False


InQuery = Annotated[FixQuery, InAddress()]


@router.get("")
def page(visit: CurrentVisit, query: InQuery) -> Response:
    """The page; a night that was not planned stands in for the latest one.

    Raises:
        NotFoundError: no night is planned at all.
    """
    asked = stored_night(visit.course, query.night) if query.night else None
    stored = asked or latest_night(visit.course)
    night = stored.plan.night
    found, listed = dry_state.night_spots(visit, stored), dry_state.night_fixes(visit, stored)
    repairs = dry_view.fix_rows(visit, listed, str(night), by_hour=query.by_hour)
    most = None if query.all else dry_view.FIRST_ROWS
    table = found.dry.table
    return visit.page(
        "coverage/fixes.html",
        query=query.model_copy(update={"night": night}),
        night=night,
        stored=stored,
        repairs=repairs[:most],
        repairs_found=len(repairs),
        left_out=listed.left_out,
        spots=dry_view.spot_rows(visit, found, str(night), most),
        spots_found=int(table["reached"].sum()) if len(table) else 0,
        unreached_m2=float(table["area_m2"][~table["reached"]].sum()) if len(table) else 0.0,
        season_nights=visit.course.settings.fixes.season_nights,
    )
