"""The Tonight page: look, plan, approve, print."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.approving import approve
from nightwater.desk.changing import change_lines
from nightwater.desk.costing import cost_words, night_cost
from nightwater.desk.nights import StoredNight, required_night, stored_night
from nightwater.desk.planning import plan
from nightwater.desk.sheet import sheet_csv, sheet_json, sheet_pdf
from nightwater.findings import NotFoundError
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.server import wants_fragment
from nightwater.web.tonight import flow, steps, view, ways
from nightwater.web.tonight.account import area_account
from nightwater.web.tonight.sums import sum_of, sum_values
from nightwater.web.tonight.view import Query
from nightwater.web.tonight.ways import sentences

router = APIRouter(prefix="/tonight")
Asked = Annotated[Query, InAddress()]


def _dated(visit: Visit, query: Query) -> Query:
    return query if query.night else query.model_copy(update={"night": visit.server.today()})


def _night(query: Query) -> date:
    assert query.night is not None  # `_dated` has filled it in
    return query.night


def _common(visit: Visit, query: Query) -> dict[str, Any]:
    night = _night(query)
    return {
        "query": query,
        "night": night,
        "before": query.address(night=night - timedelta(days=1)),
        "after": query.address(night=night + timedelta(days=1)),
        "today": visit.server.today(),
    }


def _planned(visit: Visit, stored: StoredNight, query: Query) -> dict[str, Any]:
    night, site = stored.plan, visit.course.settings.site
    cost = night_cost(visit.course, night)
    flows = flow.kind_flows_l_s(night)
    table = view.station_table(visit, night, query)
    return {
        "stored": stored,
        "plan": night,
        "cost": cost,
        "cost_words": cost_words(cost),
        "clock": view.headline(night, site.timezone),
        "binding": view.binding_words(night.bound.binding, visit.course.ground),
        "table": table,
        "sentences": sentences(visit, night, {row.station for row in table.rows}),
        "need_scale": view.need_scale(night, visit.units),
        "minutes_scale": view.minutes_scale(night, visit.units),
        "half_hours": flow.half_hours(night, flows, site.timezone),
        "flow_kinds": list(flows),
        "findings": night.findings,
        "why_not_approve": view.why_not_approve(visit, stored),
        "left_groups": view.left_groups(night),
        "running": len({run.station for run in night.runs}),
        "highest_l_s": max(night.flow_l_s, default=0.0),
        "kind_steps": steps.kind_steps(night),
        "holds": steps.standing_holds(visit, night.night),
        **steps.changes_shown(visit, stored, query.against),
    }


@router.get("")
def page(visit: CurrentVisit, asked: Asked) -> Response:
    """Tonight, or the table alone where the page asks for that."""
    query = _dated(visit, asked)
    stored = stored_night(visit.course, _night(query))
    common = _common(visit, query)
    if stored is None:
        return visit.page("tonight/empty.html", **common)
    template = "tonight/stations.html" if wants_fragment(visit.request) else "tonight/page.html"
    return visit.page(template, **common, **_planned(visit, stored, query))


@router.get("/sum")
def station_sum(visit: CurrentVisit, night: date, subject: str) -> Response:
    """Every factor of a station's minutes or an area's need: a page, or a part of one.

    Raises:
        NotFoundError: no such night, or no such station or area in it.
    """
    stored = required_night(visit.course, night)
    item, of_area = sum_of(stored.plan, subject)
    values = sum_values(item, visit.course.ground, visit.places, visit.units)
    if not of_area:
        values |= {
            "sentence": sentences(visit, stored.plan, {item.station})[item.station],
            "beside": ways.station_beside(visit, stored, item.station),
        }
    part = "area" if of_area else "sum"
    template = f"tonight/{part}.html" if wants_fragment(visit.request) else "tonight/sum_page.html"
    account = area_account(visit, night, item)
    return visit.page(
        template, night=night, item=item, account=account, part=f"tonight/{part}.html", **values
    )


@router.get("/conditions")
def conditions(visit: CurrentVisit, night: date) -> Response:
    """Weather, account and holds behind a night: a page, or a part of one."""
    part = "tonight/conditions.html"
    template = part if wants_fragment(visit.request) else "tonight/conditions_page.html"
    holds = steps.standing_holds(visit, night)
    return visit.page(template, night=night, holds=holds, **steps.conditions(visit, night))


@router.get("/ways")
def three_ways(visit: CurrentVisit, night: date) -> Response:
    """The night's minutes beside the classical rules: a page, or a part of one."""
    stored = required_night(visit.course, night)
    part = "tonight/ways.html"
    template = part if wants_fragment(visit.request) else "tonight/ways_page.html"
    return visit.page(template, night=night, **ways.totals(visit, stored))


@router.get("/flow.json")
def flow_chart(visit: CurrentVisit, night: date) -> Response:
    """The chart of the night's flow, for the chart element."""
    stored, site = required_night(visit.course, night), visit.course.settings.site
    return JSONResponse(flow.flow_chart(stored.plan, visit.units, site.timezone))


@router.get("/values.json")
def map_values(visit: CurrentVisit, night: date) -> Response:
    """The classes by which the map is coloured."""
    stored, units = required_night(visit.course, night), visit.units
    return JSONResponse(view.map_values(stored.plan, visit.places, units))


@router.post("/plan", dependencies=[allowed(Deed.PLAN), OwnForm])
def make_plan(visit: CurrentVisit, night: Annotated[date, Form()]) -> Response:
    """Plan the night anew, as a draft edition."""
    plan(visit.course, night, who=visit.person.name, now=visit.server.now())
    return RedirectResponse(f"/tonight?night={night}", 303)


@router.post("/approve", dependencies=[allowed(Deed.APPROVE), OwnForm])
def approve_night(visit: CurrentVisit, night_id: Annotated[str, Form()]) -> Response:
    """Freeze the edition that the person has looked at."""
    stored = approve(visit.course, night_id, who=visit.person.name, now=visit.server.now())
    return RedirectResponse(f"/tonight?night={stored.plan.night}", 303)


def _sheet(visit: Visit, stored: StoredNight, form: str) -> tuple[bytes, str]:
    ground, settings = visit.course.ground, visit.course.settings
    if form == "csv":
        return sheet_csv(stored, ground, settings).encode(), "text/csv; charset=utf-8"
    told: dict[str, Any] = {
        "cost": cost_words(night_cost(visit.course, stored.plan)),
        "changes": change_lines(steps.compared(visit, stored, "last"), settings.site.units),
    }
    if form == "pdf":
        return sheet_pdf(stored, ground, settings, **told), "application/pdf"
    if form == "json":
        return json.dumps(sheet_json(stored, ground, settings, **told)).encode(), "application/json"
    raise NotFoundError(f"There is no sheet as '{form}'. There is pdf, csv and json.")


@router.get("/sheet.{form}")
def sheet(visit: CurrentVisit, form: str, night: date) -> Response:
    """Tonight on paper, for crews who set their controllers by hand."""
    content, media_type = _sheet(visit, required_night(visit.course, night), form)
    named = {"content-disposition": f'inline; filename="night-{night}.{form}"'}
    return Response(content, media_type=media_type, headers=named)
