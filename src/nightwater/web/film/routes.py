"""The film of a night: a page, what its map and gauge show, and charts of paths and mains."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import JSONResponse, Response

from nightwater.desk.filming import Film, film, main_loads
from nightwater.desk.nights import StoredNight, required_night
from nightwater.desk.pressures import FilmPressures, film_pressures
from nightwater.night.requests import night_limits
from nightwater.pipes.network import build_network
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.film import view
from nightwater.web.film.view import Query
from nightwater.web.places import labels

router = APIRouter(prefix="/film")
Asked = Annotated[Query, InAddress()]


def _film(visit: Visit, night: date) -> tuple[StoredNight, Film]:
    stored = required_night(visit.course, night)
    key = f"film {stored.id}"
    return stored, visit.server.courses.remembered(key, lambda: film(visit.course, stored.plan))


def _pressures(visit: Visit, stored: StoredNight, made: Film) -> FilmPressures:
    return visit.server.courses.remembered(
        f"pressures {stored.id}", lambda: film_pressures(visit.course, stored.plan, made.frames)
    )


@router.get("")
def page(visit: CurrentVisit, asked: Asked) -> Response:
    """The film; without script, the frame that the address names.

    Raises:
        NotFoundError: nothing is planned for that date.
    """
    night = asked.night or visit.server.today()
    stored, made = _film(visit, night)
    zone = visit.course.settings.site.timezone
    pressures = _pressures(visit, stored, made)
    shown = view.gauge(made, pressures, visit.places, visit.units, zone)
    at = min(max(0, asked.at), len(shown) - 1)
    return visit.page(
        "film/page.html",
        night=night,
        stored=stored,
        plan=stored.plan,
        film=made,
        pressures=pressures,
        frames=shown,
        at=at,
        now=shown[at],
        open_now=[visit.places.station_label.get(s, s) for s in made.frames[at].open],
        scale=view.depth_scale(made, visit.units),
        labels=visit.places.area_label,
        depths=_depths(made, at),
    )


def _depths(made: Film, at: int) -> list[tuple[str, float]]:
    pairs = zip(made.areas, made.depth_mm[at].tolist(), strict=True)
    return sorted(pairs, key=lambda pair: (-pair[1] if pair[1] == pair[1] else 1.0, pair[0]))


@router.get("/values.json")
def values(visit: CurrentVisit, night: date) -> Response:
    """Of each frame what the map shows."""
    stored, made = _film(visit, night)
    pressures = _pressures(visit, stored, made)
    return JSONResponse(view.film_values(made, pressures, visit.places, visit.units))


@router.get("/frames.json")
def frame_figures(visit: CurrentVisit, night: date) -> Response:
    """Of each frame what the gauge shows."""
    stored, made = _film(visit, night)
    zone, pressures = visit.course.settings.site.timezone, _pressures(visit, stored, made)
    return JSONResponse({"frames": view.gauge(made, pressures, visit.places, visit.units, zone)})


@router.get("/paths.json")
def paths(visit: CurrentVisit, night: date) -> Response:
    """The chart of heads open by path."""
    stored, ground = required_night(visit.course, night), visit.course.ground
    settings = visit.course.settings
    limits = night_limits(ground, build_network(ground)[0], settings).controllers_heads
    names: dict[str, Any] = labels(ground.controllers)
    zone = settings.site.timezone
    return JSONResponse(view.paths_chart(stored.plan, ground, limits, names, zone))


@router.get("/mains.json")
def mains(visit: CurrentVisit, night: date) -> Response:
    """The chart of flow in the fullest mains."""
    stored = required_night(visit.course, night)
    loads = visit.server.courses.remembered(
        f"mains {stored.id}", lambda: main_loads(visit.course, stored.plan)
    )
    names, zone = labels(visit.course.ground.pipes), visit.course.settings.site.timezone
    return JSONResponse(view.mains_chart(loads, stored.plan, names, visit.units, zone))
