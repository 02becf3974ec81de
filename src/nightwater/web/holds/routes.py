"""The Holds page: the list, a form for a new one, and ending one early."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form
from pydantic import BaseModel
from starlette.responses import RedirectResponse, Response

from nightwater.desk.holding import (
    CAUSES,
    HoldState,
    HoldWish,
    add_hold,
    around_head,
    end_hold,
    holds_listed,
)
from nightwater.findings import UserError
from nightwater.ground.tables import WATERED_KINDS
from nightwater.units import UnitSystem, to_si
from nightwater.web.access.roles import Deed, why_not
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.tonight.search import natural

router = APIRouter(prefix="/holds")
SCOPES = ("course", "kind", "hole", "area", "station", "around")
_TABLES = {"hole": "holes", "area": "areas", "station": "stations", "kind": "kind"}


class HoldForm(BaseModel):
    """What the form sends; `name` is of the kind, hole, area, station or head in the middle."""

    scope: str
    name: str = ""
    radius: str = ""
    cause: str
    start: str
    end: str
    reason: str


def _subject(visit: Visit, form: HoldForm) -> str:
    if form.scope == "course":
        return "course"
    if not form.name.strip():
        raise UserError("Say which: the kind, hole, area, station or head.")
    if form.scope == "around":
        symbol = "ft" if visit.units is UnitSystem.US else "m"
        try:
            radius_m = float(to_si(float(form.radius), symbol))
        except ValueError:
            raise UserError(f"'{form.radius}' is no radius. Write a number of {symbol}.") from None
        return around_head(visit.course, form.name.strip(), radius_m)
    if form.scope not in _TABLES:
        raise UserError(f"'{form.scope}' is nothing that can be held.")
    return f"{_TABLES[form.scope]}:{form.name.strip()}"


def _known_names(visit: Visit) -> list[str]:
    places = visit.places
    named = {*places.area_label.values(), *places.station_label.values()}
    return [*WATERED_KINDS, *map(str, places.holes), *sorted(named, key=natural)]


def _usual_times(visit: Visit, night: date) -> dict[str, str]:
    """From now, on the course's clock, until the noon after the night."""
    zone = ZoneInfo(visit.course.settings.site.timezone)
    begin = visit.server.now().astimezone(zone)
    end = datetime.combine(night + timedelta(days=1), datetime.min.time()) + timedelta(hours=12)
    return {"start": begin.strftime("%Y-%m-%dT%H:%M"), "end": end.strftime("%Y-%m-%dT%H:%M")}


def _shown(visit: Visit, night: date) -> dict[str, Any]:
    listed = holds_listed(visit.course, night, visit.server.now())
    standing = [one for one in listed if one.state in (HoldState.ON, HoldState.COMING)]
    return {
        "night": night,
        "standing": standing,
        "past": [one for one in listed if one not in standing],
        "tonight_l": sum(one.tonight.litres for one in standing),
        "causes": CAUSES,
        "names": _known_names(visit),
        "usual": _usual_times(visit, night),
        "why_not_hold": why_not(visit.person.role, Deed.HOLD),
    }


@router.get("")
def page(visit: CurrentVisit, night: date | None = None) -> Response:
    """Every hold with its end, and the water it keeps back."""
    return visit.page("holds/page.html", **_shown(visit, night or visit.server.today()))


@router.post("/add", dependencies=[allowed(Deed.HOLD), OwnForm])
def add(visit: CurrentVisit, form: Annotated[HoldForm, Form()]) -> Response:
    """Keep a hold; a night that is planned already stays as it is until it is planned again."""
    wish = HoldWish(_subject(visit, form), form.cause, form.start, form.end, form.reason)
    add_hold(visit.course, wish, who=visit.person.name)
    return RedirectResponse("/holds", 303)


@router.post("/end", dependencies=[allowed(Deed.HOLD), OwnForm])
def end(
    visit: CurrentVisit, hold: Annotated[str, Form()], why: Annotated[str, Form()] = ""
) -> Response:
    """End a hold now; it stays in the list."""
    end_hold(visit.course, hold, why, who=visit.person.name, now=visit.server.now())
    return RedirectResponse("/holds", 303)
