"""The referee's rules about single runs: minutes, cycles, soaks, windows and holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Any, Final
from zoneinfo import ZoneInfo

import pandas as pd
import shapely

from nightwater.findings import Finding, error, warning
from nightwater.ground.links import area_holes
from nightwater.ground.settings import Settings
from nightwater.night.plan import Run
from nightwater.night.referee_record import Case, StationFacts
from nightwater.units import SECONDS_PER_MINUTE
from nightwater.weather.sun import sun_times

_ROUNDING_MIN: Final = 1.0  # a computed sunset is a fraction of a minute; plans use whole ones
_STATIONS_TOLD: Final = 5
_ROUNDING_SHARE: Final = 1e-6
_PLAN_ANEW: Final = "Plan the night again."


def bad_runs(case: Case) -> Iterator[Finding]:
    """Runs of stations that do not exist, and minutes that are no minutes."""
    sound = set(map(id, case.sound_runs))
    for run in case.night.runs:
        subject = f"stations:{run.station}"
        if run.station not in case.facts:
            message = f"The night runs station '{run.station}', which the record does not hold."
            fix = "Add the station to the record, or take its runs out."
            yield error("run-station-unknown", subject, message, fix)
        elif id(run) not in sound:
            message = (
                f"A run of {case.name(run.station)} starts at minute {run.start_min} and lasts "
                f"{run.run_min} min; both must be whole minutes, the run at least 1."
            )
            yield error("run-minutes-bad", subject, message, "Give whole, positive minutes.")


def runs_outside(case: Case) -> Iterator[Finding]:
    """Runs before the night's start or past its end."""
    last = case.night.window.minutes
    for run in case.sound_runs:
        subject, end = f"stations:{run.station}", run.start_min + run.run_min
        what = f"{case.name(run.station)} runs {case.clock(run.start_min)}–{case.clock(end)}"
        if run.start_min < 0:
            message = f"{what}; the night starts at {case.clock(0)}, {-run.start_min} min later."
            yield error("run-before-start", subject, message, _PLAN_ANEW)
        if end > last:
            message = f"{what}; the night ends at {case.clock(last)}, {end - last} min earlier."
            yield error("run-past-end", subject, message, _PLAN_ANEW)


def _cycle_numbers(case: Case, station: str, runs: list[Run]) -> Iterator[Finding]:
    numbers = [run.cycle for run in runs]
    if numbers == list(range(1, len(runs) + 1)) and {r.of_cycles for r in runs} == {len(runs)}:
        return
    listed = ", ".join(f"{run.cycle} of {run.of_cycles}" for run in runs)
    message = (
        f"{case.name(station)} has {len(runs)} cycles, numbered in order of time {listed}; "
        f"they must count from 1 to {len(runs)}."
    )
    yield error("run-cycles-disordered", f"stations:{station}", message, _PLAN_ANEW)


def _between(case: Case, station: str, runs: list[Run]) -> Iterator[Finding]:
    soak = case.cycle_and_soak_min(station)[1]
    subject, name = f"stations:{station}", case.name(station)
    for first, second in pairwise(runs):
        gap = second.start_min - first.start_min - first.run_min
        at = case.clock(second.start_min)
        if gap < 0:
            message = f"{name} is started at {at} while it still runs, for {-gap} min more."
            yield error("run-twice-at-once", subject, message, _PLAN_ANEW)
        elif gap < soak:
            message = f"{name} starts again at {at} after {gap} min of soaking; it needs {soak}."
            yield error("run-soak-short", subject, message, _PLAN_ANEW)


def cycles_and_soaks(case: Case) -> Iterator[Finding]:
    """Cycle numbers in order, no station twice at once, and its soak between cycles."""
    for station, runs in case.runs_of.items():
        yield from _cycle_numbers(case, station, runs)
        yield from _between(case, station, runs)


def cycles_too_long(case: Case) -> Iterator[Finding]:
    """A cycle longer than the soil takes without running off."""
    for station, runs in case.runs_of.items():
        longest = max(run.run_min for run in runs)
        most = case.cycle_and_soak_min(station)[0]
        if longest > most:
            message = (
                f"A cycle of {case.name(station)} lasts {longest} min; "
                f"its ground takes {most} min before water runs off."
            )
            yield error("run-cycle-long", f"stations:{station}", message, _PLAN_ANEW)


