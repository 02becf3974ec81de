"""The sentence of each station, and tonight's minutes beside the classical rules."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

from nightwater.desk.nights import StoredNight
from nightwater.desk.station_words import station_sentence
from nightwater.desk.three_ways import Compared, rules_beside
from nightwater.findings import UserError
from nightwater.ground.settings import PRIORITY
from nightwater.night.explaining import explained_night
from nightwater.night.minutes import FITTED
from nightwater.night.plan import Night
from nightwater.night.three_ways import FOOTPRINT, KIND, MAP, ThreeWays, Way
from nightwater.web.doorway import Visit
from nightwater.web.figures import percent, plain, quantity

NAMES: Final = {
    MAP: "the map, tonight",
    KIND: "kind of area",
    FOOTPRINT: "its heads’ own ground",
}
NO_MINUTES: Final = "no minutes would"


@dataclass(frozen=True)
class StationWay:
    """One way for one station, as shown: minutes, mean depth on its ground, scaled minutes."""

    name: str
    minutes: str
    depth: str
    same: str


@dataclass(frozen=True)
class StationBeside:
    """The three ways for one station, and what the numbers mean."""

    rows: list[StationWay]
    words: str


@dataclass(frozen=True)
class TotalWay:
    """One way over the course, as shown."""

    name: str
    water: str
    against: str
    lacking: str
    same_lack: str
    scale: str
    own: str
    served: dict[str, str]


def sentences(visit: Visit, night: Night, stations: Collection[str]) -> dict[str, str]:
    """How the minutes of some stations come about, in the reader's units."""
    timezone = visit.course.settings.site.timezone
    return {
        name: station_sentence(one, visit.units, timezone)
        for name, one in explained_night(night, stations).items()
    }


def compared(visit: Visit, stored: StoredNight) -> Compared:
    """The three ways, worked out once for each state of the course file."""
    try:
        made: Compared = visit.server.courses.remembered(
            f"three ways {stored.id}", lambda: rules_beside(visit.course, stored)
        )
    except UserError as mistake:
        return Compared(None, str(mistake), 0)
    return made


def _minutes(value: float) -> str:
    return f"{value:,.1f} min".replace(".0 min", " min")


def _station_way(visit: Visit, name: str, way: Way, station: str) -> StationWay:
    row = way.stations.loc[[station]].iloc[0].astype(float)
    same = _minutes(float(row["same_min"])) if math.isfinite(way.scale) else NO_MINUTES
    depth = quantity(float(row["depth_mm"]), "mm", visit.units)
    return StationWay(NAMES[name], _minutes(float(row["run_min"])), depth, same)


def station_beside(visit: Visit, stored: StoredNight, station: str) -> StationBeside | None:
    """The three ways for one station; None where its minutes do not follow the map."""
    followed = any(
        item.station == station and item.multiplier_name == FITTED for item in stored.plan.sums
    )
    ways = compared(visit, stored).ways if followed else None
    if ways is None or station not in ways.need_mm.index:
        return None
    need = quantity(float(ways.need_mm[station]), "mm", visit.units)
    words = (
        f"The ground that it wets needs {need} on average; depths are what all stations together "
        f"would bring there by that way. The last column makes all minutes of a rule longer alike, "
        f"until it serves {percent(ways.share)} of the ground in reach, as tonight does."
    )
    rows = [_station_way(visit, name, way, station) for name, way in ways.ways.items()]
    return StationBeside(rows, words)


def _more(water_m3: float, tonight_m3: float) -> str:
    return f"{100 * (water_m3 / tonight_m3 - 1):+.1f} %".replace("-", "−")


def _beside(visit: Visit, water_m3: float, tonight_m3: float) -> str:
    """Water of a rule, and how much more than tonight's that is."""
    if not math.isfinite(water_m3):
        return NO_MINUTES
    return f"{quantity(water_m3, 'm3', visit.units)} ({_more(water_m3, tonight_m3)})"


def _total(visit: Visit, name: str, way: Way, tonight_m3: float) -> TotalWay:
    if not math.isfinite(way.water_m3):
        none = dict.fromkeys(way.served, "–")
        same_lack = _beside(visit, way.same_lack_m3, tonight_m3)
        own = percent(way.own_share)
        return TotalWay(NAMES[name], NO_MINUTES, "–", "–", same_lack, "–", own, none)
    return TotalWay(
        name=NAMES[name],
        water=quantity(way.water_m3, "m3", visit.units),
        against="–" if name == MAP else _more(way.water_m3, tonight_m3),
        lacking=quantity(way.lacking_m3, "m3", visit.units),
        same_lack="–" if name == MAP else _beside(visit, way.same_lack_m3, tonight_m3),
        scale=plain(round(way.scale, 2)),
        own=percent(way.own_share),
        served={kind: percent(share) for kind, share in way.served.items()},
    )


def _kinds(ways: ThreeWays) -> list[str]:
    present = ways.ways[MAP].served
    return [kind for kind in PRIORITY if kind in present]


def totals(visit: Visit, stored: StoredNight) -> dict[str, Any]:
    """What the comparison over the whole course shows."""
    found = compared(visit, stored)
    if found.ways is None:
        return {"trouble": found.why_none}
    ways = found.ways
    tonight_m3 = ways.ways[MAP].water_m3
    return {
        "trouble": "",
        "share": percent(ways.share),
        "rows": [_total(visit, name, way, tonight_m3) for name, way in ways.ways.items()],
        "kinds": _kinds(ways),
        "reached": quantity(ways.reached_m2, "m2", visit.units),
        "gap": quantity(ways.gap_m2, "m2", visit.units),
        "others": found.others,
        "trimmed": sum(item.trim_factor != 1 or item.extra_min != 0 for item in stored.plan.sums),
    }
