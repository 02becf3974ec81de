"""The referee's count of every minute: pump, pipes, controllers and the flow series."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, error, note, warning
from nightwater.night.referee_record import Case
from nightwater.night.referee_routes import Routes, routes_of

_TOLERANCE_SHARE: Final = 1e-6
_FLOW_TOLERANCE_L_S: Final = 0.01
_MOST_MINUTES_BESIDE: Final = 1440  # of a broken night, no more than a day each side is counted
_TOO_MUCH: Final = "Plan the night again, or move these runs."


def _per_minute(case: Case, weights: Mapping[str, float]) -> NDArray[np.float64]:
    """Sum of the weights of the stations that run, per minute from `first_minute`."""
    first, size = _first_minute(case), _size(case)
    change = np.zeros(size + 1)
    for run in case.sound_runs:
        weight = weights.get(run.station, 0.0)
        start, end = (
            min(max(minute - first, 0), size)
            for minute in (run.start_min, run.start_min + run.run_min)
        )
        change[start] += weight
        change[end] -= weight
    return np.cumsum(change)[:size]


def _first_minute(case: Case) -> int:
    earliest = min((run.start_min for run in case.sound_runs), default=0)
    return max(min(earliest, 0), -_MOST_MINUTES_BESIDE)


def _size(case: Case) -> int:
    latest = max((run.start_min + run.run_min for run in case.sound_runs), default=0)
    window = case.night.window.minutes
    return min(max(latest, window), window + _MOST_MINUTES_BESIDE) - _first_minute(case)


def station_flow(case: Case) -> NDArray[np.float64]:
    """Flow of all running stations, per minute from `_first_minute` [L/s]."""
    return _per_minute(case, {station: case.flow_l_s(station) for station in case.runs_of})


def _over(load: NDArray[np.float64], limit: float) -> NDArray[np.bool_]:
    return load > limit * (1 + _TOLERANCE_SHARE) + _TOLERANCE_SHARE


def _when(case: Case, over: NDArray[np.bool_], load: NDArray[np.float64]) -> tuple[str, float]:
    """Words for the minutes over a limit, all stretches in one, and the worst load."""
    minutes = np.flatnonzero(over) + _first_minute(case)
    worst = int(np.argmax(np.where(over, load, -np.inf)))
    count = len(minutes)
    words = (
        f"for {count} min from {case.clock(int(minutes[0]))} to {case.clock(int(minutes[-1]) + 1)}"
        if count == minutes[-1] - minutes[0] + 1
        else f"for {count} min between {case.clock(int(minutes[0]))} and "
        f"{case.clock(int(minutes[-1]) + 1)}"
    )
    return f"{words}, worst at {case.clock(worst + _first_minute(case))}", float(load[worst])


def pump_limit_l_s(case: Case) -> float:
    """Flow that the pumps of the record may give by the settings; 0 without pumps."""
    capacity = float(np.nansum(case.ground.pumps["capacity_l_s"].to_numpy(dtype=float)))
    return capacity * case.settings.night.pump_use


def pump(case: Case) -> Iterator[Finding]:
    """Flow of every minute against the pumps."""
    limit = pump_limit_l_s(case)
    if limit <= 0:
        message = "The record has no pump with a capacity, so no minute of the night can be judged."
        yield error("pump-missing", "pumps:", message, "Add the pump station with its capacity.")
        return
    load = station_flow(case)
    over = _over(load, limit)
    if over.any():
        when, worst = _when(case, over, load)
        message = (
            f"The night draws more than the pumps may give {when}: {case.flow_text(worst)} "
            f"against {case.flow_text(limit)} ({worst / limit - 1:.1%} over; "
            f"{case.settings.night.pump_use:.0%} of capacity)."
        )
        yield error("pump-overdrawn", "pumps:", message, _TOO_MUCH)


def pump_steps(case: Case) -> Iterator[Finding]:
    """Changes of flow from minute to minute against the pumps' ramp; one finding a night."""
    ramp = float(case.ground.pumps["ramp_l_s_min"].sum())
    if not ramp > 0:
        return
    step = np.abs(np.diff(np.concatenate([[0.0], station_flow(case), [0.0]])))
    over = _over(step, ramp)
    if over.any():
        worst = int(np.argmax(step))
        count, many = int(over.sum()), "s" if over.sum() > 1 else ""
        message = (
            f"In {count} minute{many} flow changes faster than the pumps follow: by "
            f"{case.flow_text(float(step[worst]))} at {case.clock(worst + _first_minute(case))}, "
            f"against {case.flow_text(ramp)} a minute."
        )
        fix = "Plan the night again, or spread these starts and stops over more minutes."
        yield error("pump-steps-steep", "pumps:", message, fix)


