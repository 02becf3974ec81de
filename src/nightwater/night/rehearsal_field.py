"""The simulated field of a rehearsal: what stations, leak and pumps do, every five seconds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.night.plan import Night, Run
from nightwater.night.referee_record import StationFacts
from nightwater.night.rehearsal_faults import MARGIN_MIN, Faults
from nightwater.night.window import clock_minute
from nightwater.units import KPA_PER_M_WATER, SECONDS_PER_MINUTE

STEP_S: Final = 5
LONGEST_DELAY_S: Final = 6.0
HEAD_SPREAD: Final = 0.03  # heads of one nozzle differ by a few per cent (common practice)
USUAL_PUMP_EFFICIENCY: Final = 0.75
USUAL_MOTOR_EFFICIENCY: Final = 0.92

Series = NDArray[np.float64]


@dataclass(frozen=True)
class Opening:
    """A run as the field does it: seconds from the night's start."""

    station: str
    opened_s: float
    closed_s: float
    flow_l_s: float
    logged: bool


def _flow_l_s(night: Night, facts: dict[str, StationFacts]) -> dict[str, float]:
    """Flow of each station that runs: the record's, else its sum's, else 0."""
    by_sum = {row.station: row.flow_l_s for row in night.sums}
    flows = {}
    for station in dict.fromkeys(run.station for run in night.runs):
        known = facts[station].flow_l_s if station in facts else math.nan
        flow = by_sum.get(station, math.nan) if math.isnan(known) else known
        flows[station] = 0.0 if math.isnan(flow) else flow
    return flows


def head_factors(
    night: Night, facts: dict[str, StationFacts], faults: Faults, chance: np.random.Generator
) -> dict[str, Series]:
    """What each head of each station that runs gives, over what the record says."""
    dead, half = set(faults.dead_stations), set(faults.half_open_stations)
    dry = {*faults.dead_controllers, *faults.silent_controllers}
    factors: dict[str, Series] = {}
    for station in dict.fromkeys(run.station for run in night.runs):
        heads = facts[station].heads if station in facts else 1
        factor: Series = np.clip(chance.normal(1.0, HEAD_SPREAD, heads), 0.8, 1.2)
        controller = facts[station].controller if station in facts else None
        share = 0.0 if station in dead or controller in dry else 0.5 if station in half else 1.0
        factors[station] = factor * share
    return factors


def by_head(facts: dict[str, StationFacts], factors: dict[str, Series]) -> dict[str, float]:
    """The factors by head id."""
    return {
        head: float(factor)
        for station, own in factors.items()
        if station in facts
        for (head, _), factor in zip(facts[station].head_flows, own, strict=False)
    }


def openings_of(
    night: Night,
    facts: dict[str, StationFacts],
    faults: Faults,
    factors: dict[str, Series],
    chance: np.random.Generator,
) -> Iterator[Opening]:
    """Every run as the field does it, in the order of the plan."""
    flows = _flow_l_s(night, facts)
    silent, stuck = set(faults.silent_controllers), set(faults.stuck_stations)
    last_s = (night.window.minutes + MARGIN_MIN) * SECONDS_PER_MINUTE
    for run in in_order(night.runs):
        opened, closed = chance.uniform(0.0, LONGEST_DELAY_S, 2)
        controller = facts[run.station].controller if run.station in facts else None
        end_s = (run.start_min + run.run_min) * SECONDS_PER_MINUTE + closed
        yield Opening(
            run.station,
            run.start_min * SECONDS_PER_MINUTE + opened,
            last_s if run.station in stuck else end_s,
            flows[run.station] * float(factors[run.station].mean()),
            not (faults.log_lost or controller in silent),
        )


def in_order(runs: tuple[Run, ...]) -> list[Run]:
    """Runs by start, station and cycle."""
    return sorted(runs, key=lambda run: (run.start_min, run.station, run.cycle))


def true_openings(openings: Sequence[Opening], faults: Faults) -> Iterator[Opening]:
    """What really opens: a station that sticks opens once and is open still at its next run."""
    stuck_open: set[str] = set()
    for opening in openings:
        if opening.station in stuck_open:
            continue
        if opening.station in faults.stuck_stations:
            stuck_open.add(opening.station)
        yield opening


