"""Catch-can audits: plan one, keep what was measured, correct it; nothing recorded is lost."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import shapely

from nightwater.desk.course import Course
from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.links import head_throw_m
from nightwater.ground.tables import TABLES
from nightwater.spray.audit_plan import LEAST_CANS, CanPlaces, can_places
from nightwater.units import to_si, unit_named

DIAMETER_UNITS: Final = ("mm", "cm", "in")
OPENING_UNITS: Final = ("cm2", "in2")
CATCH_UNITS: Final = ("mL", "floz", "mm", "in")
FACTS: Final = ("run_min", "throat_m2", "wind_m_s", "wind_from_deg", "pressure_kpa", "time", "text")
_MOST_ML: Final = 5000.0


@dataclass(frozen=True)
class Audit:
    """One audit as the file holds it.

    Attributes:
        id: its id.
        facts: columns of its row; None where missing.
        cans: rows of its cans in walking order: label, caught_ml, left_out, earlier, x_m, y_m.
    """

    id: str
    facts: Mapping[str, Any]
    cans: pd.DataFrame

    @property
    def label(self) -> str:
        """What people call it."""
        return str(self.facts["label"] or self.id)

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations that ran, or are to run."""
        return tuple(str(self.facts["stations"] or "").split())

    @property
    def entered(self) -> int:
        """Cans whose catch is known."""
        return int(self.cans["caught_ml"].notna().sum())


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


def opening_m2(size: float, unit: str) -> float:
    """Opening of a round can from its area or its diameter.

    Args:
        size: in `unit`.
        unit: cm2 or in2 for an area; mm, cm or in for a diameter.

    Raises:
        UserError: another unit, none, or an opening that no can has.
    """
    if unit not in (*OPENING_UNITS, *DIAMETER_UNITS):
        raise UserError(
            "Say what the size of the can's opening is: its area in cm2 or in2, or its diameter "
            "in mm, cm or in."
        )
    inside = float(to_si(size, unit))
    metres = inside / 1000.0 if unit_named(unit).quantity == "depth" else inside
    opening = inside if unit in OPENING_UNITS else math.pi / 4.0 * metres**2
    if not 1e-4 <= opening <= 1.0:
        raise UserError(f"An opening of {size:g} {unit} is no can's. Check number and unit.")
    return opening


def catch_ml(value: float, unit: str, throat_m2: float | None) -> float:
    """A catch in millilitres, from a volume or from a depth in the can.

    Raises:
        UserError: another unit, a depth without the opening, or a catch that cannot be.
    """
    if unit not in CATCH_UNITS:
        raise UserError(f"Say in what the catches are: {', '.join(CATCH_UNITS)}.")
    inside = float(to_si(value, unit))
    if unit_named(unit).quantity == "depth":
        if throat_m2 is None or math.isnan(throat_m2):
            raise UserError("A depth needs the opening of the cans. Enter it first.")
        inside *= throat_m2 / 1000.0  # mm on m² is litres
    caught = inside * 1e6
    if not 0 <= caught <= _MOST_ML:
        raise UserError(f"A catch of {value:g} {unit} cannot be. Check number and unit.")
    return caught


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


def _name(course: Course, area: str) -> str:
    label = course.ground.areas["label"].get(area)
    return area if label is None or pd.isna(label) else str(label)


def _plain(value: Any) -> Any:
    return None if value is None or pd.isna(value) else value


def audit_of(course: Course, identity: str) -> Audit:
    """One audit with its cans.

    Raises:
        NotFoundError: no such audit.
    """
    rows = course.file.running("audits")
    if identity not in rows.index:
        raise NotFoundError(f"There is no audit '{identity}' in this course.")
    facts = {name: _plain(rows.at[identity, name]) for name in TABLES["audits"].by_name}
    cans = course.file.running("cans", audit=identity)
    points = np.asarray(cans.geometry.to_numpy(), dtype=object)
    listed = pd.DataFrame(cans[["label", "caught_ml", "left_out", "earlier"]])
    listed = listed.assign(x_m=shapely.get_x(points), y_m=shapely.get_y(points))
    return Audit(identity, facts, listed.sort_index())


def gap_m(audit: Audit) -> float:
    """Usual distance from a can to the nearest other [m]."""
    at = audit.cans[["x_m", "y_m"]].to_numpy(dtype=float)
    away = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(away, np.inf)
    return float(np.median(away.min(axis=1)))


def audits_of(course: Course) -> list[Audit]:
    """Every audit, the newest first."""
    return [audit_of(course, str(name)) for name in course.file.running("audits").index[::-1]]


