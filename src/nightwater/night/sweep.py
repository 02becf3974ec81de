"""Fill a night minute by minute: whatever may run and fits starts, the most urgent first."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightwater.night.board import PUMP, ROUNDING, Numbers, Problem, Starts, Whole
from nightwater.night.bound import chain_min

_DONE: Final = 1 << 30  # a minute no night reaches
_LEAST_GAIN_L_S: Final = 1e-3
_MOST_EXCHANGES: Final = 3
_AHEAD: Final = 10  # how far down the queue an exchange may look
_TAIL_MIN: Final = 10  # work for so long must wait before ends need not be spread


@dataclass(frozen=True)
class Weights:
    """What makes a cycle urgent, beside the time that its own rest of cycles and soaks needs.

    Attributes:
        queue: weight of the fullest of its pipes and controllers, in minutes of work left.
        flow_min: minutes that a station of the largest flow counts as longer; large ones
            fit badly into what small ones leave.
        run: weight of the minutes of the cycle itself; long ones leave a ragged end.
        fills: whether what starts is exchanged where others fill the pump better.
    """

    queue: float
    flow_min: float
    run: float = 0.0
    fills: bool = False


class _Sweep:
    """The state of one sweep. A run only ends later, so what fits now fits to its end."""

    def __init__(
        self, problem: Problem, weights: Weights, nudge_min: Numbers | None, gentle: bool
    ) -> None:
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
        if nudge_min is not None:
            self._head_start = self._head_start + nudge_min
        self._fills = weights.fills
        self._flow = np.array([request.flow_l_s for request in problem.requests], dtype=float)
        self._flows = [request.flow_l_s for request in problem.requests]
        self._ramp = problem.ramp_l_s_min + ROUNDING
        self._cycle = np.array([r.cycles_min[0] for r in problem.requests], dtype=float)
        self._ending: dict[int, float] = defaultdict(float)
        self._waiting = sum(r.flow_l_s * sum(r.cycles_min) for r in problem.requests)
        self._usual = _usual_flow_l_s(problem)
        self._gentle = gentle
        self._room, self.steep = math.inf, False
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
        self._room = self._ramp + self._ending[now]
        ready = np.flatnonzero(self._ready <= now)
        if len(ready):
            queue = self._by_urgency(self._fitting(ready))
            started = []
            for index in queue.tolist():
                if min(self._free[self._pump] + ROUNDING, self._room) < self._least_l_s:
                    break
                if self._try(index, now):
                    started.append(index)
            if self._fills and len(started) < len(queue):
                self._fill(queue[: len(started) + _AHEAD], started, now)
        # What is left of the room is how far the flow stays under its steepest rise.
        self.steep |= self._room > 2 * self._ramp

    def _fill(self, queue: Whole, started: list[int], now: int) -> None:
        """Exchange what has just started for larger ones where that fills the pump better."""
        waits = np.ones(len(queue), dtype=bool)
        waits[np.isin(queue, started)] = False
        flows = self._flow[queue]
        for index in reversed(started):
            gap = min(self._free[self._pump], self._room)
            if gap < _LEAST_GAIN_L_S:
                return
            more = flows - self._flows[index]
            better = np.flatnonzero(waits & (more > _LEAST_GAIN_L_S) & (more <= gap + ROUNDING))
            if not len(better):
                continue
            self._undo(index, now)
            for place in better[np.argsort(-flows[better], kind="stable")][:_MOST_EXCHANGES]:
                if self._try(int(queue[place]), now):
                    waits[place] = False
                    break
            else:
                self._try(index, now)

    def _undo(self, index: int, now: int) -> None:
        """Take back a cycle that started this minute."""
        request, done = self._problem.requests[index], self.starts[index]
        run_min = request.cycles_min[len(done) - 1]
        for row, amount in self._loads[index]:
            self._free[row] += amount
            self._work[row] += amount * run_min
        flow, end = self._flows[index], now + run_min
        self._room += flow
        self._waiting += flow * run_min
        self._ending[end] -= flow
        self._ends[end].remove(index)
        if len(done) == len(request.cycles_min):
            self.left += 1
        else:
            self._chain[index] += run_min + request.soak_min
        self._ready[index] = now
        self._cycle[index] = run_min
        done.pop()

    def _ends_gently(self, index: int, end: int, run_min: int) -> bool:
        """Whether what ends with it may be left without a successor.

        While enough waits to take the place of what ends, many may end together.
        """
        plenty = self._waiting > self._usual * (run_min + _TAIL_MIN)
        return (plenty and not self._gentle) or (
            self._ending[end] + self._flows[index] <= self._ramp
        )

    def ended(self, now: int) -> bool:
        """Whether nothing runs any more after a minute."""
        return not any(end > now for end in self._ends)

    def _fitting(self, ready: Whole) -> Whole:
        free = np.array(self._free) + ROUNDING
        fits: Whole = ready[(free[self._rows[ready]] >= self._amounts[ready]).all(axis=1)]
        return fits

    def _by_urgency(self, some: Whole) -> Whole:
        """Least time to spare first: what is left of its hours, less what it still needs."""
        spare = self._latest[some] - self._chain[some] - self._head_start[some]
        spare = spare - self._weights.run * self._cycle[some]
        if self._weights.queue:
            spare = spare - (np.array(self._work) * self._weight)[self._rows[some]].max(axis=1)
        return some[np.argsort(spare, kind="stable")]

    def _try(self, index: int, now: int) -> bool:
        loads = self._loads[index]
        if any(self._free[row] + ROUNDING < amount for row, amount in loads):
            return False
        request, done = self._problem.requests[index], self.starts[index]
        run_min = request.cycles_min[len(done)]
        flow, end = self._flows[index], now + run_min
        if end > request.latest_min or flow > self._room:
            return False
        if not self._ends_gently(index, end, run_min):
            return False
        for row, amount in loads:
            self._free[row] -= amount
            self._work[row] -= amount * run_min
        self._room -= flow
        self._waiting -= flow * run_min
        self._ending[end] += flow
        done.append(now)
        self._ends[end].append(index)
        if len(done) == len(request.cycles_min):
            self._ready[index], self.left = _DONE, self.left - 1
        else:
            self._ready[index] = end + request.soak_min
            self._chain[index] -= run_min + request.soak_min
            self._cycle[index] = request.cycles_min[len(done)]
        return True


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


def _usual_flow_l_s(problem: Problem) -> float:
    """The pump's limit where it can be reached, else all that could run at once."""
    if PUMP in problem.names:
        return float(problem.capacity[problem.names.index(PUMP)])
    return float(sum(request.flow_l_s for request in problem.requests))


