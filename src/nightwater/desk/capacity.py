"""Can this system water a peak day in its window, what binds first, what would a change buy?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.isolating import pipe_words
from nightwater.desk.needing import daily_reference
from nightwater.desk.planning import night_minutes
from nightwater.findings import UserError
from nightwater.ground.record import Ground, empty
from nightwater.ground.running_tables import HOLDS
from nightwater.ground.tables import WATERED_KINDS
from nightwater.night.build import wet_of, without_loop_margin
from nightwater.night.capacity import (
    Ceiling,
    Change,
    Load,
    ceiling,
    loads,
    longer,
    stronger,
    volume_m3,
)
from nightwater.night.plan import Limits, Request
from nightwater.night.planner import Placement, plan_runs
from nightwater.night.requests import Occasion, build_requests
from nightwater.night.true_night import Wet, pipes_say
from nightwater.night.window import night_window
from nightwater.pipes.laid import TRUNKS
from nightwater.pipes.network import build_network
from nightwater.soil.need import REFERENCES, NeedResult, area_needs
from nightwater.units import MM_PER_INCH

USUAL_PERCENTILE: Final = 95.0
LEAST_DAYS: Final = 30
MORE_MIN: Final = 30
PUMP_FACTOR: Final = 1.1
PATH_FACTOR: Final = 1.25
MAINS: Final = ("header", "main", "loop")
MOST_LOADS: Final = 12
# Nominal bores [in]: the next one up is what a main would be replaced by.
NOMINAL_IN: Final = (0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 30)


@dataclass(frozen=True)
class PeakDay:
    """The day that the system is measured by.

    Attributes:
        reference_mm: reference ET of the day.
        day: date whose night and month are taken.
        words: where it comes from.
    """

    reference_mm: float
    day: date
    words: str


@dataclass(frozen=True)
class Outcome:
    """What a night delivers under some limits.

    Attributes:
        key: "as it is", "window", "pump", "pipe:ID" or "controller:ID".
        words: the change in words.
        planned_m3: what the planner really places.
        most_m3: no plan delivers more.
        finish_min: when the planner's night ends; left_out: stations that found no place.
        minutes: of the window.
    """

    key: str
    words: str
    planned_m3: float
    most_m3: float
    finish_min: int
    left_out: int
    minutes: int


@dataclass(frozen=True)
class Study:
    """The capacity study.

    Attributes:
        peak: the day.
        start, end: the window, local "HH:MM"; minutes of it.
        asked_m3, asked_min: water and station minutes of the peak night.
        stations: how many ask.
        cannot: stations that never run, by a limit of their own, in words.
        pipes: what the solved network says of the night as it is.
        loads: resources, the most loaded first; words: what each is called.
        now: the night as the system is; changes: what each change would give.
        ceiling: the linear bound with its shadow prices.
    """

    peak: PeakDay
    start: str
    end: str
    minutes: int
    asked_m3: float
    asked_min: int
    stations: int
    cannot: tuple[str, ...]
    pipes: str
    loads: tuple[Load, ...]
    words: dict[str, str]
    now: Outcome
    changes: tuple[Outcome, ...]
    ceiling: Ceiling

    @property
    def fits(self) -> bool:
        """Whether the planner places all that is asked."""
        return self.now.left_out == 0


def peak_day(course: Course, percentile: float, entered_mm: float | None) -> PeakDay:
    """The peak day: a percentile of the days of the weather record, or an ET that is entered.

    Raises:
        UserError: a percentile outside 50 to 100, an ET outside 0.5 to 20 mm, fewer than 30
            days of weather, or none at all.
    """
    if not 50 <= percentile <= 100:
        raise UserError(f"The percentile is {percentile:g}; it must lie between 50 and 100.")
    if entered_mm is not None and not 0.5 <= entered_mm <= 20:
        raise UserError(
            f"A reference ET of {entered_mm:g} mm a day is not believable; 0.5 to 20 mm is."
        )
    known = daily_reference(course)[REFERENCES[course.settings.need.reference]].dropna()
    if known.empty or (entered_mm is None and len(known) < LEAST_DAYS):
        raise UserError(
            f"The weather record has {len(known)} days with reference ET; {LEAST_DAYS} are needed "
            "for a percentile. Add years with 'nightwater weather', or enter the ET of the day."
        )
    value = float(np.percentile(known, percentile)) if entered_mm is None else entered_mm
    # The day nearest to it gives the month, and so the coefficients and the hours of dark.
    day = (known - value).abs().sort_values(kind="stable").index[0]
    words = (
        f"the {percentile:g}th percentile of {len(known):,} days from {known.index.min()} to "
        f"{known.index.max()}"
        if entered_mm is None
        else "entered"
    )
    return PeakDay(value, day, f"{words}; hours and coefficients of {day}")


def peak_need(course: Course, peak: PeakDay) -> NeedResult:
    """Need of each area after a rainless peak day that began at its target."""
    areas = course.ground.areas
    daily = pd.DataFrame(
        {"eto_mm": [peak.reference_mm], "etr_mm": [peak.reference_mm], "rain_mm": [0.0]},
        index=pd.Index([peak.day], name="date"),
    )
    rules = replace(
        course.settings.need,
        account_start=peak.day.isoformat(),
        opening_depletion_mm=0.0,
        use_trigger=False,
    )
    nothing = pd.DataFrame(columns=["night", "area", "depth_mm", "evidence"])
    watered = areas[areas["kind"].isin(WATERED_KINDS)]
    return area_needs(watered, daily, nothing, peak.day, rules)


def next_bore_factor(diameter_mm: float) -> float:
    """How much more a pipe carries at the same velocity, one nominal size up; NaN beyond 30 in."""
    size = diameter_mm / MM_PER_INCH
    near = min(range(len(NOMINAL_IN)), key=lambda place: abs(NOMINAL_IN[place] - size))
    if near + 1 >= len(NOMINAL_IN):
        return math.nan
    return float((NOMINAL_IN[near + 1] / NOMINAL_IN[near]) ** 2)


def resource_words(resource: str, ground: Ground) -> str:
    """A resource as people call it."""
    kind, _, name = resource.partition(":")
    if kind == "pipe":
        return pipe_words(ground, name)
    if kind == "pump":
        return "the pumps"
    table = "controllers" if kind == "controller" else "stations"
    label = ground.table(table)["label"].get(name)
    called = name if label is None or pd.isna(label) else str(label)
    return called if kind == "controller" else f"the cycles and soaks of {called}"


def _outcome(change: Change, words: str) -> tuple[Outcome, Ceiling, Placement]:
    bound = ceiling(change.requests, change.limits, change.minutes)
    placed = plan_runs(change.requests, change.limits, change.minutes)
    lost = sum(volume_m3(item.request) for item in placed.unplaced)
    outcome = Outcome(
        key=change.key,
        words=words,
        planned_m3=bound.asked_m3 - lost,
        most_m3=bound.most_m3,
        finish_min=placed.finish_min,
        left_out=len(placed.unplaced),
        minutes=change.minutes,
    )
    return outcome, bound, placed


def _pipes_words(wet: Wet | None, placed: Placement, minutes: int) -> str:
    """What the solved network says of the night as it is."""
    if wet is None:
        return (
            "The record does not say enough to solve its pipes: velocity is by linear flow with "
            "a margin for loops, and pressure is not looked at."
        )
    told = pipes_say(wet, placed, minutes)
    if not told.low_min + told.fast_min + len(told.hopeless):
        return "By the solved pipes every head of that night has its pressure, no pipe is too fast."
    alone = (
        f" {len(told.hopeless)} stations lack it even when they run alone: pressure binds there, "
        "whatever the night."
        if told.hopeless
        else ""
    )
    return (
        f"By the solved pipes that night has {told.low_min} min with a head short of pressure and "
        f"{told.fast_min} min with a pipe too fast, before the planner moves what it can.{alone}"
    )


def _pipes_to_widen(ground: Ground, found: list[Load]) -> list[Load]:
    """The most loaded pipe that is no lateral, and the most loaded that is no spur either."""
    kinds = ground.pipes["kind"]
    piped = [load for load in found if load.resource.startswith("pipe:")]
    chosen = []
    for wanted in (TRUNKS, MAINS):
        one = next((p for p in piped if kinds[p.resource.removeprefix("pipe:")] in wanted), None)
        if one is not None and one not in chosen:
            chosen.append(one)
    return chosen


def _changes(
    ground: Ground, requests: Sequence[Request], limits: Limits, minutes: int, found: list[Load]
) -> Iterator[tuple[Change, str]]:
    """What is priced: minutes, pump, the most loaded trunk and main one size up, and a path."""
    yield longer(requests, limits, minutes, MORE_MIN), f"{MORE_MIN} more minutes of night"
    pump = stronger(requests, limits, minutes, "pump", PUMP_FACTOR)
    yield pump, f"pumps that give {PUMP_FACTOR - 1:.0%} more"
    for load in _pipes_to_widen(ground, found):
        bore = float(ground.pipes["diameter_mm"][load.resource.removeprefix("pipe:")])
        factor = next_bore_factor(bore)
        if math.isfinite(factor):
            change = stronger(requests, limits, minutes, load.resource, factor)
            yield change, f"{resource_words(load.resource, ground)} one size up"
    paths = [load for load in found if load.resource.startswith("controller:")]
    for load in paths[:1]:
        change = stronger(requests, limits, minutes, load.resource, PATH_FACTOR)
        name = load.resource.removeprefix("controller:")
        more = change.limits.controllers_heads[name] - limits.controllers_heads[name]
        yield change, f"{more} more heads at once on {resource_words(load.resource, ground)}"


def study(
    course: Course,
    *,
    percentile: float = USUAL_PERCENTILE,
    entered_mm: float | None = None,
    progress: Progress = silent,
) -> Study:
    """Measure the system by a peak day; nothing is saved.

    Raises:
        UserError: no weather, no pump, or an input outside its bounds.
    """
    peak = peak_day(course, percentile, entered_mm)
    ground = course.ground
    network, _ = build_network(ground)
    wet = wet_of(ground, course.settings, network)
    settings = course.settings if wet is None else without_loop_margin(course.settings)
    progress("need and minutes of the peak day")
    sums, _ = night_minutes(course, peak_need(course, peak), peak.day, progress)
    window = night_window(peak.day, settings.site, settings.night)
    occasion = Occasion(ground, network, settings, peak.day, window)
    asked = build_requests(occasion, sums, empty(HOLDS, settings.site.crs))
    requests, limits, minutes = asked.requests, asked.limits, window.minutes
    found = loads(requests, limits)
    progress("the night as it is")
    now, bound, placed = _outcome(Change("as it is", limits, minutes, requests), "as it is")
    progress("its pressures and velocities")
    pipes = _pipes_words(wet, placed, minutes)
    changes = []
    for change, words in _changes(ground, requests, limits, minutes, found):
        progress(words)
        changes.append(_outcome(change, words)[0])
    shown = found[:MOST_LOADS]
    named = {load.resource for load in shown} | set(bound.price)
    return Study(
        peak=peak,
        start=f"{window.start:%H:%M}",
        end=f"{window.end:%H:%M}",
        minutes=minutes,
        asked_m3=bound.asked_m3,
        asked_min=sum(sum(one.cycles_min) for one in requests),
        stations=len(requests),
        cannot=tuple(f"{one.station}: {one.reason}" for one in asked.too_big),
        pipes=pipes,
        loads=tuple(shown),
        words={name: resource_words(name, ground) for name in sorted(named)},
        now=now,
        changes=tuple(changes),
        ceiling=bound,
    )


def study_document(done: Study) -> dict[str, Any]:
    """The study as plain values in inside units."""
    return {
        "reference_mm": done.peak.reference_mm,
        "day": done.peak.day.isoformat(),
        "peak": done.peak.words,
        "window": f"{done.start}–{done.end}",
        "window_min": done.minutes,
        "asked_m3": done.asked_m3,
        "asked_station_min": done.asked_min,
        "stations": done.stations,
        "fits": done.fits,
        "cannot": list(done.cannot),
        "pipes": done.pipes,
        "loads": [
            {
                "resource": load.resource,
                "words": done.words[load.resource],
                "least_min": load.least_min,
                "hours_min": load.hours_min,
                "share": load.share,
            }
            for load in done.loads
        ],
        "now": vars(done.now),
        "changes": [vars(change) for change in done.changes],
        "ceiling_m3": done.ceiling.most_m3,
        "minute_m3": done.ceiling.minute_m3,
        "prices": dict(done.ceiling.price),
    }
