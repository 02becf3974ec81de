"""The referee's rules of the course: its hours, neighbours, power, pump starts and wind."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, error, note, warning
from nightwater.night.plan import Run
from nightwater.night.referee_minutes import station_flow
from nightwater.night.referee_record import Case
from nightwater.night.referee_runs import clock_instant, held_stations, kind_of

_GRAVITY_KPA_PER_M: Final = 9.80665
_USUAL_PUMP: Final = 0.75  # common practice, no source; as docs/how/energy says
_USUAL_MOTOR: Final = 0.92
_HOUR_MIN: Final = 60
_ROUNDING: Final = 1e-6
_AGAIN: Final = "Plan the night again."


def _minute_of(case: Case, text: str, otherwise: float) -> float:
    if not text:
        return otherwise
    zone = ZoneInfo(case.settings.site.timezone)
    return case.minute_of(clock_instant(text, case.night.night, zone))


def _outside(runs: list[Run], first: float, last: float) -> Run | None:
    """The first run that starts too early or ends too late."""
    wrong = (r for r in runs if r.start_min < first or r.start_min + r.run_min > last)
    return next(wrong, None)


def _hours_words(case: Case, station: str, run: Run) -> str:
    end = run.start_min + run.run_min
    return f"{case.name(station)} runs {case.clock(run.start_min)}–{case.clock(end)}"


def greens_hours(case: Case) -> Iterator[Finding]:
    """Greens late or first, where the settings say so."""
    rules, minutes = case.settings.night, case.night.window.minutes
    last = minutes - rules.rescue_min
    spans = {
        "late": (last - rules.greens_within_min, last),
        "first": (0, min(rules.greens_within_min, last)),
    }
    if rules.greens not in spans:
        return
    first, last = spans[rules.greens]
    for station, runs in case.runs_of.items():
        run = _outside(runs, first, last) if kind_of(case, station) == "green" else None
        if run is not None:
            message = (
                f"{_hours_words(case, station, run)}; greens run {rules.greens}, "
                f"{case.clock(max(first, 0))}–{case.clock(last)}."
            )
            yield error("run-greens-hours", f"stations:{station}", message, _AGAIN)


def rescue_slot(case: Case) -> Iterator[Finding]:
    """Runs in the minutes that are kept for what must run again."""
    last = case.night.window.minutes - case.settings.night.rescue_min
    if case.settings.night.rescue_min <= 0:
        return
    for station, runs in case.runs_of.items():
        run = _outside(runs, -np.inf, last)
        if run is not None and run.start_min + run.run_min <= case.night.window.minutes:
            message = (
                f"{_hours_words(case, station, run)}; from {case.clock(last)} on the night is "
                "kept free for what must run again."
            )
            yield error("run-in-rescue-slot", f"stations:{station}", message, _AGAIN)


def area_windows(case: Case) -> Iterator[Finding]:
    """Runs outside the hours of an area that a head of theirs waters."""
    for area, (start, end) in case.settings.night.area_windows.items():
        first = _minute_of(case, start, -np.inf)
        last = _minute_of(case, end, np.inf)
        for station, runs in case.runs_of.items():
            run = _outside(runs, first, last) if area in case.facts[station].areas else None
            if run is not None:
                message = (
                    f"{_hours_words(case, station, run)}; area {area} may be watered "
                    f"{start or 'from the start'}–{end or 'to the end'} only."
                )
                yield error("run-area-window", f"stations:{station}", message, _AGAIN)


def run_by(case: Case) -> Iterator[Finding]:
    """What must have run by a clock time of this night."""
    for subject, (night, clock, reason) in case.settings.night.run_by.items():
        if date.fromisoformat(night) != case.night.night:
            continue
        stations = held_stations(case, subject)
        if stations is None:
            message = f"The rule to run by {clock} names '{subject}', which is no ground."
            fix = "Name the course, a kind, an area, hole or station."
            yield warning("run-by-not-understood", case.subject, message, fix)
            continue
        last = _minute_of(case, clock, np.inf)
        for station in sorted(stations):
            yield from _run_by(case, station, last, f"by {clock} ({reason})")


def _run_by(case: Case, station: str, last: float, words: str) -> Iterator[Finding]:
    subject, name = f"stations:{station}", case.name(station)
    run = _outside(case.runs_of.get(station, []), -np.inf, last)
    if run is not None:
        message = f"{_hours_words(case, station, run)}; it must have run {words}."
        yield error("run-by-late", subject, message, _AGAIN)
    if any(left.station == station for left in case.night.left_out):
        message = f"{name} is left out tonight and must run {words}."
        fix = "Make room for it: leave out others, or lengthen the night."
        yield warning("run-by-left-out", subject, message, fix)


def _close_pairs(case: Case, apart_m: float) -> set[tuple[str, str]]:
    """Running stations with heads nearer than a distance, every head against every other."""
    heads = case.ground.heads
    mine = heads[heads["station"].isin(list(case.runs_of)) & heads.geometry.notna()]
    mine = mine[~mine.geometry.is_empty]
    x, y = mine.geometry.x.to_numpy(), mine.geometry.y.to_numpy()
    names = mine["station"].astype(str).to_numpy()
    found = set()
    for row, name in enumerate(names):
        near = np.hypot(x[row + 1 :] - x[row], y[row + 1 :] - y[row]) < apart_m - _ROUNDING
        found |= {(min(name, o), max(name, o)) for o in names[row + 1 :][near] if o != name}
    return found


def _overlap(case: Case, one: str, other: str) -> int | None:
    """The first minute in which two stations run at once."""
    starts = [
        max(a.start_min, b.start_min)
        for a in case.runs_of[one]
        for b in case.runs_of[other]
        if max(a.start_min, b.start_min) < min(a.start_min + a.run_min, b.start_min + b.run_min)
    ]
    return min(starts, default=None)


def neighbours(case: Case) -> Iterator[Finding]:
    """Neighbours that run at once, where the settings forbid it."""
    apart_m = case.settings.night.apart_m
    if apart_m <= 0:
        return
    for one, other in sorted(_close_pairs(case, apart_m)):
        minute = _overlap(case, one, other)
        if minute is not None:
            message = (
                f"{case.name(one)} and {case.name(other)} run at once from {case.clock(minute)}; "
                f"they have heads nearer than {apart_m:g} m."
            )
            yield error("neighbours-at-once", f"stations:{one}", message, _AGAIN)


def _kw_per_l_s(case: Case) -> float:
    """Power of a litre a second: ρ g H over efficiencies, mean of the pumps by capacity."""
    total, capacity = 0.0, 0.0
    for row in case.ground.pumps.to_dict("records"):
        head = row["head_m"]
        if pd.isna(head):
            head = row["set_pressure_kpa"] / _GRAVITY_KPA_PER_M
        pump = _USUAL_PUMP if pd.isna(row["pump_efficiency"]) else row["pump_efficiency"]
        motor = _USUAL_MOTOR if pd.isna(row["motor_efficiency"]) else row["motor_efficiency"]
        each = head * _GRAVITY_KPA_PER_M / 1000 / pump / motor
        total, capacity = total + each * row["capacity_l_s"], capacity + row["capacity_l_s"]
    return total / capacity if capacity > 0 else float("nan")


def power(case: Case) -> Iterator[Finding]:
    """Power of every minute against the ceiling."""
    most = case.settings.night.max_kw
    if most <= 0:
        return
    each = _kw_per_l_s(case)
    if not each > 0:
        message = "No pump states its head or set pressure, so its power cannot be judged."
        yield note("power-unknown", "pumps:", message, "Enter the head of the pumps.")
        return
    drawn = station_flow(case) * each
    over = drawn > most * (1 + _ROUNDING)
    if over.any():
        message = (
            f"The pumps draw up to {drawn.max():.1f} kW, in {int(over.sum())} minutes more than "
            f"the {most:.1f} kW that they may."
        )
        yield error("power-over", "pumps:", message, _AGAIN)


def _start_minutes(flow: NDArray[np.float64]) -> NDArray[np.int64]:
    running = np.concatenate([[False], flow > _ROUNDING])
    return np.flatnonzero(running[1:] & ~running[:-1]).astype(np.int64)


def pump_starts(case: Case) -> Iterator[Finding]:
    """Starts of the pump station from standstill within any hour."""
    stated = case.ground.pumps["max_starts_h"].dropna()
    if stated.empty:
        return
    most, starts = int(stated.min()), _start_minutes(station_flow(case))
    for minute in starts:
        count = int(((starts >= minute) & (starts < minute + _HOUR_MIN)).sum())
        if count > most:
            message = (
                f"The pumps start {count} times in the hour from {case.clock(int(minute))}; "
                f"they may start {most} times."
            )
            yield error("pump-starts-many", "pumps:", message, "Join the runs, and plan again.")
            return


def _windy(case: Case) -> list[tuple[float, float, float]]:
    """Start, end and wind of the hours over the limit; an observed hour before a forecast one."""
    if case.weather is None or case.weather.empty:
        return []
    by_hour: dict[pd.Timestamp, tuple[bool, float]] = {}
    for row in case.weather.to_dict("records"):
        if row["step"] == "hour" and not pd.isna(row["wind_m_s"]):
            hour = pd.Timestamp(row["time"])
            hour = hour.tz_localize(UTC) if hour.tzinfo is None else hour
            known = by_hour.get(hour)
            if known is None or not known[0]:
                by_hour[hour] = (row["origin"] == "observed", float(row["wind_m_s"]))
    limit = case.settings.night.calm_m_s
    return [
        (case.minute_of(hour), case.minute_of(hour + timedelta(hours=1)), wind)
        for hour, (_, wind) in sorted(by_hour.items())
        if wind > limit
    ]


def wind(case: Case) -> Iterator[Finding]:
    """Wind-sensitive kinds in windy hours."""
    kinds = case.settings.night.wind_kinds
    windy = _windy(case) if kinds else []
    for start, end, speed in windy:
        hit = sorted(
            station
            for station, runs in case.runs_of.items()
            if kind_of(case, station) in kinds
            and any(r.start_min < end and r.start_min + r.run_min > start for r in runs)
        )
        if hit:
            message = (
                f"{len(hit)} wind-sensitive stations, first {case.name(hit[0])}, run in the hour "
                f"from {case.clock(start)}, for which {speed:.1f} m/s of wind are told; calm is up "
                f"to {case.settings.night.calm_m_s:.1f} m/s."
            )
            fix = "Nothing, if the calm hours are full; else plan again."
            yield warning("run-in-wind", f"stations:{hit[0]}", message, fix)


def at_once(runs: list[Run]) -> list[tuple[int, int, frozenset[str]]]:
    """Stretches of minutes with the stations that run all through them."""
    edges = sorted({m for run in runs for m in (run.start_min, run.start_min + run.run_min)})
    found = []
    for first, last in pairwise(edges):
        on = frozenset(
            r.station for r in runs if r.start_min < last and r.start_min + r.run_min > first
        )
        if on:
            found.append((first, last, on))
    return found