class _OrderedSweep(_Sweep):
    """A sweep in which what comes first in a given order is the more urgent."""

    def __init__(self, problem: Problem, order: Sequence[Sequence[float]], gentle: bool) -> None:
        super().__init__(problem, Weights(0.0, 0.0), None, gentle)
        self._order = order
        self._key = np.array([keys[0] for keys in order], dtype=float)

    def _by_urgency(self, some: Whole) -> Whole:
        return some[np.argsort(self._key[some], kind="stable")]

    def _try(self, index: int, now: int) -> bool:
        went = super()._try(index, now)
        self._next_key(index)
        return went

    def _undo(self, index: int, now: int) -> None:
        super()._undo(index, now)
        self._next_key(index)

    def _next_key(self, index: int) -> None:
        done = len(self.starts[index])
        if done < len(self._order[index]):
            self._key[index] = self._order[index][done]


def _through(problem: Problem, state: _Sweep) -> Starts | None:
    for now in range(problem.minutes + 1):
        state.minute(now)
        if not state.left and state.ended(now):
            break
    return None if state.left or state.steep else state.starts


def sweep(
    problem: Problem,
    weights: Weights,
    nudge_min: Numbers | None = None,
    *,
    gentle: bool = False,
) -> Starts | None:
    """One sweep through the night.

    Args:
        problem: requests, resources and minutes.
        weights: what counts as urgent.
        nudge_min: minutes by which each request counts as longer, shape (requests,).
        gentle: keep the ramp even where nothing follows what ends.

    Returns:
        Starts of every cycle, or None where some cycle finds no minute, or where flow fell
        faster than the ramp.

    Reference: the parallel scheme of schedule generation (Kelley 1963), with the least
    time to spare first.
    """
    return _through(problem, _Sweep(problem, weights, nudge_min, gentle))


def sweep_in_order(
    problem: Problem, order: Sequence[Sequence[float]], *, gentle: bool = False
) -> Starts | None:
    """One sweep in which the cycle of the smallest number starts first.

    Args:
        problem: requests, resources and minutes.
        order: per request, a number for each of its cycles.
        gentle: as for `sweep`.

    Returns:
        As `sweep`.
    """
    return _through(problem, _OrderedSweep(problem, order, gentle))
