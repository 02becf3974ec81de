"""Fill a night minute by minute: whatever may run and fits starts, the most urgent first."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightwater.night.board import PUMP, ROUNDING, Numbers, Problem, Starts, Whole
from nightwater.night.bound import chain_min

_DONE: Final = 1 << 30  # a minute no night reaches


@dataclass(frozen=True)
class Weights:
    """What makes a cycle urgent, beside the time that its own rest of cycles and soaks needs.

    Attributes:
        queue: weight of the fullest of its pipes and controllers, in minutes of work left.
        flow_min: minutes that a station of the largest flow counts as longer; large ones
            fit badly into what small ones leave.
    """

    queue: float
    flow_min: float


class _Sweep:
    """The state of one sweep. A run only ends later, so what fits now fits to its end."""

    def __init__(self, problem: Problem, weights: Weights) -> None:
        self._problem, self._weights = problem, weights
        self._loads = [
            list(zip(rows.tolist(), amounts.tolist(), strict=True))
            for rows, amounts in zip(problem.rows, problem.amounts, strict=True)
        ]
        self._rows, self._amounts = _padded(problem)
        self._free: list[float] = [*problem.capacity.tolist(), np.inf]
        endless = len(problem.names)
        self._pump = problem.names.index(PUMP) if PUMP in problem.names else endless
        self._least_l_s = min((r.flow_l_s for r in problem.requests), default=0.0)
        self._work = self._all_work()
        self._weight = _work_weights(problem) * weights.queue
        self._ready = np.array([r.earliest_min for r in problem.requests], dtype=np.int64)
        self._latest = np.array([r.latest_min for r in problem.requests], dtype=np.int64)
        self._chain = np.array([chain_min(r) for r in problem.requests], dtype=np.int64)
        self._head_start = _flow_shares(problem) * weights.flow_min
        self._ends: dict[int, list[int]] = defaultdict(list)
        self.starts: Starts = {index: [] for index in range(len(problem.requests))}
        self.left = len(problem.requests)

    def _all_work(self) -> list[float]:
        work = [0.0] * (len(self._problem.capacity) + 1)
        for request, loads in zip(self._problem.requests, self._loads, strict=True):
            for row, amount in loads:
                work[row] += amount * sum(request.cycles_min)
        return work

    def minute(self, now: int) -> None:
        """End what ends, then start what is ready and fits."""
        for index in self._ends.pop(now, ()):
            for row, amount in self._loads[index]:
                self._free[row] += amount
        ready = np.flatnonzero(self._ready <= now)
        if len(ready):
            for index in self._by_urgency(self._fitting(ready)).tolist():
                if self._free[self._pump] + ROUNDING < self._least_l_s:
                    break
                self._try(index, now)

    def _fitting(self, ready: Whole) -> Whole:
        free = np.array(self._free) + ROUNDING
        fits: Whole = ready[(free[self._rows[ready]] >= self._amounts[ready]).all(axis=1)]
        return fits

    def _by_urgency(self, some: Whole) -> Whole:
        """Least time to spare first: what is left of its hours, less what it still needs."""
        spare = self._latest[some] - self._chain[some] - self._head_start[some]
        if self._weights.queue:
            spare = spare - (np.array(self._work) * self._weight)[self._rows[some]].max(axis=1)
        return some[np.argsort(spare, kind="stable")]

    def _try(self, index: int, now: int) -> None:
        loads = self._loads[index]
        if any(self._free[row] + ROUNDING < amount for row, amount in loads):
            return
        request, done = self._problem.requests[index], self.starts[index]
        run_min = request.cycles_min[len(done)]
        if now + run_min > request.latest_min:
            return
        for row, amount in loads:
            self._free[row] -= amount
            self._work[row] -= amount * run_min
        done.append(now)
        self._ends[now + run_min].append(index)
        if len(done) == len(request.cycles_min):
            self._ready[index], self.left = _DONE, self.left - 1
        else:
            self._ready[index] = now + run_min + request.soak_min
            self._chain[index] -= run_min + request.soak_min


def _padded(problem: Problem) -> tuple[Whole, Numbers]:
    """Rows and amounts as rectangles; what is missing asks nothing of a last, endless row."""
    width = max((len(rows) for rows in problem.rows), default=0) or 1
    shape = (len(problem.requests), width)
    rows, amounts = np.full(shape, len(problem.capacity), dtype=np.int64), np.zeros(shape)
    for index, (mine, much) in enumerate(zip(problem.rows, problem.amounts, strict=True)):
        rows[index, : len(mine)], amounts[index, : len(mine)] = mine, much
    return rows, amounts


def _work_weights(problem: Problem) -> Numbers:
    """1/capacity per row; 0 for the pump, which all share, and for the endless row."""
    of_pump = np.array([name == PUMP for name in problem.names], dtype=bool)
    with np.errstate(divide="ignore"):
        weights = np.where(of_pump | (problem.capacity <= 0), 0.0, 1 / problem.capacity)
    return np.append(weights, 0.0)


def _flow_shares(problem: Problem) -> Numbers:
    flows = np.array([request.flow_l_s for request in problem.requests], dtype=float)
    return flows / max(float(flows.max(initial=0.0)), ROUNDING)


def sweep(problem: Problem, weights: Weights) -> Starts | None:
    """One sweep through the night.

    Args:
        problem: requests, resources and minutes.
        weights: what counts as urgent.

    Returns:
        Starts of every cycle, or None where some cycle finds no minute.

    Reference: the parallel scheme of schedule generation (Kelley 1963), with the least
    time to spare first.
    """
    state = _Sweep(problem, weights)
    for now in range(problem.minutes):
        if not state.left:
            break
        state.minute(now)
    return None if state.left else state.starts
