"""The Trims page: what is not at 100 %, what each costs, and the ways to add and end one."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Any, Final

import shapely
from fastapi import APIRouter, Depends, Form
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, RedirectResponse, Response

from nightwater.desk.exceptions import add_trim, end_exception, exceptions
from nightwater.desk.trimming import Standing, StandingTrim, standing_trims
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.tables import WATERED_KINDS
from nightwater.night.map_trims import MAP_SUBJECT, map_trims
from nightwater.web.access.roles import Deed
from nightwater.web.doorway import CurrentVisit, OwnForm, Visit, allowed
from nightwater.web.places import Places
from nightwater.web.trims.wishes import WHATS, TrimForm, trim_form, wish_of

router = APIRouter(prefix="/trims")
_GUARDS: Final = [allowed(Deed.TRIM), OwnForm]
_DECIMALS: Final = 2
Night = Annotated[date | None, InAddress()]


def subject_words(subject: str, places: Places) -> str:
    """What a trim is about, in the words of people."""
    table, _, name = subject.partition(":")
    words = {
        "course": "whole course",
        MAP_SUBJECT: "patch on the map",
        "kind": f"all {name}",
        "areas": f"area {places.area_label.get(name, name)}",
        "stations": f"station {places.station_label.get(name, name)}",
        "holes": f"hole {name}",
    }
    return words.get(table, subject)


def change_words(trim: StandingTrim) -> str:
    """What a trim does, as per cent of the usual and minutes."""
    if trim.factor == 0 and trim.extra_min <= 0:
        return "off"
    share = f"{100 * trim.factor:g} %" if trim.factor != 1 or not trim.extra_min else ""
    minutes = f"{trim.extra_min:+g} min" if trim.extra_min else ""
    return ", ".join(part for part in (share, minutes) if part)


def _standing(visit: Visit, night: date) -> Standing:
    return visit.server.courses.remembered(
        f"trims {night}", lambda: standing_trims(visit.course, night)
    )


@router.get("")
def page(visit: CurrentVisit, night: Night = None) -> Response:
    """Everything not at 100 % on a night, what each costs, and a form for one more."""
    shown = night or visit.server.today()
    holds = [row for row in exceptions(visit.course) if row["what"] == "hold"]
    values: dict[str, Any] = {
        "night": shown,
        "standing": _standing(visit, shown),
        "holds": [row for row in holds if row["last"] >= shown.isoformat()],
        "words": lambda subject: subject_words(subject, visit.places),
        "change": change_words,
        "whats": WHATS,
        "kinds": WATERED_KINDS,
        "week": shown + timedelta(days=6),
    }
    return visit.page("trims/page.html", **values)


@router.get("/patches.json")
def patches(visit: CurrentVisit, night: Night = None) -> Response:
    """The patches of the night, for the map."""
    drawn = map_trims(visit.course.file.running("trims"), night or visit.server.today())
    return JSONResponse(
        {
            "patches": [
                {
                    "words": f"{100 * row['factor']:g} %",
                    "polygons": [
                        [
                            shapely.get_coordinates(ring).round(_DECIMALS).tolist()
                            for ring in (part.exterior, *part.interiors)
                        ]
                        for part in shapely.get_parts(row[GEOMETRY])
                    ],
                }
                for _, row in drawn.iterrows()
            ]
        }
    )


@router.post("/add", dependencies=_GUARDS)
def add(visit: CurrentVisit, form: Annotated[TrimForm, Depends(trim_form)]) -> Response:
    """Keep a trim, with its author."""
    wish = wish_of(form, visit.course, visit.units, visit.server.today())
    add_trim(visit.course, wish, who=visit.person.name)
    return RedirectResponse("/trims#tonight", 303)


@router.post("/end", dependencies=_GUARDS)
def end(
    visit: CurrentVisit,
    trim: Annotated[str, Form()],
    why: Annotated[str, Form(max_length=300)] = "",
) -> Response:
    """End a trim from tonight on; it stays among those that ended."""
    end_exception(visit.course, trim, who=visit.person.name, now=visit.server.now(), why=why)
    return RedirectResponse("/trims#tonight", 303)
