"""The steps of a night in their numbers: conditions, need, minutes, what changes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np

from nightwater.desk.changing import AGAINST, Comparison, area_label, compare, reason_words
from nightwater.desk.holding import HoldState, ListedHold, holds_listed
from nightwater.desk.needing import daily_weather, need
from nightwater.desk.nights import StoredNight
from nightwater.findings import UserError
from nightwater.ground.settings import PRIORITY
from nightwater.night.minutes import FITTED
from nightwater.night.plan import Night, StationSum
from nightwater.web.doorway import Visit
from nightwater.web.tonight.view import placed_minutes

MOST_CHANGES: Final = 40
_EVIDENCE: Final = {"observed": "observed", "forecast": "assumed", "typical": "assumed"}
_WEATHER: Final = ("eto_mm", "rain_mm", "etc_mm", "carried_mm", "depletion_mm")


@dataclass(frozen=True)
class KindStep:
    """One kind of area in the steps of need and minutes.

    Attributes:
        kind: of the areas.
        areas, stations: how many.
        need_mm: mean net need, by the ground that each station waters.
        least_mm, most_mm: of its areas.
        asked_min, given_min: minutes that the sums ask and the night gives.
        trimmed, fitted: stations changed by hand, and with minutes that follow the map.
    """

    kind: str
    areas: int
    stations: int
    need_mm: float
    least_mm: float
    most_mm: float
    asked_min: int
    given_min: int
    trimmed: int
    fitted: int


def _mean_need_mm(mine: list[StationSum]) -> float:
    known = [(item.need_mm, item.wetted_m2) for item in mine if not math.isnan(item.need_mm)]
    ground = sum(area for _, area in known)
    return sum(depth * area for depth, area in known) / ground if ground else math.nan


def _kind_step(kind: str, mine: list[StationSum], placed: dict[str, int]) -> KindStep:
    needs = [item.need_mm for item in mine if not math.isnan(item.need_mm)]
    return KindStep(
        kind=kind,
        areas=len({item.area for item in mine}),
        stations=len(mine),
        need_mm=_mean_need_mm(mine),
        least_mm=min(needs, default=math.nan),
        most_mm=max(needs, default=math.nan),
        asked_min=sum(item.run_min for item in mine),
        given_min=sum(placed[item.station] for item in mine),
        trimmed=sum(item.trim_factor != 1 or item.extra_min != 0 for item in mine),
        fitted=sum(item.multiplier_name == FITTED for item in mine),
    )


def kind_steps(night: Night) -> list[KindStep]:
    """Need and minutes of each kind, in order of service."""
    placed = placed_minutes(night)
    groups: dict[str, list[StationSum]] = {}
    for item in night.sums:
        groups.setdefault(item.kind, []).append(item)
    order = [*[k for k in PRIORITY if k in groups], *sorted(set(groups) - set(PRIORITY))]
    return [_kind_step(kind, groups[kind], placed) for kind in order]


def compared(visit: Visit, stored: StoredNight, against: str) -> Comparison | None:
    """A comparison, worked out once for each state of the course file."""
    made: Comparison | None = visit.server.courses.remembered(
        f"changes {stored.id} {against}",
        lambda: compare(visit.course, stored, "ordinary" if against == "ordinary" else "last"),
    )
    return made


def changes_shown(visit: Visit, stored: StoredNight, against: str) -> dict[str, Any]:
    """What the step of changes shows."""
    made = compared(visit, stored, against)
    ground = visit.course.ground
    return {
        "against": against,
        "ways": AGAINST,
        "made": made,
        "reason_words": reason_words,
        "area_label": lambda area: area_label(ground, area),
        "changed": [] if made is None else made.changed[:MOST_CHANGES],
        "labels": visit.places.station_label,
    }


def standing_holds(visit: Visit, night: date) -> list[ListedHold]:
    """The holds that are on or to come, with what they keep back of this night."""
    listed: list[ListedHold] = visit.server.courses.remembered(
        f"holds {night} {visit.server.now():%Y-%m-%dT%H:%M}",
        lambda: holds_listed(visit.course, night, visit.server.now()),
    )
    return [hold for hold in listed if hold.state in (HoldState.ON, HoldState.COMING)]


def conditions(visit: Visit, night: date) -> dict[str, Any]:
    """Weather, account and holds of a night, each number with how it is known."""
    try:
        found = visit.server.courses.remembered(f"need {night}", lambda: need(visit.course, night))
    except UserError as mistake:
        return {"trouble": str(mistake), "weather": {}, "flags": [], "assumed": []}
    table = found.table
    means = {name: float(np.nanmean(table[name])) if len(table) else math.nan for name in _WEATHER}
    flags = sorted({flag for flags in table["flags"] for flag in _flags(flags)})
    assumed = sorted({name for names in table["assumed"] for name in _flags(names)})
    origin = _origin(visit, night)
    return {
        "trouble": "",
        "weather": means,
        "flags": flags,
        "assumed": assumed,
        "origin": origin,
        "rain_evidence": _EVIDENCE.get(origin, "computed"),
    }


def _origin(visit: Visit, night: date) -> str:
    """Where the day's weather comes from: observed, forecast, typical, or made of hours."""
    days = daily_weather(visit.course)
    if night not in days.index or "origin" not in days:
        return "made of hours"
    origin = days.loc[days.index == night, "origin"].iloc[0]
    return origin if isinstance(origin, str) and origin else "made of hours"


def _flags(value: Any) -> list[str]:
    return [] if not isinstance(value, (list, tuple, set, frozenset)) else list(map(str, value))
