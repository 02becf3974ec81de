"""What the solved network says of a night: heads too low, pipes too fast, set by set."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.night.plan import Run
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.solution import Solution
from nightwater.units import KPA_PER_M_WATER

OpenSet = frozenset[str]
Numbers = NDArray[np.float64]
_ROUNDING_SHARE: Final = 1e-6
_SHORT_SHARE: Final = 1e-4


@dataclass(frozen=True)
class Trouble:
    """What is wrong in one open set.

    Attributes:
        low: station → pressure that its worst head lacks [kPa].
        fast: pipe id → velocity over its limit, above 1.
        loss_kpa: pipe id → friction loss along it; only where a station is low.
    """

    low: Mapping[str, float]
    fast: Mapping[str, float]
    loss_kpa: Mapping[str, float]

    @property
    def any(self) -> bool:
        """Whether something is wrong at all."""
        return bool(self.low or self.fast)


def open_sets(runs: Sequence[Run], minutes: int) -> dict[OpenSet, int]:
    """The different sets of stations that run together, and for how many minutes each."""
    starting: list[list[str]] = [[] for _ in range(minutes + 1)]
    ending: list[list[str]] = [[] for _ in range(minutes + 1)]
    for run in runs:
        starting[run.start_min].append(run.station)
        ending[run.start_min + run.run_min].append(run.station)
    now: OpenSet = frozenset()
    found: dict[OpenSet, int] = {}
    for minute in range(minutes):
        if starting[minute] or ending[minute]:
            now = now.difference(ending[minute]).union(starting[minute])
        if now:
            found[now] = found.get(now, 0) + 1
    return found


class Waters:
    """The engine and what it has already said of open sets."""

    def __init__(self, engine: Engine, ground: Ground, rules: NightRules) -> None:
        net = engine.network
        self._engine = engine
        self._least_kpa = least_head_kpa(net, rules)
        self._most_m_s = link_limits_m_s(net, ground, rules)
        self._known: dict[OpenSet, Trouble] = {}

    def troubles(self, sets: Sequence[OpenSet]) -> dict[OpenSet, Trouble]:
        """What is wrong in each of the sets; those seen before are not solved again."""
        new = [one for one in sets if one not in self._known]
        if new:
            solution = self._engine.solve(self._engine.network.heads_of_stations(new))
            for row, one in enumerate(new):
                self._known[one] = self._trouble(solution, row)
        return {one: self._known[one] for one in sets}

    def hopeless(self, stations: Sequence[str]) -> frozenset[str]:
        """Stations that are low even when they run alone: no order mends that."""
        alone = self.troubles([frozenset((station,)) for station in stations])
        return frozenset(name for one, trouble in alone.items() if trouble.low for name in one)

    def _trouble(self, solution: Solution, row: int) -> Trouble:
        net = solution.network
        lack = np.where(solution.is_open[row], self._least_kpa - solution.pressure_kpa[row], 0.0)
        low: dict[str, float] = {}
        for head in np.flatnonzero(lack > _ROUNDING_SHARE):
            station = str(net.station[head])
            low[station] = max(low.get(station, 0.0), float(lack[head]))
        share = solution.velocity_m_s[row] / self._most_m_s
        fast = _by_pipe(net, np.nan_to_num(share), np.nan_to_num(share) > 1 + _ROUNDING_SHARE)
        loss = _sum_by_pipe(net, _losses_kpa(solution, row)) if low else {}
        return Trouble(low, fast, loss)


def least_head_kpa(net: HydraulicNetwork, rules: NightRules) -> Numbers:
    """The pressure that each head should have at least, of its design and the set floor."""
    design = net.emitters.design_kpa * (1 - rules.pressure_within)
    least: Numbers = np.fmax(design, rules.least_head_kpa)
    return least


def short_heads(
    is_open: NDArray[np.bool_], pressure_kpa: Numbers, least_kpa: Numbers
) -> NDArray[np.bool_]:
    """Which open heads have less than they should, shape (sets, heads); rounded as the referee.

    Args:
        is_open, pressure_kpa: of each set and head.
        least_kpa: of each head, as `least_head_kpa` gives it.
    """
    return np.asarray(is_open & (pressure_kpa < least_kpa * (1 - _SHORT_SHARE)), dtype=bool)


def link_limits_m_s(net: HydraulicNetwork, ground: Ground, rules: NightRules) -> Numbers:
    """The velocity limit of each link; endless for what is no pipe."""
    stated = ground.pipes["max_velocity_m_s"].fillna(rules.max_velocity_m_s)
    limit = dict(zip(stated.index.astype(str), stated.to_numpy(dtype=float), strict=True))
    return np.array(
        [
            limit.get(str(owner), np.inf) if kind == "pipe" else np.inf
            for owner, kind in zip(net.owner, net.kind, strict=True)
        ]
    )


def _losses_kpa(solution: Solution, row: int) -> Numbers:
    """Friction loss of each link."""
    net = solution.network
    head = net.elevation_m + solution.node_pressure_kpa[row] / KPA_PER_M_WATER
    return np.asarray(np.abs(head[net.start] - head[net.end]) * KPA_PER_M_WATER, dtype=float)


def _by_pipe(net: HydraulicNetwork, values: Numbers, chosen: NDArray[np.bool_]) -> dict[str, float]:
    """The greatest value of the chosen links of each pipe."""
    found: dict[str, float] = {}
    for link in np.flatnonzero(chosen):
        pipe = str(net.owner[link])
        found[pipe] = max(found.get(pipe, 0.0), float(values[link]))
    return found


def _sum_by_pipe(net: HydraulicNetwork, values: Numbers) -> dict[str, float]:
    """The sum over the links of each pipe."""
    found: dict[str, float] = {}
    for link in np.flatnonzero(net.kind == "pipe"):
        pipe = str(net.owner[link])
        found[pipe] = found.get(pipe, 0.0) + float(values[link])
    return found
