"""The Ground page as an editor: the map, the tools and the table beside it."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from nightwater.ground.tables import AREA_KINDS, GROUND_TABLES
from nightwater.web.access.roles import Deed
from nightwater.web.course_map.shapes import POINT_TABLES
from nightwater.web.doorway import CurrentVisit, Visit, allowed

router = APIRouter(prefix="/ground")
# In the order in which people ask for them; the rest of the record follows.
FIRST: Final = ("heads", "areas", "stations", "holes", "pipes", *POINT_TABLES)


def _tables() -> list[str]:
    return [*FIRST, *(name for name in GROUND_TABLES if name not in FIRST)]


@router.get("/edit", dependencies=[allowed(Deed.RECORD)])
def page(visit: CurrentVisit, subject: str = "") -> Response:
    """The editor, with one row chosen where a subject is named."""
    return visit.page("ground/editor.html", kinds=AREA_KINDS, tables=_tables(), subject=subject)


def _of_area(visit: Visit, area: str | None) -> dict[str, Any]:
    ground, places = visit.course.ground, visit.places
    if area is None or area not in ground.areas.index:
        return {}
    hole = places.hole_of(area)
    kind = str(ground.areas["kind"][area])
    return {"hole": None if hole is None else str(hole), "kind": kind}


@router.get("/belongings.json")
def belongings(visit: CurrentVisit) -> Response:
    """Hole and kind of heads and stations, which follow from where their heads stand."""
    places = visit.places
    heads = {name: _of_area(visit, area) for name, area in places.head_area.items()}
    first = {name: ids[0] for name, ids in places.station_heads.items() if ids}
    stations = {f"stations:{name}": heads.get(head, {}) for name, head in first.items()}
    return JSONResponse({f"heads:{name}": one for name, one in heads.items()} | stations)