def longest_and_shortest(case: Case) -> Iterator[Finding]:
    """A station's whole run against its longest allowed and against the turns of its heads."""
    turns = case.settings.minutes.least_turns
    for station, runs in case.runs_of.items():
        facts, total = case.facts[station], sum(run.run_min for run in runs)
        subject, name = f"stations:{station}", case.name(station)
        if facts.max_run_min is not None and total > facts.max_run_min:
            message = f"{name} runs {total} min; the record allows {facts.max_run_min} a night."
            yield error("run-above-most", subject, message, _PLAN_ANEW)
        turn_min = facts.turn_s / SECONDS_PER_MINUTE
        shortest = min(run.run_min for run in runs)
        for code, minutes, needed in (
            ("run-below-turns", total, turns),
            ("cycle-below-turn", shortest, 1.0),
        ):
            if minutes < needed * turn_min - _ROUNDING_SHARE:
                message = (
                    f"{name} runs {minutes} min{' in one cycle' if needed == 1 else ''}; "
                    f"{needed:g} turns of its slowest head take {needed * turn_min:.1f} min, and "
                    "less wets unevenly."
                )
                fix = "Water less often and longer, or enter the nozzle's true time of rotation."
                yield warning(code, subject, message, fix)


def clock_instant(text: str, night: date, zone: ZoneInfo) -> datetime:
    """A clock time of a night: from noon on in the evening, before noon the next morning."""
    hour, minute = (int(part) for part in text.split(":"))
    day = night if hour >= 12 else night + timedelta(days=1)
    return datetime.combine(day, time(hour, minute), zone).astimezone(UTC)


def _sun(day: date, settings: Settings) -> tuple[datetime | None, datetime | None]:
    site = settings.site
    return sun_times(
        day,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        timezone=site.timezone,
    )


def _after_sunset(night: date, settings: Settings) -> datetime | None:
    sunset = _sun(night, settings)[1]
    margin = timedelta(minutes=settings.night.after_sunset_min)
    return sunset.astimezone(UTC) + margin if sunset else None


def _before_sunrise(night: date, settings: Settings) -> datetime | None:
    sunrise = _sun(night + timedelta(days=1), settings)[0]
    margin = timedelta(minutes=settings.night.before_sunrise_min)
    return sunrise.astimezone(UTC) - margin if sunrise else None


def permitted_window(night: date, settings: Settings) -> tuple[datetime, datetime] | None:
    """The hours a night may use by the settings; None where the sun gives none.

    Returns:
        UTC instants: the set clock times, else sunset and sunrise with their margins.
    """
    rules, zone = settings.night, ZoneInfo(settings.site.timezone)
    start = (
        clock_instant(rules.start, night, zone) if rules.start else _after_sunset(night, settings)
    )
    end = clock_instant(rules.end, night, zone) if rules.end else _before_sunrise(night, settings)
    return (start, end) if start and end else None


def night_window(case: Case) -> Iterator[Finding]:
    """The night's own window against the hours that the settings allow."""
    window = case.night.window
    allowed = permitted_window(case.night.night, case.settings)
    if allowed is None:
        message = "The sun does not set or rise on this date, so the night has no hours of its own."
        fix = "Set the night's start and end in the settings."
        yield error("night-window-unknown", case.subject, message, fix)
        return
    early = case.minute_of(allowed[0])
    late = window.minutes - case.minute_of(allowed[1])
    if early > _ROUNDING_MIN or late > _ROUNDING_MIN:
        message = (
            f"The night uses {case.local(window.start)}–{case.local(window.end)} from "
            f"{window.start.date().isoformat()}; the settings allow "
            f"{case.local(allowed[0])}–{case.local(allowed[1])} of {case.night.night.isoformat()}."
        )
        fix = "Plan the night again, or change the hours in the settings."
        yield error("night-window-too-wide", case.subject, message, fix)


def kind_of(case: Case, station: str) -> str | None:
    """The kind whose window binds a station; of equal kinds the one that its sum names."""
    kinds = case.facts[station].kinds
    told = case.sums[station].kind if station in case.sums else None
    return told if told in kinds else min(kinds, default=None)


