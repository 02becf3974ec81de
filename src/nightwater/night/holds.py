"""Holds as the planner keeps them: which stations, which minutes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from nightwater.ground.links import area_holes, head_areas
from nightwater.ground.record import Ground
from nightwater.night.plan import StationSum, Window
from nightwater.units import SECONDS_PER_MINUTE


@dataclass(frozen=True)
class Held:
    """A hold on a station: minutes from the night's start, and what to say of it."""

    start_min: float
    end_min: float
    reason: str


def _minute(moment: Any, window: Window) -> float:
    delta = pd.Timestamp(moment) - pd.Timestamp(window.start)
    return float(delta.total_seconds()) / SECONDS_PER_MINUTE


def holds_by_subject(holds: pd.DataFrame, window: Window) -> dict[str, list[Held]]:
    """The holds that touch a night, by what they hold."""
    by_subject: dict[str, list[Held]] = {}
    for row in holds.to_dict("records"):
        start, end = _minute(row["start"], window), _minute(row["end"], window)
        if end > 0 and start < window.minutes:
            held = Held(start, end, f"held ({row['cause']}): {row['reason']}, {row['author']}")
            by_subject.setdefault(str(row["subject"]), []).append(held)
    return by_subject


def _named(**rows: Any) -> set[str]:
    """The subjects of the rows that there are."""
    return {f"{table}:{name}" for table, name in rows.items() if not pd.isna(name)}


def station_subjects(ground: Ground, sums: Sequence[StationSum]) -> dict[str, set[str]]:
    """Every name under which a hold can hold a station.

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
    for head, station in ground.heads["station"].items():
        if station in subjects:
            area = areas.get(head)
            subjects[station] |= _named(heads=head, areas=area, holes=holes.get(area))
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
