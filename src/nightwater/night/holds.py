"""Holds as the planner keeps them: which stations, which minutes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import pandas as pd

from nightwater.ground.links import area_holes, head_areas
from nightwater.ground.record import Ground
from nightwater.night.hand_changes import ActingHold
from nightwater.night.plan import Night, StationSum, Window
from nightwater.units import SECONDS_PER_MINUTE

POINT: Final = "point"  # a subject "point:X,Y,RADIUS" is a circle in the course's metres
HELD: Final = "held ("  # how the reason of a held station begins


@dataclass(frozen=True)
class Held:
    """A hold on a station: minutes from the night's start, and what to say of it."""

    start_min: float
    end_min: float
    reason: str
    hold: ActingHold | None = None


def _minute(moment: Any, window: Window) -> float:
    delta = pd.Timestamp(moment) - pd.Timestamp(window.start)
    return float(delta.total_seconds()) / SECONDS_PER_MINUTE


def _acting(row: Mapping[Any, Any]) -> ActingHold:
    until: datetime = pd.Timestamp(row["end"]).to_pydatetime()
    return ActingHold(str(row["cause"]), until, str(row["reason"]), str(row["author"]))


def holds_by_subject(holds: pd.DataFrame, window: Window) -> dict[str, list[Held]]:
    """The holds that touch a night, by what they hold."""
    by_subject: dict[str, list[Held]] = {}
    for row in holds.to_dict("records"):
        start, end = _minute(row["start"], window), _minute(row["end"], window)
        if end > 0 and start < window.minutes:
            words = f"{HELD}{row['cause']}): {row['reason']}, {row['author']}"
            held = Held(start, end, words, _acting(row))
            by_subject.setdefault(str(row["subject"]), []).append(held)
    return by_subject


@dataclass(frozen=True)
class Circle:
    """Ground around a point, in the course's own metres."""

    x_m: float
    y_m: float
    radius_m: float

    def holds(self, x_m: float, y_m: float) -> bool:
        """Whether a place lies in it, its rim included."""
        return math.hypot(x_m - self.x_m, y_m - self.y_m) <= self.radius_m

    @property
    def subject(self) -> str:
        """The subject of a hold on it, to the decimetre."""
        return f"{POINT}:{self.x_m:.1f},{self.y_m:.1f},{self.radius_m:.1f}"


def circle_of(subject: str) -> Circle | None:
    """The circle that a subject `point:X,Y,RADIUS` names; None where it names none."""
    table, _, numbers = subject.partition(":")
    if table != POINT:
        return None
    try:
        x_m, y_m, radius_m = (float(part) for part in numbers.split(","))
    except ValueError:
        return None
    known = all(map(math.isfinite, (x_m, y_m, radius_m))) and radius_m > 0
    return Circle(x_m, y_m, radius_m) if known else None


def _named(**rows: Any) -> set[str]:
    """The subjects of the rows that there are."""
    return {f"{table}:{name}" for table, name in rows.items() if not pd.isna(name)}


def _in_circles(ground: Ground, head: Any, circles: Mapping[str, Circle]) -> set[str]:
    """The subjects of the circles in which a head stands."""
    place = ground.heads.geometry.get(head)
    if place is None or place.is_empty:
        return set()
    return {subject for subject, circle in circles.items() if circle.holds(place.x, place.y)}


def station_subjects(
    ground: Ground, sums: Sequence[StationSum], held: Iterable[str] = ()
) -> dict[str, set[str]]:
    """Every name under which a hold can hold a station.

    `held` are the subjects of the holds that there are: circles are looked for among these.

    One held head holds its station, since a station opens all of its heads; a trim, which
    is a matter of degree, goes by the area that the station mainly waters (minutes.py).
    """
    control = ground.stations["controller"]
    subjects = {
        item.station: {"course", f"kind:{item.kind}"}
        | _named(stations=item.station, controllers=control.get(item.station))
        for item in sums
    }
    areas, holes = head_areas(ground), area_holes(ground)
    found = {subject: circle_of(subject) for subject in held}
    circles = {subject: circle for subject, circle in found.items() if circle is not None}
    for head, station in ground.heads["station"].items():
        if station in subjects:
            area = areas.get(head)
            subjects[station] |= _named(heads=head, areas=area, holes=holes.get(area))
            subjects[station] |= _in_circles(ground, head, circles) if circles else set()
    return subjects


def holds_of(subjects: set[str], by_subject: Mapping[str, list[Held]]) -> list[Held]:
    """The holds that one station is under, earliest first."""
    mine = [held for subject, group in by_subject.items() if subject in subjects for held in group]
    return sorted(mine, key=lambda held: (held.start_min, held.end_min))


def free_minutes(earliest: int, latest: int, holds: Sequence[Held]) -> tuple[int, int]:
    """The longest stretch of a station's window that no hold touches; twice the same if none."""
    best, begin = (earliest, earliest), float(earliest)
    ends = [(held.start_min, held.end_min) for held in holds]
    for start, end in [*ends, (float(latest), float(latest))]:
        first, last = math.ceil(begin), math.floor(min(start, latest))
        if last - first > best[1] - best[0]:
            best = (first, last)
        begin = max(begin, end)
    return best


@dataclass(frozen=True)
class KeptBack:
    """What a hold keeps back in a night: stations that do not run, their minutes and water.

    `litres` leaves out stations of unknown flow.
    """

    stations: int
    minutes: int
    litres: float


NOTHING_KEPT: Final = KeptBack(0, 0, 0.0)


def kept_back(night: Night, ground: Ground, holds: pd.DataFrame) -> dict[str, KeptBack]:
    """What each hold keeps back in a night, by the hold's id.

    A station under several holds counts with the one that the night names as its reason, the
    earliest; a station that still runs beside its hold counts nowhere.
    """
    flows = {item.station: item.flow_l_s for item in night.sums}
    left = {item.station: item for item in night.left_out if item.reason.startswith(HELD)}
    sums = [item for item in night.sums if item.station in left]
    subjects = station_subjects(ground, sums, holds["subject"].astype(str))
    taken: set[str] = set()
    found: dict[str, KeptBack] = {}
    for identity, row in holds.sort_values(["start", "end"]).iterrows():
        reason = f"{HELD}{row['cause']}): {row['reason']}"
        mine = [
            item
            for station, item in left.items()
            if row["subject"] in subjects.get(station, set())
            and station not in taken
            and item.reason.startswith(reason)
        ]
        taken |= {item.station for item in mine}
        found[str(identity)] = KeptBack(
            len(mine),
            sum(item.owed_min for item in mine),
            sum(_litres(item.owed_min, flows[item.station]) for item in mine),
        )
    return found


def _litres(minutes: int, flow_l_s: float) -> float:
    return 0.0 if math.isnan(flow_l_s) else minutes * flow_l_s * SECONDS_PER_MINUTE