def _kind_limits(case: Case, kind: str) -> tuple[float, float]:
    """Earliest start and latest end of a kind, in minutes of the night."""
    start, end = case.settings.night.kind_windows[kind]
    zone = ZoneInfo(case.settings.site.timezone)
    limits = [
        case.minute_of(clock_instant(text, case.night.night, zone)) if text else fallback
        for text, fallback in ((start, 0.0), (end, float(case.night.window.minutes)))
    ]
    return limits[0], limits[1]


def kind_windows(case: Case) -> Iterator[Finding]:
    """Runs outside the window of their area kind."""
    limits = {kind: _kind_limits(case, kind) for kind in case.settings.night.kind_windows}
    for station, runs in case.runs_of.items():
        kind = kind_of(case, station)
        if kind not in limits:
            continue
        earliest, latest = limits[kind]
        start, end = runs[0].start_min, max(run.start_min + run.run_min for run in runs)
        if start < earliest or end > latest:
            message = (
                f"{case.name(station)} ({kind}) runs {case.clock(start)}–{case.clock(end)}; "
                f"its kind may run {case.clock(earliest)}–{case.clock(latest)}."
            )
            yield error("run-kind-window", f"stations:{station}", message, _PLAN_ANEW)


def _areas_of_hole(case: Case, hole: str) -> set[str]:
    holes = area_holes(case.ground)
    return {str(area) for area, own in holes.items() if own == hole}


def _around(case: Case, circle: str) -> set[str] | None:
    """Stations with a head within a circle "x,y,radius" in metres; None where it is none."""
    numbers = circle.split(",")
    try:
        x, y, radius = map(float, numbers)
    except ValueError:
        return None
    heads = case.ground.heads
    near = heads.geometry.distance(shapely.Point(x, y)) <= radius
    return {str(name) for name in heads.loc[near, "station"].dropna()} & set(case.facts)


def held_stations(case: Case, subject: str) -> set[str] | None:
    """Stations that a hold's subject stops; None where the subject is not understood.

    An area stops every station that has a head on it, even where most of its heads water
    another: a hold is about the ground.
    """
    table, _, identity = subject.partition(":")
    stops: dict[str, Callable[[StationFacts], bool]] = {
        "course": lambda _: True,
        "stations": lambda facts: facts.station == identity,
        "controllers": lambda facts: facts.controller == identity,
        "heads": lambda facts: identity in dict(facts.head_flows),
        "kind": lambda facts: kind_of(case, facts.station) == identity,
        "areas": lambda facts: identity in facts.areas,
        "holes": lambda facts: not facts.areas.isdisjoint(held_areas),
    }
    held_areas = _areas_of_hole(case, identity) if table == "holes" else set()
    if table == "point":
        return _around(case, identity)
    if table not in stops:
        return None
    return {station for station, facts in case.facts.items() if stops[table](facts)}


def _hold_finding(case: Case, identity: str, hold: Mapping[Any, Any]) -> Finding | None:
    held = held_stations(case, str(hold["subject"]))
    if held is None:
        message = f"A hold names '{hold['subject']}', which the referee cannot follow to stations."
        fix = "Name the course, a kind, area, hole, station, controller, head or point:X,Y,RADIUS."
        return warning("hold-not-understood", f"holds:{identity}", message, fix)
    start, end = (case.minute_of(pd.Timestamp(hold[key])) for key in ("start", "end"))
    hit = [
        run
        for station in held
        for run in case.runs_of.get(station, [])
        if run.start_min < end and run.start_min + run.run_min > start
    ]
    if not hit:
        return None
    hit.sort(key=lambda run: (run.start_min, run.station))
    names = list(dict.fromkeys(case.name(run.station) for run in hit))
    more = f" and {len(names) - _STATIONS_TOLD} more" if len(names) > _STATIONS_TOLD else ""
    message = (
        f"{', '.join(names[:_STATIONS_TOLD])}{more} would run from {case.clock(hit[0].start_min)}, "
        f"inside the hold on {hold['subject']} ({hold['cause']}: {hold['reason']})."
    )
    return error("run-in-hold", f"holds:{identity}", message, "Plan again, or end the hold.")


def holds_kept(case: Case) -> Iterator[Finding]:
    """Runs inside a hold; one finding for each hold."""
    rows = zip(case.holds.index.astype(str), case.holds.to_dict("records"), strict=True)
    for identity, hold in rows:
        found = _hold_finding(case, identity, hold)
        if found is not None:
            yield found
