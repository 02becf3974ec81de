"""What if: a head changed on paper, the hole before and after, and the way into the record."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Annotated, Any, ClassVar, Final
from urllib.parse import parse_qsl

import numpy as np
from fastapi import APIRouter, Form
from fastapi import Query as InAddress
from pydantic import Field
from starlette.responses import RedirectResponse, Response

from nightwater.desk.coverage import CoverageMap, MapKind
from nightwater.desk.coverage_scale import class_picture, map_scale
from nightwater.desk.nights import StoredNight, latest_night, stored_night
from nightwater.desk.trying import HeadChange, Tried, is_empty, keep_change, try_change
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.edits.digests import digest_of
from nightwater.spray.what_if import SceneFigures
from nightwater.survey.raster_out import class_png
from nightwater.units import UnitSystem, to_si
from nightwater.web.access.roles import Deed
from nightwater.web.coverage import dry_state
from nightwater.web.coverage.view import two_digits
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.figures import percent, quantity
from nightwater.web.places import labels
from nightwater.web.server import wants_fragment
from nightwater.web.state import NONE_IF_EMPTY, PageState

router = APIRouter(prefix="/coverage/try")
Finite = Annotated[float, Field(allow_inf_nan=False)]
Number = Annotated[Finite | None, NONE_IF_EMPTY]
Text = Annotated[str, Field(max_length=80)]
LENGTHS: Final = {UnitSystem.US: "ft", UnitSystem.METRIC: "m"}
PRESSURES: Final = {UnitSystem.US: "psi", UnitSystem.METRIC: "bar"}


class Side(StrEnum):
    """Which of the two maps."""

    BEFORE = "before"
    AFTER = "after"


class TryQuery(PageState):
    """The state of the page: a head and what shall be different about it.

    Attributes:
        night: evening's date; None for the latest night that is planned.
        head: id or label.
        nozzle: id of a nozzle; empty for its own.
        arc, bearing: degrees.
        radius, east, north, pressure: in `unit`.
        level, add: see `HeadChange`.
        unit: of the numbers here; None for the reader's.
    """

    path: ClassVar[str] = "/coverage/try"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    head: Text = ""
    nozzle: Text = ""
    arc: Number = None
    bearing: Number = None
    radius: Number = None
    pressure: Number = None
    east: Number = None
    north: Number = None
    level: bool = False
    add: bool = False
    unit: Annotated[UnitSystem | None, NONE_IF_EMPTY] = None


InQuery = Annotated[TryQuery, InAddress()]


def _si(value: float | None, symbol: str) -> float | None:
    return None if value is None else float(to_si(value, symbol))


def head_change(query: TryQuery, units: UnitSystem) -> HeadChange:
    """The change that a query asks for, in inside units."""
    unit = query.unit or units
    return HeadChange(
        nozzle=query.nozzle or None,
        arc_deg=query.arc,
        bearing_deg=query.bearing,
        radius_m=_si(query.radius, LENGTHS[unit]),
        pressure_kpa=_si(query.pressure, PRESSURES[unit]),
        east_m=_si(query.east, LENGTHS[unit]) or 0.0,
        north_m=_si(query.north, LENGTHS[unit]) or 0.0,
        level=query.level,
        add=query.add,
    )


def _head_id(visit: Visit, asked: str) -> str:
    names, wanted = labels(visit.course.ground.heads), asked.strip().casefold()
    for name, label in names.items():
        if wanted in (name.casefold(), label.casefold()):
            return name
    raise NotFoundError(f"No head is called '{asked}'. The search on Ground finds heads.")


def _stored(visit: Visit, query: TryQuery) -> StoredNight:
    asked = stored_night(visit.course, query.night) if query.night else None
    return asked or latest_night(visit.course)


def _tried(visit: Visit, query: TryQuery, stored: StoredNight, head: str) -> Tried:
    key = f"try {stored.id} {query.address(night=None)} {visit.units}"
    water = dry_state.night_water(visit, stored)
    change = head_change(query, visit.units)
    return visit.server.courses.remembered(
        key, lambda: try_change(visit.course, water, head, change)
    )


def _row(name: str, values: tuple[str, str], why: str = "") -> dict[str, str]:
    return {"name": name, "before": values[0], "after": values[1], "why": why}


def figure_rows(tried: Tried, units: UnitSystem) -> list[dict[str, str]]:
    """The numbers before and after, as texts."""
    both = (tried.result.before, tried.result.after)

    def amounts(name: str, suffix: str, factor: float = 1.0) -> tuple[str, str]:
        first, second = (quantity(getattr(one, name) * factor, suffix, units) for one in both)
        return first, second

    def shares(name: str, shown: Any) -> tuple[str, str]:
        first, second = (shown(getattr(one, name)) for one in both)
        return first, second

    return [
        _row("Mean rate", amounts("rate_mm_h", "mm_h"), "as if every head ran"),
        _row("Mean depth", amounts("depth_mm", "mm")),
        _row("DUlq", shares("du_lq", two_digits), "the driest quarter over the mean"),
        _row("CU", shares("cu", two_digits)),
        _row("Gets its need", shares("adequacy", percent), "share of the turf"),
        _row("Lacks", amounts("lacking_l", "m3", 0.001)),
        _row("Water thrown", amounts("water_l", "m3", 0.001), "by the heads of this hole"),
        _row(
            "Water at equal shortage",
            amounts("equal_water_l", "m3", 0.001),
            "minutes scaled until the turf lacks what it lacks before",
        ),
    ]


def verdict_words(before: SceneFigures, after: SceneFigures, units: UnitSystem) -> str:
    """What the change comes to, in one sentence."""
    saved = before.equal_water_l - after.equal_water_l
    if np.isnan(saved):
        return "No minutes bring the hole what it gets now: some of its turf would fall dry."
    least = 0.001 * before.water_l
    if abs(saved) < max(least, 1.0):
        return "It makes next to no difference to the water this hole needs."
    amount = quantity(abs(saved) / 1000.0, "m3", units)
    return f"{'Saves' if saved > 0 else 'Costs'} {amount} a night at equal shortage."


def _result(visit: Visit, query: TryQuery, stored: StoredNight, head: str) -> dict[str, Any]:
    if is_empty(head_change(query, visit.units)):
        return {"tried": None, "fault": ""}
    try:
        tried = _tried(visit, query, stored, head)
    except UserError as wrong:
        return {"tried": None, "fault": str(wrong)}
    shown = _map(tried, stored, Side.BEFORE)
    return {
        "tried": tried,
        "fault": "",
        "rows": figure_rows(tried, visit.units),
        "verdict": verdict_words(tried.result.before, tried.result.after, visit.units),
        "scale": map_scale(shown, visit.units),
        "seen": digest_of(visit.course.kept, f"heads:{head}"),
    }


@router.get("")
def page(visit: CurrentVisit, query: InQuery) -> Response:
    """The form, and what the change does to the hole.

    Raises:
        NotFoundError: no such head, or no night is planned.
    """
    stored = _stored(visit, query)
    head = _head_id(visit, query.head) if query.head else ""
    unit = query.unit or visit.units
    asked = query.model_copy(update={"night": stored.plan.night, "unit": unit})
    values: dict[str, Any] = {
        "query": asked,
        "night": stored.plan.night,
        "stored": stored,
        "head": head,
        "label": labels(visit.course.ground.heads).get(head, head),
        "now": visit.course.ground.heads.loc[head] if head else None,
        "nozzles": sorted(labels(visit.course.ground.nozzles).items(), key=lambda one: one[1]),
        "length": LENGTHS[unit],
        "pressure_unit": PRESSURES[unit],
        "show": "depth",
        "air": None,
    }
    values |= _result(visit, asked, stored, head) if head else {"tried": None, "fault": ""}
    fragment = wants_fragment(visit.request)
    return visit.page("coverage/trial.html" if fragment else "coverage/try.html", **values)


def _map(tried: Tried, stored: StoredNight, side: Side) -> CoverageMap:
    result = tried.result
    depth = result.depth_before_mm if side is Side.BEFORE else result.depth_after_mm
    night, grid = stored.plan.night, tried.scene.grid
    need = tried.scene.need_mm
    return CoverageMap(MapKind.DEPTH, grid, depth, depth, need, night, stored.state, stored.edition)


@router.get("/{side}.png")
def picture(visit: CurrentVisit, query: InQuery, side: Side) -> Response:
    """The hole's depths before or after, both in the colours of the map before."""
    stored = _stored(visit, query)
    tried = _tried(visit, query, stored, _head_id(visit, query.head))
    scale = map_scale(_map(tried, stored, Side.BEFORE), visit.units)
    drawn = class_picture(_map(tried, stored, side), scale)
    content = class_png(drawn, [one.colour for one in scale.classes])
    return Response(content, media_type="image/png", headers={"cache-control": "private, no-cache"})


@router.post("/keep", dependencies=[allowed(Deed.RECORD), OwnForm])
def keep(
    visit: CurrentVisit,
    address: Annotated[str, Form(max_length=2000)],
    seen: Annotated[str, Form(max_length=200)] = "",
    why: Annotated[str, Form(max_length=500)] = "",
) -> Response:
    """Make the change part of the record as one revision, with the reason.

    Raises:
        EditConflictError: somebody changed the head meanwhile.
    """
    query = _query_of(address)
    head = _head_id(visit, query.head)
    change = head_change(query, visit.units)
    marks = {f"heads:{head}": seen} if seen and not change.add else {}
    course, now = visit.course, visit.server.now()
    keep_change(course, head, change, who=visit.person.name, why=why, now=now, seen=marks)
    return RedirectResponse("/history", 303)


def _query_of(address: str) -> TryQuery:
    fields = dict(parse_qsl(address.partition("?")[2]))
    try:
        return TryQuery.model_validate(fields)
    except ValueError as wrong:
        raise UserError("The change could not be read. Try it again on its page.") from wrong
