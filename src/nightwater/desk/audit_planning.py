"""Plan an audit: which stations run, where the cans stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import shapely

from nightwater.desk.course import Course
from nightwater.findings import UserError
from nightwater.ground.links import head_throw_m
from nightwater.spray.audit_plan import LEAST_CANS, CanPlaces, can_places


@dataclass(frozen=True)
class AuditWish:
    """An audit that somebody wants to make.

    Attributes:
        area: which area.
        stations: which stations run; empty for all whose heads reach the area.
        cans: how many cans there are.
        throat_m2: opening of one, None where not known yet.
        label: what to call it; empty for the area's name and the day.
    """

    area: str
    stations: Sequence[str] = ()
    cans: int = LEAST_CANS
    throat_m2: float | None = None
    label: str = ""


def reaching_stations(course: Course, area: str) -> tuple[str, ...]:
    """Stations whose heads throw onto an area, in the record's order."""
    heads = course.ground.heads
    shape = course.ground.areas.geometry[area]
    throw = head_throw_m(course.ground).reindex(heads.index).to_numpy(dtype=float)
    far = shapely.distance(np.asarray(heads.geometry.to_numpy(), dtype=object), shape)
    named = heads["station"][(far < throw) & heads["station"].notna().to_numpy()]
    return tuple(str(name) for name in dict.fromkeys(named))


def stations_named(course: Course, words: str) -> tuple[str, ...]:
    """Stations of a list parted by commas, each by id or label.

    Raises:
        UserError: a name that no station has, or that two have.
    """
    labels = course.ground.stations["label"]
    found = []
    for word in (part.strip() for part in words.split(",")):
        if not word:
            continue
        mine = [word] if word in labels.index else [str(i) for i in labels.index[labels == word]]
        if len(mine) != 1:
            many = "Several stations are" if mine else "No station is"
            raise UserError(f"{many} called '{word}'. Name stations by id or label, with commas.")
        found.append(mine[0])
    return tuple(dict.fromkeys(found))


def heads_of(course: Course, stations: Sequence[str]) -> pd.DataFrame:
    """Rows of the heads that stations fire."""
    heads = course.ground.heads
    mine: pd.DataFrame = heads[heads["station"].isin(list(stations)).to_numpy()]
    return mine


def _ground_of(course: Course, wish: AuditWish, stations: Sequence[str]) -> shapely.Geometry:
    """The area, or the part of it between the heads of the stations that were named."""
    shape: shapely.Geometry = course.ground.areas.geometry[wish.area]
    if not wish.stations:
        return shape
    heads = heads_of(course, stations)
    throw = head_throw_m(course.ground).reindex(heads.index).to_numpy(dtype=float)
    reach = shapely.union_all(
        shapely.buffer(np.asarray(heads.geometry.to_numpy(), dtype=object), throw)
    )
    part = shapely.intersection(shape, reach)
    if part.is_empty:
        raise UserError("The heads of these stations do not reach the area. Name others.")
    return part


def _check_wish(course: Course, wish: AuditWish) -> tuple[str, ...]:
    areas, known = course.ground.areas, course.ground.stations.index
    if wish.area not in areas.index or areas.geometry[wish.area] is None:
        raise UserError(f"There is no area '{wish.area}' with an outline in the record.")
    for name in wish.stations:
        if name not in known:
            raise UserError(f"There is no station '{name}'. Name stations by their id.")
    stations = tuple(wish.stations) or reaching_stations(course, wish.area)
    if heads_of(course, stations).empty:
        raise UserError(
            f"No station's head reaches area {wish.area}. Enter nozzles and stations of its "
            "heads first."
        )
    return stations


def usual_spacing_m(heads: pd.DataFrame) -> float:
    """Median of the declared spacing, else of the distance to the nearest other head."""
    declared = heads["spacing_m"].dropna()
    if len(declared):
        return float(declared.median())
    places = shapely.get_coordinates(heads.geometry.to_numpy())
    if len(places) < 2:
        return math.nan
    away = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(away, np.inf)
    return float(np.median(away.min(axis=1)))


def places_for(course: Course, wish: AuditWish) -> tuple[CanPlaces, tuple[str, ...]]:
    """Where the cans of a wish would stand, and which stations run.

    Raises:
        UserError: unknown area or station, or ground that takes no audit.
    """
    stations = _check_wish(course, wish)
    heads = heads_of(course, stations)
    ground = _ground_of(course, wish, stations)
    inside = heads[shapely.intersects(heads.geometry.to_numpy(), ground)]
    at = shapely.get_coordinates(inside.geometry.to_numpy())
    return can_places(ground, at, usual_spacing_m(heads), wish.cans), stations


def _next_id(course: Course) -> str:
    taken = set(course.file.running("audits").index)
    return next(name for n in range(1, len(taken) + 2) if (name := f"AU{n}") not in taken)


def _name(course: Course, area: str) -> str:
    label = course.ground.areas["label"].get(area)
    return area if label is None or pd.isna(label) else str(label)


def plan_audit(course: Course, wish: AuditWish, *, who: str, now: datetime) -> str:
    """Keep a planned audit with its numbered cans; gives its id.

    Raises:
        UserError: see `places_for`.
    """
    places, stations = places_for(course, wish)
    identity = _next_id(course)
    today = now.astimezone(ZoneInfo(course.settings.site.timezone)).date().isoformat()
    label = wish.label.strip() or f"{_name(course, wish.area)}, {today}"
    row = {
        "label": label,
        "area": wish.area,
        "stations": " ".join(stations),
        "state": "planned",
        "throat_m2": wish.throat_m2,
        "author": who,
    }
    labels = [str(number) for number in range(1, len(places) + 1)]
    cans = pd.DataFrame(
        {
            "label": labels,
            "audit": identity,
            "geometry": [shapely.Point(x, y) for x, y in zip(places.x_m, places.y_m, strict=True)],
        },
        index=pd.Index([f"{identity}-{int(n):03d}" for n in labels], name="id"),
    )
    course.file.append("audits", pd.DataFrame([row], index=pd.Index([identity], name="id")))
    course.file.append("cans", cans)
    return identity
