"""Dry spots and repairs as a person reads them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlencode

from nightwater.desk.dry_spots import DrySpots
from nightwater.desk.fixing import Fix, FixList
from nightwater.spray.dry_spots import GAP, Cause
from nightwater.spray.evidence import Evidence
from nightwater.units import UnitSystem
from nightwater.web.doorway import Visit
from nightwater.web.figures import percent, quantity
from nightwater.web.places import labels

FIRST_ROWS: Final = 20
WORDS: Final = {
    "pattern-gap": "gap in the pattern",
    "few-minutes": "too few minutes",
    "low-pressure": "low pressure",
    "wrong-nozzle": "wrong nozzle",
    "wrong-arc": "arc points off",
    "worn-nozzle": "worn nozzle",
    "broken-head": "broken head",
    "tilted-head": "tilted head",
    "sunken-head": "sunken head",
    "wind": "wind",
    "slope": "slope",
    "soil": "soil",
}
REPAIRS: Final = {
    "pattern-gap": "add a head",
    "low-pressure": "bring its pressure up",
    "wrong-nozzle": "change the nozzle",
    "wrong-arc": "turn the arc",
    "worn-nozzle": "renew the nozzle",
    "broken-head": "renew the head",
    "tilted-head": "level the head",
    "sunken-head": "raise the head",
}


def evidence_words(told: Evidence, units: UnitSystem) -> str:
    """A sentence of evidence in the reader's units."""
    return told.words.format(*(quantity(value, unit, units) for value, unit in told.quantities))


def litres(value_l: float, units: UnitSystem) -> str:
    """A volume in the reader's unit."""
    return quantity(value_l / 1000.0, "m3", units)


@dataclass(frozen=True)
class FixRow:
    """One repair as texts.

    Attributes:
        cause: code.
        what: the repair in words.
        head: label of the head.
        subject: of the head.
        area: label of the area.
        why: evidence.
        night, season, hour: water saved; relieved: what dry turf lacks less.
        costs: whether it costs water instead of saving it.
        spot, attempt: addresses of the place on the map and of the what-if.
    """

    cause: str
    what: str
    head: str
    subject: str
    area: str
    why: str
    night: str
    season: str
    hour: str
    relieved: str
    costs: bool
    spot: str
    attempt: str


def _attempt(fix: Fix, night: str, visit: Visit) -> str:
    head = fix.subject.partition(":")[2]
    state: dict[str, Any] = {"night": night, "head": head}
    if fix.cause == GAP:
        point = visit.course.ground.heads.geometry[head]
        state |= {"add": 1, "unit": "metric"}
        state |= {"east": round(fix.place_m[0] - point.x, 1)}
        state |= {"north": round(fix.place_m[1] - point.y, 1)}
    elif fix.cause in ("tilted-head", "sunken-head", "worn-nozzle", "broken-head"):
        state |= {"level": 1}
    elif fix.cause == "wrong-nozzle":
        state |= {"nozzle": fix.nozzle}
    return f"/coverage/try?{urlencode(state)}"


def _fix_row(fix: Fix, night: str, visit: Visit) -> FixRow:
    units = visit.units
    hours = fix.saved_m3_hour
    place = {"night": night, "x": f"{fix.place_m[0]:.1f}", "y": f"{fix.place_m[1]:.1f}"}
    return FixRow(
        cause=WORDS.get(fix.cause, fix.cause),
        what=REPAIRS.get(fix.cause, "look at it"),
        head=fix.label,
        subject=fix.subject,
        area=visit.places.area_label.get(fix.area, fix.area),
        why=evidence_words(fix.evidence, units),
        night=litres(fix.saved_l_night, units),
        season=quantity(fix.saved_m3_season, "m3", units),
        hour="–" if math.isnan(hours) else quantity(hours, "m3", units),
        relieved=litres(fix.relieved_l, units),
        costs=fix.saved_l_night < 0,
        spot=f"/coverage?{urlencode(place)}#spot-title",
        attempt=_attempt(fix, night, visit),
    )


def fix_rows(visit: Visit, listed: FixList, night: str, *, by_hour: bool) -> list[FixRow]:
    """The repairs as rows, by water saved or by water saved for an hour of work."""
    fixes = list(listed.fixes)
    if by_hour:
        fixes.sort(key=lambda fix: -_known(fix.saved_m3_hour))
    return [_fix_row(fix, night, visit) for fix in fixes]


def _known(value: float) -> float:
    return -math.inf if math.isnan(value) else value


@dataclass(frozen=True)
class CauseRow:
    """One cause of a spot as texts."""

    words: str
    share: str
    why: str
    heads: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class SpotRow:
    """One dry spot as texts."""

    area: str
    kind: str
    size: str
    lacking: str
    depth: str
    need: str
    at: str
    causes: tuple[CauseRow, ...]


def _cause_row(cause: Cause, names: dict[str, str], units: UnitSystem) -> CauseRow:
    evidence = [evidence_words(one, units) for one in cause.evidence]
    heads = tuple((head, names.get(head, head)) for head in cause.heads[:3])
    named = [f"{name} {why}" for (_, name), why in zip(heads, evidence, strict=False)]
    rest = evidence[len(cause.heads) :] if cause.heads else evidence
    more = len(cause.heads) - len(heads)
    others = [f"{more} more heads like these"] if more > 0 else []
    share = "makes it worse" if math.isnan(cause.score) else percent(cause.score)
    words = WORDS.get(cause.code, cause.code)
    return CauseRow(words, share, "; ".join([*named, *others, *rest]), heads)


def spot_rows(visit: Visit, found: DrySpots, night: str, most: int | None) -> list[SpotRow]:
    """The dry spots that some head reaches, with their causes; the most lacking first."""
    names, areas = labels(visit.course.ground.heads), visit.course.ground.areas
    rows = []
    for place in range(int(found.dry.table["reached"].sum()))[:most]:
        spot, units = found.dry.table.iloc[place], visit.units
        where = {"night": night, "x": f"{spot['x_m']:.1f}", "y": f"{spot['y_m']:.1f}"}
        rows.append(
            SpotRow(
                area=visit.places.area_label.get(spot["area"], spot["area"]),
                kind=str(areas["kind"][spot["area"]]),
                size=quantity(float(spot["area_m2"]), "m2", units),
                lacking=litres(float(spot["lacking_l"]), units),
                depth=quantity(float(spot["depth_mm"]), "mm", units),
                need=quantity(float(spot["need_mm"]), "mm", units),
                at=f"/coverage?{urlencode(where)}#spot-title",
                causes=tuple(_cause_row(one, names, units) for one in found.causes[place]),
            )
        )
    return rows
