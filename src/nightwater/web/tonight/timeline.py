"""The night path by path: when each station of a controller runs, as bars over the hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, ClassVar, Final

import pandas as pd

from nightwater.desk.sheet import NO_CONTROLLER, clock
from nightwater.ground.record import Ground
from nightwater.night.plan import Night
from nightwater.web.charts import hour_ticks
from nightwater.web.places import Named, Places, labels
from nightwater.web.state import NONE_IF_EMPTY, PageState, SearchText
from nightwater.web.tonight.rows import runs_by_station
from nightwater.web.tonight.search import fits_word, natural

FIRST_LINES: Final = 60
_HEIGHT: Final = 24  # of the strip of heads open, in its own units


class Query(PageState):
    """The state of the page of paths."""

    path: ClassVar[str] = "/tonight/paths"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    controller: str = ""
    q: SearchText = ""
    all: bool = False


@dataclass(frozen=True)
class Bar:
    """One cycle: minutes from the night's start, and what is said of it."""

    start_min: int
    run_min: int
    words: str


@dataclass(frozen=True)
class Line(Named):
    """One station's bars; `pinned` where its start was set by hand."""

    bars: tuple[Bar, ...]
    start: str
    last_start_min: int
    pinned: bool


@dataclass(frozen=True)
class Path:
    """One controller: heads open through the night, as the points of a stepped strip."""

    id: str
    label: str
    stations: int
    most_open: int
    strip: str


def controllers_of(ground: Ground) -> dict[str, str]:
    """Station id → controller id; empty where the record has none."""
    named = ground.stations["controller"]
    return {str(name): "" if pd.isna(value) else str(value) for name, value in named.items()}


def heads_open(night: Night, stations: set[str]) -> list[int]:
    """Heads that some stations hold open, minute by minute."""
    heads = {item.station: item.heads for item in night.sums}
    steps = [0] * (night.window.minutes + 1)
    for run in night.runs:
        if run.station in stations:
            steps[max(run.start_min, 0)] += heads.get(run.station, 0)
            steps[min(run.start_min + run.run_min, night.window.minutes)] -= heads.get(
                run.station, 0
            )
    opened, now = [], 0
    for step in steps[:-1]:
        now += step
        opened.append(now)
    return opened


def _strip(opened: list[int]) -> str:
    """A closed polygon of steps in a box of one unit a minute by `_HEIGHT`."""
    most = max(opened, default=0) or 1
    points = ["0," + str(_HEIGHT)]
    for minute, value in enumerate(opened):
        if minute == 0 or value != opened[minute - 1]:
            before = opened[minute - 1] if minute else 0
            points.append(f"{minute},{_HEIGHT * (1 - before / most):.1f}")
            points.append(f"{minute},{_HEIGHT * (1 - value / most):.1f}")
    last = opened[-1] if opened else 0
    points += [f"{len(opened)},{_HEIGHT * (1 - last / most):.1f}", f"{len(opened)},{_HEIGHT}"]
    return " ".join(points)


def paths(night: Night, ground: Ground) -> list[Path]:
    """Every controller with stations that run, by label."""
    control, names = controllers_of(ground), labels(ground.controllers)
    grouped: dict[str, set[str]] = {}
    for station in {run.station for run in night.runs}:
        grouped.setdefault(control.get(station, ""), set()).add(station)
    made = []
    for name, stations in grouped.items():
        opened = heads_open(night, stations)
        label = names.get(name, name) or NO_CONTROLLER
        made.append(Path(name, label, len(stations), max(opened, default=0), _strip(opened)))
    return sorted(made, key=lambda path: natural(path.label))


def lines(night: Night, ground: Ground, places: Places, query: Query, zone: str) -> list[Line]:
    """The stations of a controller that run and fit the query, by first start."""
    control, runs = controllers_of(ground), runs_by_station(night)
    sums = {item.station: item for item in night.sums}
    pinned = {pin.station for pin in night.pins}
    found = []
    for station, mine in runs.items():
        item = sums.get(station)
        if item is None or control.get(station, "") != query.controller:
            continue
        named = places.named(station, item.area, item.kind)
        words = query.q.split()
        kinds = {one.kind for one in sums.values()}
        if not all(fits_word(named, word, kinds, places.holes) for word in words):
            continue
        bars = tuple(
            Bar(
                run.start_min,
                run.run_min,
                f"{clock(night, run.start_min, zone)}–"
                f"{clock(night, run.start_min + run.run_min, zone)}, {run.run_min} min",
            )
            for run in mine
        )
        chain = mine[-1].start_min + mine[-1].run_min - mine[0].start_min
        found.append(
            Line(
                **vars(named),
                bars=bars,
                start=clock(night, mine[0].start_min, zone),
                last_start_min=night.window.minutes - chain,
                pinned=station in pinned,
            )
        )
    return sorted(found, key=lambda line: (line.bars[0].start_min, natural(line.label)))


def ticks(night: Night, zone: str) -> list[tuple[int, str]]:
    """The hours of the night: minute and clock."""
    return list(hour_ticks(night, zone).items())
