"""EPANET as the engine: a network written once, and solved for any open set of heads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import Finding, UserError
from nightwater.pipes.duty import duty_of, held_most_l_s
from nightwater.pipes.engine_doubts import Doubted, engine_findings
from nightwater.pipes.epanet_project import TRIALS, EpanetProject, Raw
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.losses import velocity_m_s
from nightwater.pipes.solution import PumpDuty, Solution
from nightwater.units import KPA_PER_M_WATER

_ROUNDS: Final = 12  # for nozzles whose coefficient changes with pressure
_SETTLED: Final = 1e-3  # of the coefficient
_LEAST_KPA: Final = 1.0

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class _Solved:
    """One open set, solved."""

    raw: Raw
    head_flow_l_s: Numbers
    holds: tuple[bool, ...]
    settled: bool


class Engine:
    """A hydraulic network in EPANET, written once; close it, or use it in a `with`.

    Not for two threads at once.
    """

    def __init__(self, network: HydraulicNetwork) -> None:
        """Write the network.

        Args:
            network: as `build_hydraulic_network` gives it.

        Raises:
            UserError: EPANET refuses the network.
        """
        self.network = network
        self._project = EpanetProject(network)
        self._plain = network.emitters.plain
        design = network.emitters.design_kpa
        usable = np.where(design > 0, design, 100.0)
        self._design_k = network.emitters.coefficients(usable)
        self._most = [held_most_l_s(feed) for feed in network.feeds]

    def __enter__(self) -> Engine:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the engine's memory back; a second time does nothing."""
        self._project.close()

    def solve(self, open_sets: ArrayLike) -> Solution:
        """Pressure, flow and velocity everywhere, for each open set.

        Equal sets are solved once. Heads are outlets q = K · √p of their nozzle, at the
        pressure in the pipe where they stand and their own level: what is lost between
        pipe and nozzle is not known and not taken. A feed holds its pressure while its
        pumps can, and runs on their curves at full speed where they cannot.

        Args:
            open_sets: which heads run, bool, shape (sets, heads); one set may be (heads,).
                `network.heads_of_stations` makes it from station ids.

        Returns:
            The solution, with findings about what went wrong.

        Raises:
            UserError: another count of heads than the network has.
        """
        wanted = np.atleast_2d(np.asarray(open_sets, dtype=bool))
        if wanted.shape[1] != len(self.network.heads):
            raise UserError(
                f"The open sets are for {wanted.shape[1]} heads and the network has "
                f"{len(self.network.heads)}. Make them with the network's own functions."
            )
        unique, back = _unlike(wanted)
        solved = [self._set(wanted[row]) for row in unique]
        return self._solution(wanted, unique, back, solved)

    def _set(self, on: Flags) -> _Solved | None:
        """One set; None where the engine finds no answer."""
        try:
            return self._with_pressures(on, [True] * len(self.network.feeds))
        except UserError:
            return None

    def _with_pressures(self, on: Flags, held: list[bool]) -> _Solved:
        """Let feeds go from their set pressure that cannot hold it, until all agree."""
        for _ in range(len(held) + 1):
            self._project.hold(held)
            raw, flow, settled = self._with_nozzles(on)
            fails = [
                now and water > most * (1 + 1e-6)
                for now, water, most in zip(held, raw.feed_l_s, self._most, strict=True)
            ]
            if not any(fails):
                break
            held = [now and not fail for now, fail in zip(held, fails, strict=True)]
        return _Solved(raw, flow, tuple(held), settled)

    def _with_nozzles(self, on: Flags) -> tuple[Raw, Numbers, bool]:
        """Solve with each nozzle's coefficient at its own pressure."""
        k = np.where(on, self._design_k, 0.0)
        curved = on & ~self._plain
        settled = False
        for _ in range(_ROUNDS if curved.any() else 1):
            raw = self._emit(k)
            if not curved.any():
                settled = True
                break
            pressure = np.maximum(self._pressure(raw.head_m), _LEAST_KPA)
            better = np.where(curved, self.network.emitters.coefficients(pressure), k)
            if np.all(np.abs(better - k) <= _SETTLED * np.maximum(k, 1e-12)):
                settled = True
                break
            k = better
        return raw, self._shares(raw, k), settled

    def _emit(self, k: Numbers) -> Raw:
        nodes = len(self.network.elevation_m)
        at_nodes = np.bincount(self.network.head_node, weights=k, minlength=nodes)
        self._project.emit(at_nodes.astype(float))
        return self._project.run()

    def _shares(self, raw: Raw, k: Numbers) -> Numbers:
        """Flow of each head: what leaves its node, shared as the coefficients are."""
        node = self.network.head_node
        total = np.bincount(node, weights=k, minlength=len(raw.outflow_l_s))[node]
        share = np.divide(k, total, out=np.zeros_like(k), where=total > 0)
        return np.asarray(raw.outflow_l_s[node] * share, dtype=float)

    def _pressure(self, head_m: Numbers) -> Numbers:
        """Pressure at every head."""
        net = self.network
        above = head_m[..., net.head_node] - net.elevation_m[net.head_node]
        return np.asarray(above * KPA_PER_M_WATER, dtype=float)

    def _solution(
        self, wanted: Flags, unique: list[int], back: NDArray[np.int64], sets: list[_Solved | None]
    ) -> Solution:
        net = self.network
        head = _stack([None if one is None else one.raw.head_m for one in sets],
                      len(net.elevation_m))  # fmt: skip
        flow = _stack([None if one is None else one.raw.flow_l_s for one in sets], len(net.start))
        water = _stack([None if one is None else one.head_flow_l_s for one in sets], len(net.heads))
        feed = _stack([None if one is None else one.raw.feed_l_s for one in sets], len(net.feeds))
        pumps = _stack([None if one is None else one.raw.pump_l_s for one in sets], len(net.pumps))
        holds = np.array([one.holds if one else (False,) * len(net.feeds) for one in sets])
        at = np.array([one.node for one in net.feeds], dtype=np.int64)
        speed = np.where(
            net.kind == "reducing", np.nan, np.abs(velocity_m_s(flow, net.diameter_mm))
        )
        doubted = Doubted(
            np.array(unique), np.array([one is None for one in sets]),
            np.array([one is not None and not one.settled for one in sets]),
            np.array([one is not None and one.raw.trials >= TRIALS for one in sets]),
        )  # fmt: skip
        solution = Solution(
            net,
            wanted[unique],
            self._pressure(head),
            water,
            (head - net.elevation_m) * KPA_PER_M_WATER,
            flow,
            speed,
            feed,
            holds,
            duty_of(net.feeds, feed, head[:, at], pumps),
            (),
        )
        return _spread(solution, wanted, back, engine_findings(solution, doubted))


