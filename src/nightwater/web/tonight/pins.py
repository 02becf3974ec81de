"""The page of paths, and pins: try a start, keep it, plan around it, take it out."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi import Query as InAddress
from starlette.responses import RedirectResponse, Response

from nightwater.desk.nights import required_night
from nightwater.desk.pinning import pin, pin_and_replan, try_pin, unpin
from nightwater.desk.sheet import clock
from nightwater.web.access.roles import Deed, why_not
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.server import wants_fragment
from nightwater.web.tonight import timeline
from nightwater.web.tonight.timeline import Query

router = APIRouter(prefix="/tonight")
Asked = Annotated[Query, InAddress()]
Text = Annotated[str, Form()]
PLANNERS = [allowed(Deed.PLAN), OwnForm]


def _shown(visit: Visit, night: date, asked: Query) -> dict[str, Any]:
    stored, ground = required_night(visit.course, night), visit.course.ground
    zone, plan = visit.course.settings.site.timezone, stored.plan
    known = timeline.paths(plan, ground)
    chosen = asked.controller or (known[0].id if known else "")
    query = asked.model_copy(update={"night": night, "controller": chosen})
    found = timeline.lines(plan, ground, visit.places, query, zone)
    return {
        "night": night,
        "stored": stored,
        "plan": plan,
        "query": query,
        "paths": known,
        "found": len(found),
        "lines": found if query.all else found[: timeline.FIRST_LINES],
        "ticks": timeline.ticks(plan, zone),
        "why_not_pin": _why_not_pin(visit, stored.state),
        "labels": visit.places.station_label,
        "pins": [(one, clock(plan, one.start_min, zone)) for one in plan.pins],
    }


def _why_not_pin(visit: Visit, state: str) -> str | None:
    if state != "draft":
        return f"This edition is {state}; plan the night again to change it."
    return why_not(visit.person.role, Deed.PLAN)


@router.get("/paths")
def page(visit: CurrentVisit, asked: Asked) -> Response:
    """The night path by path.

    Raises:
        NotFoundError: nothing is planned for that date.
    """
    return visit.page(
        "tonight/paths.html", **_shown(visit, asked.night or visit.server.today(), asked)
    )


@router.post("/pin/try", dependencies=PLANNERS)
def try_start(visit: CurrentVisit, night_id: Text, station: Text, start: Text) -> Response:
    """What the referee says of a start; nothing is kept."""
    tried = try_pin(visit.course, night_id, station, start, who=visit.person.name)
    part = wants_fragment(visit.request)
    template = "tonight/pin_answer.html" if part else "tonight/pin_page.html"
    return visit.page(template, tried=tried, night_id=night_id, night=tried.night.night)


def _back(night: date, anchor: str = "paths-title") -> Response:
    return RedirectResponse(f"/tonight/paths?night={night}#{anchor}", 303)


@router.post("/pin", dependencies=PLANNERS)
def keep_pin(visit: CurrentVisit, night_id: Text, station: Text, start: Text) -> Response:
    """Keep a pin as the next draft edition."""
    who, now = visit.person.name, visit.server.now()
    return _back(pin(visit.course, night_id, station, start, who=who, now=now).plan.night)


@router.post("/pin/around", dependencies=PLANNERS)
def plan_around(visit: CurrentVisit, night_id: Text, station: Text, start: Text) -> Response:
    """Plan the night anew around a pin."""
    who, now = visit.person.name, visit.server.now()
    made = pin_and_replan(visit.course, night_id, station, start, who=who, now=now)
    return _back(made.plan.night)


@router.post("/unpin", dependencies=PLANNERS)
def take_out(visit: CurrentVisit, night_id: Text, station: Text) -> Response:
    """Take a pin out."""
    made = unpin(visit.course, night_id, station, now=visit.server.now())
    return _back(made.plan.night)
