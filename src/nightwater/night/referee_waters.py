"""The referee's look at the solved network: pressures and velocities of every minute."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, error, warning
from nightwater.night.referee_record import Case
from nightwater.night.referee_rules import at_once
from nightwater.pipes.engine import Engine
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.pipes.solution import Solution
from nightwater.units import shown

_ROUNDING_SHARE = 1e-4


@dataclass(frozen=True)
class _Told:
    """One solved night: stretches of minutes, row by row of the solution."""

    solution: Solution
    first: NDArray[np.int64]
    minutes: NDArray[np.int64]


def _solved(case: Case) -> _Told:
    network, _ = build_hydraulic_network(case.ground)
    stretches = at_once(list(case.sound_runs))
    place = {head: row for row, head in enumerate(network.heads)}
    on = np.zeros((len(stretches), len(network.heads)), dtype=bool)
    for row, (_, _, stations) in enumerate(stretches):
        heads = (head for name in stations for head, _ in case.facts[name].head_flows)
        on[row, [place[head] for head in heads if head in place]] = True
    with Engine(network) as engine:
        solution = engine.solve(on)
    first = np.array([start for start, _, _ in stretches], dtype=np.int64)
    last = np.array([end for _, end, _ in stretches], dtype=np.int64)
    return _Told(solution, first, last - first)


def _least_kpa(case: Case, told: _Told) -> NDArray[np.float64]:
    rules, design = case.settings.night, told.solution.network.emitters.design_kpa
    share = np.where(np.isnan(design), 0.0, design * (1 - rules.pressure_within))
    return np.maximum(share, rules.least_head_kpa)


def _pressures(case: Case, told: _Told) -> Iterator[Finding]:
    pressure, least = told.solution.pressure_kpa, _least_kpa(case, told)
    low = told.solution.is_open & (pressure < least * (1 - _ROUNDING_SHARE))
    units = case.settings.site.units
    for column in np.flatnonzero(low.any(axis=0)):
        rows = np.flatnonzero(low[:, column])
        worst = rows[int(np.argmin(pressure[rows, column]))]
        head = told.solution.network.heads[column]
        message = (
            f"Head {head} has {shown(float(pressure[worst, column]), 'kpa', units)} at "
            f"{case.clock(int(told.first[worst]))} and less than "
            f"{shown(float(least[column]), 'kpa', units)} for {int(told.minutes[rows].sum())} min."
        )
        fix = "Run it beside fewer others, or look at elevation, pump pressure and pipes."
        yield warning("head-pressure-low", f"heads:{head}", message, fix)


def _velocities(case: Case, told: _Told) -> Iterator[Finding]:
    network, pipes = told.solution.network, case.ground.pipes
    speed = told.solution.velocity_m_s
    units = case.settings.site.units
    for name, stated in pipes["max_velocity_m_s"].items():
        links = np.flatnonzero((network.owner == name) & (network.kind == "pipe"))
        if not len(links) or not len(speed):
            continue
        most = case.settings.night.max_velocity_m_s if pd.isna(stated) else float(stated)
        fastest = np.nan_to_num(speed[:, links]).max(axis=1)
        over = np.flatnonzero(fastest > most * (1 + _ROUNDING_SHARE))
        if len(over):
            worst = over[int(np.argmax(fastest[over]))]
            message = (
                f"In pipe {name} water moves at {shown(float(fastest[worst]), 'm_s', units)} at "
                f"{case.clock(int(told.first[worst]))} by the solved network; it may move at "
                f"{shown(most, 'm_s', units)}. {int(told.minutes[over].sum())} min are over."
            )
            fix = "Plan the night again, or move these runs."
            yield error("pipe-too-fast", f"pipes:{name}", message, fix)


def waters(case: Case) -> Iterator[Finding]:
    """Pressure of every open head and velocity in every pipe, by the solved network.

    Heads of a known pressure hold it, and draw their design flow, unless the record says no.
    Where the record does not say enough to solve its network, nothing is told here.
    """
    if not case.sound_runs or not case.is_solvable:
        return
    told = _solved(case)
    yield from _pressures(case, told)
    yield from _velocities(case, told)
