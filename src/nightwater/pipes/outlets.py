"""Open heads in the engine: outlets by their coefficient, regulated ones by their flow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.pipes.epanet_project import EpanetProject, Raw
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.units import KPA_PER_M_WATER

_ROUNDS: Final = 20
_SETTLED: Final = 2e-3  # of a coefficient: a flow within 0.2 %, four times that of a catalogue
_LEAST_KPA: Final = 1.0  # a nozzle below has no coefficient to speak of
_EXPECTED_SHARE: Final = 0.8
_LEAST_EXPECTED_KPA: Final = 100.0

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Drawn:
    """One open set with every nozzle at its own pressure.

    Attributes:
        raw: the engine's answer.
        flow_l_s: of each head.
        settled: whether the nozzles' flows agreed in the end.
    """

    raw: Raw
    flow_l_s: Numbers
    settled: bool


def head_pressure_kpa(network: HydraulicNetwork, head_m: Numbers) -> Numbers:
    """Pressure in the pipe at every head, of the heads of all nodes [kPa]."""
    above = head_m[..., network.head_node] - network.elevation_m[network.head_node]
    return np.asarray(above * KPA_PER_M_WATER, dtype=float)


def expected_kpa(network: HydraulicNetwork) -> Numbers:
    """A first guess of the pressure at each head: static, less a fifth for losses."""
    levels = [feed.suction_m if np.isnan(feed.fixed_m) else feed.fixed_m for feed in network.feeds]
    static = (max(levels) - network.elevation_m[network.head_node]) * KPA_PER_M_WATER
    return np.maximum(_EXPECTED_SHARE * static, _LEAST_EXPECTED_KPA)


class Outlets:
    """The heads of a network as the engine's outlets.

    A plain nozzle is an emitter of one coefficient. A nozzle with another exponent, or a table,
    has its coefficient at the pressure it turns out to have, found by turns. A regulated head
    takes its design flow while the pipe has its pressure, and is an open nozzle where not.
    """

    def __init__(self, network: HydraulicNetwork, project: EpanetProject) -> None:
        self._network = network
        self._project = project
        emitters = network.emitters
        self._plain = emitters.plain
        self._regulated = emitters.regulated & emitters.known
        guess = np.where(self._regulated, emitters.design_kpa, expected_kpa(network))
        self._k = emitters.coefficients(guess)
        self._fixed_l_s = np.nan_to_num(emitters.flow_and_radius(emitters.design_kpa)[0])

    def expected_l_s(self, on: Flags) -> float:
        """A first guess of the water that a set takes [L/s]."""
        guess = self._k * np.sqrt(expected_kpa(self._network))
        return float(np.where(self._regulated, self._fixed_l_s, guess)[on].sum())

    def draw(self, on: Flags) -> Drawn:
        """Solve one set with each nozzle at its own pressure.

        Args:
            on: which heads run, shape (heads,).
        """
        fixed = on & self._regulated
        k = np.where(on, self._k, 0.0)
        settled, turn = False, 0
        while not settled and turn < _ROUNDS:
            raw = self._run(np.where(fixed, 0.0, k), np.where(fixed, self._fixed_l_s, 0.0), turn)
            pressure = head_pressure_kpa(self._network, raw.head_m)
            low = fixed & (pressure < self._network.emitters.design_kpa * (1 - 1e-6))
            better = self._better(on & ~fixed & ~self._plain, k, pressure)
            settled = not low.any() and bool(np.all(np.abs(better - k) <= _SETTLED * k))
            fixed, k, turn = fixed & ~low, k if settled else better, turn + 1
        return Drawn(raw, self._flow(raw, fixed, np.where(fixed, 0.0, k)), settled)

    def _better(self, curved: Flags, k: Numbers, pressure_kpa: Numbers) -> Numbers:
        """Coefficients at the pressures found, of nozzles that have more than one."""
        if not curved.any():
            return k
        found = self._network.emitters.coefficients(np.maximum(pressure_kpa, _LEAST_KPA))
        return np.where(curved, found, k)

    def _run(self, k: Numbers, fixed_l_s: Numbers, turn: int) -> Raw:
        self._project.emit(self._at_nodes(k), self._at_nodes(fixed_l_s))
        return self._project.run(afresh=turn == 0)

    def _at_nodes(self, of_heads: Numbers) -> Numbers:
        nodes = len(self._network.elevation_m)
        return np.bincount(self._network.head_node, weights=of_heads, minlength=nodes).astype(float)

    def _flow(self, raw: Raw, fixed: Flags, k: Numbers) -> Numbers:
        """Flow of each head: what leaves its node, shared as the coefficients are."""
        node = self._network.head_node
        total = self._at_nodes(k)[node]
        share = np.divide(k, total, out=np.zeros_like(k), where=total > 0)
        return np.where(fixed, self._fixed_l_s, raw.outflow_l_s[node] * share)
