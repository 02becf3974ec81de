"""EPANET as the engine: a network written once, and solved for any open set of heads."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import Finding, UserError
from nightwater.pipes.duty import duty_of, held_most_l_s
from nightwater.pipes.engine_doubts import Doubted, engine_findings
from nightwater.pipes.epanet_project import TRIALS, EpanetProject, Raw
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.losses import velocity_m_s
from nightwater.pipes.outlets import Drawn, Outlets, head_pressure_kpa
from nightwater.pipes.solution import PumpDuty, Solution
from nightwater.units import KPA_PER_M_WATER

_NEAR: Final = 1e-6

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class _Solved:
    """One open set, solved."""

    drawn: Drawn
    holds: tuple[bool, ...]


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
        self._outlets = Outlets(network, self._project)
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
        expected = self._outlets.expected_l_s(on)
        weak = len(self._most) == 1 and expected > self._most[0]
        try:
            return self._with_pressures(on, [not weak] * len(self.network.feeds))
        except UserError:
            return None

    def _with_pressures(self, on: Flags, held: list[bool]) -> _Solved:
        """Let feeds go from their set pressure that cannot hold it, until all agree."""
        failed = [False] * len(held)
        for _ in range(2 * len(held) + 1):
            self._project.hold(held)
            drawn = self._outlets.draw(on)
            failed = [
                before or (now and water > most * (1 + _NEAR))
                for before, now, water, most in zip(
                    failed, held, drawn.raw.feed_l_s, self._most, strict=True
                )
            ]
            wanted = [
                not fail and (now or self._too_high(place, drawn.raw))
                for place, (fail, now) in enumerate(zip(failed, held, strict=True))
            ]
            if wanted == held:
                break
            held = wanted
        return _Solved(drawn, tuple(self._holds(held)))

    def _too_high(self, place: int, raw: Raw) -> bool:
        """Whether a feed that runs on its curve gives more than the pressure it should hold."""
        feed = self.network.feeds[place]
        return bool(raw.head_m[feed.node] > feed.set_head_m + _NEAR)

    def _holds(self, held: list[bool]) -> list[bool]:
        return [now or not feed.pumps or np.isnan(feed.set_kpa)
                for now, feed in zip(held, self.network.feeds, strict=True)]  # fmt: skip

    def _solution(
        self, wanted: Flags, unique: list[int], back: NDArray[np.int64], sets: list[_Solved | None]
    ) -> Solution:
        net = self.network
        head = _stack([None if one is None else one.drawn.raw.head_m for one in sets],
                      len(net.elevation_m))  # fmt: skip
        flow = _stack(
            [None if one is None else one.drawn.raw.flow_l_s for one in sets], len(net.start)
        )
        water = _stack(
            [None if one is None else one.drawn.flow_l_s for one in sets], len(net.heads)
        )
        feed = _stack(
            [None if one is None else one.drawn.raw.feed_l_s for one in sets], len(net.feeds)
        )
        pumps = _stack(
            [None if one is None else one.drawn.raw.pump_l_s for one in sets], len(net.pumps)
        )
        nothing = (False,) * len(net.feeds)
        holds = np.array([one.holds if one else nothing for one in sets], dtype=bool)
        holds = holds.reshape(len(sets), len(net.feeds))
        at = np.array([one.node for one in net.feeds], dtype=np.int64)
        speed = np.where(
            net.kind == "reducing", np.nan, np.abs(velocity_m_s(flow, net.diameter_mm))
        )
        doubted = Doubted(
            np.array(unique, dtype=np.int64),
            np.array([one is None for one in sets], dtype=bool),
            np.array([one is not None and not one.drawn.settled for one in sets], dtype=bool),
            np.array([one is not None and _unbalanced(one.drawn) for one in sets], dtype=bool),
        )
        solution = Solution(
            net,
            wanted[unique],
            head_pressure_kpa(net, head),
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


def _unbalanced(drawn: Drawn) -> bool:
    """Whether the engine ran out of trials; where nothing flows there is nothing to balance."""
    return drawn.raw.trials >= TRIALS and bool((drawn.flow_l_s > 0).any())


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
    if len(back) == len(unlike.is_open):  # all are unlike: nothing to copy
        return replace(unlike, findings=findings)
    duty = PumpDuty(*(getattr(unlike.duty, name)[back] for name in PumpDuty.__dataclass_fields__))
    rows = {
        name: getattr(unlike, name)[back]
        for name in Solution.__dataclass_fields__
        if name not in ("network", "is_open", "duty", "findings")
    }
    return Solution(network=unlike.network, is_open=wanted, duty=duty, findings=findings, **rows)
