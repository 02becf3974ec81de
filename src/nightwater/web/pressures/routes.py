"""The Pressures page: any minute of a planned night, or stations that somebody names."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar

from fastapi import APIRouter
from fastapi import Query as InAddress
from pydantic import Field
from starlette.responses import JSONResponse, Response

from nightwater.desk.pressures import SolvedMinute, open_stations, solved_minute
from nightwater.findings import UserError
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.state import NONE_IF_EMPTY, PageState

router = APIRouter(prefix="/pressures")
SHOWN_PIPES = 25


class Query(PageState):
    """The state of the page: a minute of a night, or stations by label or id, comma between."""

    path: ClassVar[str] = "/pressures"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    at: Annotated[str, Field(max_length=5)] = ""
    stations: Annotated[str, Field(max_length=4000)] = ""

    @property
    def asks(self) -> bool:
        """Whether a minute or stations are named."""
        return bool(self.at or self.stations.strip())


Asked = Annotated[Query, InAddress()]


def _solved(visit: Visit, asked: Query) -> SolvedMinute:
    """Solved once for a state of the course file."""
    if asked.stations.strip():
        named = [part.strip() for part in asked.stations.split(",") if part.strip()]
        stations = tuple(visit.places.station_called(name) for name in named)
    else:
        night = asked.night or visit.server.today()
        stations = open_stations(visit.course, night, asked.at)
    return visit.server.courses.remembered(
        f"minute {' '.join(stations)}", lambda: solved_minute(visit.course, stations)
    )


@router.get("")
def page(visit: CurrentVisit, asked: Asked) -> Response:
    """The form, and the answer where a minute or stations are named."""
    found, refused = None, ""
    if asked.asks:
        try:
            found = _solved(visit, asked)
        except UserError as mistake:
            refused = str(mistake)
    return visit.page(
        "pressures/page.html",
        status=422 if refused else 200,
        asked=asked,
        query=asked.address().partition("?")[2],
        night=asked.night or visit.server.today(),
        found=found,
        refused=refused,
        pipes_shown=SHOWN_PIPES,
        head_label=visit.places.head_label,
        station_label=visit.places.station_label,
    )


@router.get("/values.json")
def values(visit: CurrentVisit, asked: Asked) -> Response:
    """What the map shows: open stations, and those that lack pressure.

    Raises:
        UserError: no minute and no stations, or nothing that can be solved.
    """
    found = _solved(visit, asked)
    short = dict.fromkeys(map(str, found.short["station"]), "short")
    shown = {"areas": {}, "stations": dict.fromkeys(found.stations, "open") | short}
    names = visit.places.station_label
    texts = {f"stations:{name}": f"Station {names.get(name, name)}" for name in found.stations}
    return JSONResponse({"shown": {"now": shown}, "texts": texts})