def pipes(case: Case) -> Iterator[Finding]:
    """Flow in every pipe at every minute against its velocity limit; one finding a pipe."""
    rules = case.settings.night
    if case.is_solvable:  # the solved network judges loops, which then need no margin
        rules = replace(rules, loop_margin=1.0)
    routes = routes_of(case.ground, rules)
    yield from _unrouted(case, routes)
    size, first = _size(case), _first_minute(case)
    change = np.zeros((len(routes.limits_l_s), size + 1))
    for run in case.sound_runs:
        where, flow = routes.station_loads(case.facts[run.station], case.flow_l_s(run.station))
        start, end = (
            min(max(m - first, 0), size) for m in (run.start_min, run.start_min + run.run_min)
        )
        change[where, start] += flow
        change[where, end] -= flow
    load = np.cumsum(change, axis=1)[:, :size]
    limit = routes.limits_l_s[:, None]
    over = load > limit * (1 + _TOLERANCE_SHARE) + _TOLERANCE_SHARE
    for row in np.flatnonzero(over.any(axis=1)):
        yield _pipe_finding(case, routes, int(row), over[row], load[row])


def _pipe_finding(
    case: Case, routes: Routes, row: int, over: NDArray[np.bool_], load: NDArray[np.float64]
) -> Finding:
    when, worst = _when(case, over, load)
    limit, pipe = float(routes.limits_l_s[row]), routes.pipes[row]
    on_loop = pipe in routes.looped and not case.is_solvable
    margin = " with its loop margin" if on_loop else ""
    message = (
        f"Pipe {pipe} carries {case.flow_text(worst)} {when}; its velocity limit allows "
        f"{case.flow_text(limit)}{margin} ({worst / limit - 1:.1%} over)."
    )
    return error("pipe-overdrawn", f"pipes:{pipe}", message, _TOO_MUCH)


def _unrouted(case: Case, routes: Routes) -> Iterator[Finding]:
    """Stations that run and have a head that no pipe of the record reaches."""
    if not len(routes.pipes):
        message = "The record has no pipes, so velocities are not judged."
        yield note("pipe-none", "pipes:", message, "Add the pipes to judge velocities.")
        return
    lost = [
        station
        for station in case.runs_of
        if any(head not in routes.by_head for head, _ in case.facts[station].head_flows)
    ]
    if lost:
        message = (
            f"{len(lost)} running stations have heads that no pipe reaches from the pumps, first "
            f"{case.name(lost[0])}; their pipes are not judged."
        )
        fix = "Draw or join the pipes that feed them."
        yield warning("pipe-route-missing", f"stations:{lost[0]}", message, fix)


def _heads_limit(case: Case, controller: str) -> int:
    stated = case.ground.controllers["max_heads_on"].get(controller)
    return case.settings.night.max_heads_on if stated is None or pd.isna(stated) else int(stated)


def controllers(case: Case) -> Iterator[Finding]:
    """Heads open at every minute against what each controller holds open."""
    by_controller: dict[str, dict[str, float]] = {}
    for station in case.runs_of:
        facts = case.facts[station]
        if facts.controller is not None:
            by_controller.setdefault(facts.controller, {})[station] = float(facts.heads)
    for controller, heads in sorted(by_controller.items()):
        limit, load = _heads_limit(case, controller), _per_minute(case, heads)
        over = _over(load, limit)
        if over.any():
            when, worst = _when(case, over, load)
            message = f"{controller} holds {worst:.0f} heads open {when}; it may hold {limit}."
            yield error("controller-overloaded", f"controllers:{controller}", message, _TOO_MUCH)


def flow_series(case: Case) -> Iterator[Finding]:
    """The night's own flow series against the flow of its runs."""
    told = np.asarray(case.night.flow_l_s, dtype=float)
    window = case.night.window.minutes
    if not told.size:
        message = "The night has no flow series of its own; the referee's is used."
        yield note("flow-series-missing", case.subject, message, "Write the plan out whole.")
        return
    if len(told) != window:
        message = f"The flow series has {len(told)} minutes; the night has {window}."
        yield error("flow-series-length", case.subject, message, "Plan the night again.")
        return
    start = -_first_minute(case)
    real = station_flow(case)[start : start + window]
    wrong = ~(np.abs(told - real) <= _FLOW_TOLERANCE_L_S)
    if wrong.any():
        when, _ = _when_within(case, wrong, np.abs(told - real))
        worst = int(np.argmax(np.where(wrong, np.nan_to_num(np.abs(told - real), nan=np.inf), -1)))
        message = (
            f"The flow series is not the flow of the runs {when}: it says "
            f"{case.flow_text(float(told[worst]))}, the runs draw "
            f"{case.flow_text(float(real[worst]))}."
        )
        yield error("flow-series-wrong", case.subject, message, "Plan the night again.")


def _when_within(
    case: Case, over: NDArray[np.bool_], load: NDArray[np.float64]
) -> tuple[str, float]:
    """As `_when`, for arrays that begin with the night's own first minute."""
    pad = np.zeros(-_first_minute(case))
    return _when(case, np.concatenate([pad.astype(bool), over]), np.concatenate([pad, load]))