def check_can_correct(audit: Audit) -> None:
    """Refuse to change an audit that the record was changed by.

    Raises:
        ConflictError: it is used.
    """
    if audit.facts["state"] == "used":
        raise ConflictError(
            f"Audit {audit.label} was used for revision {audit.facts['used_in']}, so it stays as "
            "it is. Plan a new one."
        )


def _kept(earlier: Any, words: Sequence[str], who: str, now: datetime) -> str | None:
    """The list of corrections with the newest at its end; None where there are none."""
    before = [str(earlier)] if isinstance(earlier, str) and earlier else []
    new = [f"{now.isoformat(timespec='seconds')} {who}: {word}" for word in words]
    return "\n".join([*before, *new]) or None


def _differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Values that were there and are no longer, in words."""
    return [
        f"{name} was {_plain(before[name])}, now {value}"
        for name, value in after.items()
        if _plain(before[name]) is not None and _plain(before[name]) != value
    ]


def record_facts(
    course: Course, identity: str, facts: Mapping[str, Any], *, who: str, now: datetime
) -> None:
    """Keep how an audit was run: minutes, opening, wind, pressure, time, what was seen.

    Args:
        course: the course.
        identity: which audit.
        facts: some of `FACTS` in inside units; None empties one.
        who, now: for the list of corrections.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: an unknown fact, or a number out of bounds.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    for name, value in facts.items():
        _check_fact(name, value)
    row = {**audit.facts, **facts}
    row["earlier"] = _kept(row["earlier"], _differences(audit.facts, facts), who, now)
    course.file.append("audits", pd.DataFrame([row], index=pd.Index([identity], name="id")))


def _check_fact(name: str, value: Any) -> None:
    if name not in FACTS:
        raise UserError(f"An audit has no fact '{name}'. Known: {', '.join(FACTS)}.")
    column = TABLES["audits"].by_name[name]
    if value is None or column.lowest is None or column.highest is None:
        return
    if not column.lowest <= float(value) <= column.highest:
        raise UserError(
            f"{name} of {value:g} cannot be; it goes from {column.lowest:g} to "
            f"{column.highest:g}. Check number and unit."
        )


def record_catches(
    course: Course, identity: str, caught_ml: Mapping[str, float], *, who: str, now: datetime
) -> int:
    """Keep what cans caught, by their number; what was recorded before is kept beside it.

    Returns:
        How many cans took a new value.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: a can that the audit does not have, or a catch that cannot be.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    by_label = {str(label): str(can) for can, label in audit.cans["label"].items()}
    unknown = [label for label in caught_ml if label not in by_label]
    if unknown:
        raise UserError(f"Audit {audit.label} has no can {', '.join(unknown[:6])}.")
    for label, value in caught_ml.items():
        if not 0 <= value <= _MOST_ML:
            raise UserError(f"Can {label}: {value:g} mL cannot be. Check the number.")
    new = {by_label[label]: {"caught_ml": value} for label, value in caught_ml.items()}
    changed = _write_cans(course, audit, new, who, now)
    if changed and audit.facts["state"] == "planned":
        row = {**audit.facts, "state": "measured"}
        course.file.append("audits", pd.DataFrame([row], index=pd.Index([identity], name="id")))
    return changed


def _write_cans(
    course: Course, audit: Audit, new: Mapping[str, Mapping[str, Any]], who: str, now: datetime
) -> int:
    rows = {}
    for can, values in new.items():
        before = {name: audit.cans.at[can, name] for name in audit.cans.columns}
        if all(_plain(before[name]) == value for name, value in values.items()):
            continue
        words = _differences(before, values)
        kept = {"label": before["label"], "audit": audit.id, **values}
        rows[can] = {**kept, "earlier": _kept(_plain(before["earlier"]), words, who, now)}
    if rows:
        frame = pd.DataFrame.from_dict(rows, orient="index")
        course.file.append("cans", frame.astype(object).rename_axis("id"))
    return len(rows)


def leave_out(
    course: Course, identity: str, label: str, reason: str, *, who: str, now: datetime
) -> None:
    """Let a can not count, for a reason; an empty reason lets it count again.

    Raises:
        NotFoundError: no such audit.
        ConflictError: it is used already.
        UserError: no such can.
    """
    audit = audit_of(course, identity)
    check_can_correct(audit)
    found = audit.cans.index[audit.cans["label"] == label]
    if not len(found):
        raise UserError(f"Audit {audit.label} has no can {label}.")
    values = {"left_out": f"{reason.strip()} ({who})" if reason.strip() else None}
    _write_cans(course, audit, {str(found[0]): values}, who, now)