def _unlike(wanted: Flags) -> tuple[list[int], NDArray[np.int64]]:
    """Row of the first of each different set, in order, and for every set which of those it is."""
    place: dict[bytes, int] = {}
    first: list[int] = []
    back = np.empty(len(wanted), dtype=np.int64)
    for row, bits in enumerate(np.packbits(wanted, axis=1)):
        key = bits.tobytes()
        if key not in place:
            place[key] = len(first)
            first.append(row)
        back[row] = place[key]
    return first, back


def _stack(rows: list[Numbers | None], width: int) -> Numbers:
    nothing = np.full(width, np.nan)
    stacked = [nothing if row is None else row for row in rows]
    return np.array(stacked, dtype=float).reshape(len(rows), width)


def _spread(
    unlike: Solution, wanted: Flags, back: NDArray[np.int64], findings: tuple[Finding, ...]
) -> Solution:
    """Every set again, out of the unlike ones."""
    duty = PumpDuty(*(getattr(unlike.duty, name)[back] for name in PumpDuty.__dataclass_fields__))
    rows = {
        name: getattr(unlike, name)[back]
        for name in Solution.__dataclass_fields__
        if name not in ("network", "is_open", "duty", "findings")
    }
    return Solution(network=unlike.network, is_open=wanted, duty=duty, findings=findings, **rows)
