"""The Coverage page: where water lands, how evenly, and what a spot gets."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Any, Final

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, Response

from nightwater.desk.coverage import TITLES, MapKind
from nightwater.desk.coverage_figures import WINDOWED, GroupBy
from nightwater.ground.tables import WATERED_KINDS
from nightwater.web.coverage import dry_state, state, view
from nightwater.web.coverage.charts import densogram_chart
from nightwater.web.coverage.state import Asked, Query
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.figures import quantity
from nightwater.web.server import wants_fragment

router = APIRouter(prefix="/coverage")
InQuery = Annotated[Query, InAddress()]
SHOWN: Final = (
    (MapKind.RATE, "rate"),
    (MapKind.DEPTH, "tonight’s depth"),
    (MapKind.SHORTAGE, "short or over"),
)


def _turf_areas(visit: Visit) -> list[tuple[str, str]]:
    """Id and label of every watered area, as the list to pick from."""
    areas = visit.course.ground.areas
    watered = areas.index[areas["kind"].isin(WATERED_KINDS)]
    named = visit.places.area_label
    return sorted(((str(name), named[str(name)]) for name in watered), key=lambda one: one[1])


def _common(visit: Visit, what: Asked) -> dict[str, Any]:
    query = what.query
    return {
        "query": query,
        "night": what.night,
        "stored": what.stored,
        "show": what.show,
        "title": TITLES[what.show],
        "shown": SHOWN,
        "before": query.address(night=what.night - timedelta(days=1)),
        "after": query.address(night=what.night + timedelta(days=1)),
    }


def _figures(visit: Visit, what: Asked) -> dict[str, Any]:
    needs, air = state.turf_need(visit, what), state.turf_air(visit, what)
    return {
        "scale": state.turf_scale(visit, what),
        "table": view.figures_table(visit, what),
        "by_area": GroupBy.AREA,
        "windowed": what.query.by in WINDOWED,
        "groupings": [by for by in GroupBy if by is not GroupBy.COURSE],
        "course": view.figures_of(
            "course", state.turf_figures(visit, what, GroupBy.COURSE).iloc[0], visit.units
        )
        if len(state.built_wetting(visit).grid)
        else None,
        "findings": state.turf_wetting(visit, what).findings,
        "air": air,
        "wind": quantity(air.wind_m_s, "m_s", visit.units),
        "needs": needs.words if needs is not None else "",
        "pressures": state.built_wetting(visit).pressures.words,
    }


@router.get("")
def page(visit: CurrentVisit, query: InQuery) -> Response:
    """The page; figures that take longer than a glance come after it, unless they are asked for."""
    what = state.asked(visit, query)
    if wants_fragment(visit.request):
        panel = view.panel_values(visit, what)
        return visit.page("coverage/panel.html", **_common(visit, what), **panel)
    ready = query.whole or bool(query.area or query.head or query.spot) or state.is_built(visit)
    values = _common(visit, what) | {"areas": _turf_areas(visit), "ready": ready, "beside": False}
    values["has_fixes"] = dry_state.has_fixes(visit, what.night)
    if ready:
        place = view.query_place(visit, query)
        values |= view.panel_values(visit, what) | _figures(visit, what) | {"place": place}
    return visit.page("coverage/page.html", **values)


@router.get("/figures")
def figures(visit: CurrentVisit, query: InQuery) -> Response:
    """Legend and table of uniformities, for the page that did not wait."""
    what = state.asked(visit, query)
    values = _common(visit, what) | _figures(visit, what)
    return visit.page("coverage/figures.html", beside=True, **values)


@router.get("/picture.json")
def picture_place(visit: CurrentVisit, query: InQuery) -> Response:
    """Where the picture lies, and its address."""
    what = state.asked(visit, query)
    grid = state.built_wetting(visit).grid
    if not len(grid):
        return JSONResponse({"address": None, "extent_m": [0, 0, 0, 0]})
    right = grid.left_m + grid.columns * grid.cell_m
    bottom = grid.top_m - grid.rows * grid.cell_m
    address = f"/coverage/picture.png?show={what.show}&night={what.night}"
    return JSONResponse({"address": address, "extent_m": [grid.left_m, bottom, right, grid.top_m]})


@router.get("/picture.png")
def picture(visit: CurrentVisit, query: InQuery) -> Response:
    """The map, one pixel a cell; asked anew each time, sent only when changed."""
    content, tag = state.turf_picture(visit, state.asked(visit, query))
    headers = {"etag": tag, "cache-control": "private, no-cache"}
    if visit.request.headers.get("if-none-match", "").removeprefix("W/") == tag:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type="image/png", headers=headers)


@router.get("/densogram.json")
def densogram(visit: CurrentVisit, query: InQuery) -> Response:
    """The chart of an area's evenness, for the chart element.

    Raises:
        NotFoundError: no such area.
    """
    what = state.asked(visit, query)
    return JSONResponse(densogram_chart(view.area_densogram(visit, what, query.area)))