def demand_l_s(night: Night, openings: Sequence[Opening], faults: Faults) -> Series:
    """Flow that open stations and leak would take, per step from `-MARGIN_MIN`."""
    steps = step_count(night)
    change = np.zeros(steps + 1)
    for opening in true_openings(openings, faults):
        change[step_of(opening.opened_s, steps)] += opening.flow_l_s
        change[step_of(opening.closed_s, steps)] -= opening.flow_l_s
    demand = np.cumsum(change)[:steps]
    return demand + faults.leak_l_s * leaking_steps(night, faults)


def leaking_steps(night: Night, faults: Faults) -> NDArray[np.bool_]:
    """Whether the leak runs, per step; never where there is none.

    Raises:
        UserError: a clock time that is none.
    """
    from_s = (
        clock_minute(faults.leak_from, night.window) * SECONDS_PER_MINUTE
        if faults.leak_from
        else -math.inf
    )
    leaks: NDArray[np.bool_] = (_seconds(night) >= from_s) & (faults.leak_l_s > 0)
    return leaks


def step_count(night: Night) -> int:
    """How many steps the series has, from `MARGIN_MIN` before the night to as long after it."""
    return int((night.window.minutes + 2 * MARGIN_MIN) * SECONDS_PER_MINUTE) // STEP_S


def step_of(second: float, steps: int) -> int:
    """The step of a second from the night's start; those outside are the first and the end."""
    place = math.floor((second + MARGIN_MIN * SECONDS_PER_MINUTE) / STEP_S)
    return min(max(place, 0), steps)


def _seconds(night: Night) -> Series:
    """Start of every step, in seconds from the night's start."""
    steps = np.arange(step_count(night), dtype=np.float64)
    return steps * float(STEP_S) - MARGIN_MIN * SECONDS_PER_MINUTE


def tripped_steps(night: Night, faults: Faults) -> NDArray[np.bool_]:
    """Whether the pumps are off, per step.

    Raises:
        UserError: a clock time that is none.
    """
    second = _seconds(night)
    if faults.pump_trip_at is None:
        return np.zeros(len(second), dtype=bool)
    trip_s = clock_minute(faults.pump_trip_at, night.window) * SECONDS_PER_MINUTE
    tripped: NDArray[np.bool_] = second >= trip_s
    if faults.pump_restart_at is not None:
        restart_s = clock_minute(faults.pump_restart_at, night.window) * SECONDS_PER_MINUTE
        tripped &= second < restart_s
    return tripped


def delivered_l_s(
    demand: Series, tripped: NDArray[np.bool_], pumps: pd.DataFrame, *, capped: bool = True
) -> Series:
    """What the pumps give: demand, up to capacity if `capped`, no faster than they ramp up."""
    stated = float(np.nansum(pumps["capacity_l_s"].to_numpy(dtype=float))) or math.inf
    capacity = stated if capped else math.inf
    ramp = float(np.nansum(pumps["ramp_l_s_min"].to_numpy(dtype=float))) or math.inf
    rise = ramp / SECONDS_PER_MINUTE * STEP_S
    given, flow = np.empty(len(demand)), 0.0
    for step, (wanted, off) in enumerate(zip(demand, tripped, strict=True)):
        flow = 0.0 if off else min(wanted, capacity, flow + rise)
        given[step] = flow
    return given


def met_share(demand: Series, given: Series, tripped: NDArray[np.bool_]) -> Series:
    """Share of the demand that the pumps meet; 1 where nothing is asked, 0 while they stand."""
    share = np.divide(given, demand, out=np.ones(len(given)), where=demand > 0)
    met: Series = np.where(tripped, 0.0, share)
    return met


def drawn_power_kw(given: Series, pumps: pd.DataFrame) -> Series:
    """Of a flow water power over efficiencies: 1 L/s against 1 kPa is 1 W; NaN without head."""
    head_kpa = float(pumps["head_m"].mean()) * KPA_PER_M_WATER
    lift_kpa = float(pumps["set_pressure_kpa"].mean()) if math.isnan(head_kpa) else head_kpa
    pump = pumps["pump_efficiency"].fillna(USUAL_PUMP_EFFICIENCY).mean()
    motor = pumps["motor_efficiency"].fillna(USUAL_MOTOR_EFFICIENCY).mean()
    return given * lift_kpa / 1000 / (float(pump) * float(motor))
