"""The night as a board: free capacity of every resource at every minute."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.night.bound import chain_min, resource_loads
from nightwater.night.plan import Limits, Request

ROUNDING: Final = 1e-9
PUMP: Final = "pump"
MIXED: Final = "mixed"
WINDOW: Final = "window"

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
Starts = dict[int, list[int]]  # place of a request in its problem -> start of each cycle


@dataclass(frozen=True)
class Problem:
    """Requests, and the scarce resources they share as rows of one table.

    Attributes:
        requests: what the stations ask.
        rows: per request, the rows of the resources that it uses.
        amounts: per request, how much of each while it runs.
        names: of the rows: "pump", "pipe:ID", "controller:ID" or "apart:ID|ID".
        capacity: of the rows.
        minutes: of the night.
        ramp_l_s_min: most that the whole flow may change from one minute to the next.
    """

    requests: tuple[Request, ...]
    rows: tuple[Whole, ...]
    amounts: tuple[Numbers, ...]
    names: tuple[str, ...]
    capacity: Numbers
    minutes: int
    ramp_l_s_min: float = math.inf


def _capacities(limits: Limits) -> dict[str, float]:
    known = {PUMP: limits.pump_l_s}
    known |= {f"pipe:{pipe}": flow for pipe, flow in limits.pipes_l_s.items()}
    known |= {f"controller:{c}": float(n) for c, n in limits.controllers_heads.items()}
    return known | {f"apart:{one}|{other}": 1.0 for one, other in limits.apart}


def _pairs(limits: Limits) -> dict[str, list[tuple[str, float]]]:
    """A pair that may not run at once is a resource of which there is one."""
    loads: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for one, other in limits.apart:
        for station in (one, other):
            loads[station].append((f"apart:{one}|{other}", 1.0))
    return loads


def problem_of(requests: Sequence[Request], limits: Limits, minutes: int) -> Problem:
    """A problem; only resources that the requests together could overfill become rows."""
    capacity = _capacities(limits)
    pairs = _pairs(limits)
    loads = [(*resource_loads(r), *pairs.get(r.station, ())) for r in requests]
    asked: dict[str, float] = {}
    for name, amount in (load for group in loads for load in group):
        asked[name] = asked.get(name, 0.0) + amount
    scarce = [n for n, total in asked.items() if total > capacity.get(n, np.inf) + ROUNDING]
    row = {name: place for place, name in enumerate(scarce)}
    kept = [[(row[name], amount) for name, amount in group if name in row] for group in loads]
    return Problem(
        requests=tuple(requests),
        rows=tuple(np.array([place for place, _ in mine], dtype=np.int64) for mine in kept),
        amounts=tuple(np.array([amount for _, amount in mine], dtype=float) for mine in kept),
        names=tuple(scarce),
        capacity=np.array([capacity[name] for name in scarce], dtype=float),
        minutes=minutes,
        ramp_l_s_min=limits.ramp_l_s_min,
    )


def _starts_without(tight: NDArray[np.bool_], run_min: int) -> Whole:
    """Places from which `run_min` minutes follow of which none is tight."""
    count = np.concatenate([[0], np.cumsum(tight)])
    same: Whole = np.flatnonzero(count[run_min:] == count[: len(count) - run_min])
    return same


def longest_gap_min(tight: NDArray[np.bool_]) -> int:
    """The longest stretch of minutes of which none is tight."""
    edges = np.flatnonzero(np.concatenate([[True], tight, [True]]))
    return int(np.diff(edges).max()) - 1


class Board:
    """Free capacity of every resource at every minute, while a night is being filled."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        shape = (len(problem.capacity), problem.minutes)
        self._free = np.broadcast_to(problem.capacity[:, None], shape).copy()
        self._step = np.zeros(problem.minutes + 1)  # change of flow at the start of each minute

    def _tight(self, index: int, earliest: int, latest_end: int) -> NDArray[np.bool_]:
        """Per resource of a request and minute: whether too little of it is free."""
        rows, amounts = self._problem.rows[index], self._problem.amounts[index]
        tight: NDArray[np.bool_] = (
            self._free[rows, earliest:latest_end] < amounts[:, None] - ROUNDING
        )
        return tight

    def _fits(self, index: int, earliest: int, latest_end: int, run_min: int) -> Whole:
        if latest_end - run_min < earliest:
            return np.empty(0, dtype=np.int64)
        tight: NDArray[np.bool_] = np.any(self._tight(index, earliest, latest_end), axis=0)
        fits = earliest + _starts_without(tight, run_min)
        return fits[self._gentle(index, fits, run_min)]

    def _gentle(self, index: int, starts: Whole, run_min: int) -> NDArray[np.bool_]:
        """Which starts keep the ramp, at the start and at the end of the run."""
        flow, most = self._problem.requests[index].flow_l_s, self._problem.ramp_l_s_min + ROUNDING
        gentle: NDArray[np.bool_] = (self._step[starts] + flow <= most) & (
            self._step[starts + run_min] - flow >= -most
        )
        return gentle

    def first_start(self, index: int, earliest: int, latest_end: int, run_min: int) -> int | None:
        """The first minute at which a cycle fits, or None."""
        fits = self._fits(index, earliest, latest_end, run_min)
        return int(fits[0]) if len(fits) else None

    def last_start(self, index: int, earliest: int, latest_end: int, run_min: int) -> int | None:
        """The last minute at which a cycle fits, or None."""
        fits = self._fits(index, earliest, latest_end, run_min)
        return int(fits[-1]) if len(fits) else None

    def take(self, index: int, start: int, run_min: int, sign: float = 1.0) -> None:
        """Use the capacity of a cycle, or give it back with sign −1."""
        rows = self._problem.rows[index]
        if len(rows):
            used = sign * self._problem.amounts[index][:, None]
            self._free[rows, start : start + run_min] -= used
        flow = sign * self._problem.requests[index].flow_l_s
        self._step[start] += flow
        self._step[start + run_min] -= flow

    def place(self, index: int) -> list[int] | None:
        """Put all cycles of a request at their first fits; starts, or None and nothing taken."""
        request = self._problem.requests[index]
        ready = request.earliest_min
        starts: list[int] = []
        for run_min in request.cycles_min:
            start = self.first_start(index, ready, request.latest_min, run_min)
            if start is None:
                for begun, length in zip(starts, request.cycles_min, strict=False):
                    self.take(index, begun, length, -1.0)
                return None
            self.take(index, start, run_min)
            starts.append(start)
            ready = start + run_min + request.soak_min
        return starts

    def takes(self, index: int, starts: Sequence[int]) -> bool:
        """Put the cycles of a request at given starts where capacity allows; else take nothing.

        The ramp is not looked at: what comes later may mend it.
        """
        lengths = self._problem.requests[index].cycles_min
        for start, run_min in zip(starts, lengths, strict=True):
            if self._tight(index, start, start + run_min).any():
                return False
        for start, run_min in zip(starts, lengths, strict=True):
            self.take(index, start, run_min)
        return True

    def take_all(self, starts: Starts) -> None:
        """Use the capacity of every cycle of a placement."""
        for index, begun in starts.items():
            lengths = self._problem.requests[index].cycles_min
            for start, run_min in zip(begun, lengths, strict=True):
                self.take(index, start, run_min)

    def _gaps(self, index: int) -> Iterator[tuple[int, str]]:
        request = self._problem.requests[index]
        tight = self._tight(index, request.earliest_min, request.latest_min)
        for row, minutes in zip(self._problem.rows[index], tight, strict=True):
            yield longest_gap_min(minutes), self._problem.names[int(row)]

    def blocker(self, index: int) -> tuple[str, int]:
        """The resource that would keep a request out by itself, and its longest gap [min].

        Returns:
            "window" where its hours are shorter than its cycles and soaks; the resource whose
            longest gap is shortest, where that is shorter than the longest cycle; else
            "mixed": no single one, but all of them together.
        """
        request = self._problem.requests[index]
        hours = request.latest_min - request.earliest_min
        if chain_min(request) > hours:
            return WINDOW, hours
        gap, name = min(self._gaps(index), default=(hours, MIXED))
        return (name, gap) if gap < max(request.cycles_min) else (MIXED, gap)
