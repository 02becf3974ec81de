"""Put the cycles of all stations into the night: list scheduling to the minute."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.night.bound import chain_min, finish_bound
from nightwater.night.plan import Limits, Request, Run

RESTARTS: Final = 6
SEED: Final = 20250710
_SPREAD: Final = 0.25  # how far a restart may shift a station's place in the order
_ROUNDING: Final = 1e-9
_NO_LIMIT: Final = np.inf

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Unplaced:
    """A request that does not fit, and the resource that stands in its way.

    `blocked_by` is "pump", "pipe:ID", "controller:ID", "window" (its own window is too short
    for its cycles and soaks) or "mixed" (no single limit, but all of them together).
    """

    request: Request
    blocked_by: str


@dataclass(frozen=True)
class Placement:
    """What a pass of the planner gives."""

    runs: tuple[Run, ...]
    unplaced: tuple[Unplaced, ...]

    @property
    def finish_min(self) -> int:
        """End of the last run, minutes from the night's start."""
        return max((run.start_min + run.run_min for run in self.runs), default=0)


@dataclass(frozen=True)
class _Problem:
    """Requests with their resources as rows of one table of free capacity."""

    requests: tuple[Request, ...]
    rows: tuple[Whole, ...]
    amounts: tuple[Numbers, ...]
    names: tuple[str, ...]
    capacity: Numbers
    minutes: int


def _resources(request: Request) -> list[tuple[str, float]]:
    loads = [("pump", request.flow_l_s)]
    loads += [(f"pipe:{pipe}", flow) for pipe, flow in request.pipes]
    if request.controller is not None:
        loads.append((f"controller:{request.controller}", float(request.heads)))
    return loads


def _capacities(limits: Limits) -> dict[str, float]:
    known = {"pump": limits.pump_l_s}
    known |= {f"pipe:{pipe}": flow for pipe, flow in limits.pipes_l_s.items()}
    return known | {f"controller:{c}": float(n) for c, n in limits.controllers_heads.items()}


def _problem(requests: Sequence[Request], limits: Limits, minutes: int) -> _Problem:
    """Only the resources that the requests together could ever fill become rows."""
    capacity = _capacities(limits)
    asked: dict[str, float] = {}
    for request in requests:
        for name, amount in _resources(request):
            asked[name] = asked.get(name, 0.0) + amount
    scarce = [n for n, total in asked.items() if total > capacity.get(n, _NO_LIMIT) + _ROUNDING]
    row = {name: place for place, name in enumerate(scarce)}
    rows, amounts = [], []
    for request in requests:
        mine = [(row[name], amount) for name, amount in _resources(request) if name in row]
        rows.append(np.array([place for place, _ in mine], dtype=np.int64))
        amounts.append(np.array([amount for _, amount in mine], dtype=float))
    limit = np.array([capacity[name] for name in scarce], dtype=float)
    return _Problem(tuple(requests), tuple(rows), tuple(amounts), tuple(scarce), limit, minutes)


class _Board:
    """Free capacity of every resource at every minute, while a night is being filled."""

    def __init__(self, problem: _Problem) -> None:
        self._problem = problem
        shape = (len(problem.capacity), problem.minutes)
        self._free = np.broadcast_to(problem.capacity[:, None], shape).copy()

    def first_start(self, index: int, earliest: int, latest_end: int, run_min: int) -> int | None:
        """The first minute at which a cycle fits, or None."""
        last = latest_end - run_min
        if last < earliest:
            return None
        rows = self._problem.rows[index]
        if not len(rows):
            return earliest
        wanted = self._problem.amounts[index][:, None] - _ROUNDING
        tight = (self._free[rows, earliest:latest_end] < wanted).any(axis=0)
        # A start is good where no minute of the run is tight: equal counts at both its ends.
        count = np.concatenate([[0], np.cumsum(tight)])
        good = np.flatnonzero(count[run_min:] == count[: len(count) - run_min])
        return earliest + int(good[0]) if len(good) else None

    def take(self, index: int, start: int, run_min: int, sign: float = 1.0) -> None:
        """Use the capacity of a cycle, or give it back with sign −1."""
        rows = self._problem.rows[index]
        if len(rows):
            used = sign * self._problem.amounts[index][:, None]
            self._free[rows, start : start + run_min] -= used

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

    def blocker(self, index: int) -> str:
        """The resource that keeps a request out the most."""
        request = self._problem.requests[index]
        if request.earliest_min + chain_min(request) > request.latest_min:
            return "window"
        rows = self._problem.rows[index]
        if not len(rows):
            return "window"
        free = self._free[rows, request.earliest_min : request.latest_min]
        tight = free < self._problem.amounts[index][:, None] - _ROUNDING
        worst = int(tight.sum(axis=1).argmax())
        return self._problem.names[int(rows[worst])] if tight[worst].any() else "mixed"


def _pass(problem: _Problem, order: Sequence[int]) -> tuple[dict[int, list[int]], list[Unplaced]]:
    """One pass of list scheduling in a given order: starts of each placed request."""
    board = _Board(problem)
    placed: dict[int, list[int]] = {}
    out = []
    for index in order:
        starts = board.place(index)
        if starts is None:
            out.append(index)
        else:
            placed[index] = starts
    return placed, [Unplaced(problem.requests[i], board.blocker(i)) for i in out]


def _urgency(problem: _Problem) -> Numbers:
    """Longest first: the chain a station needs, and for how much of its window that is."""
    chain = np.array([chain_min(request) for request in problem.requests], dtype=float)
    room = np.array([r.latest_min - r.earliest_min for r in problem.requests], dtype=float)
    # A kind with a window of its own goes before those that can use the whole night.
    return chain + problem.minutes * (1.0 - room / max(problem.minutes, 1))


def _placement(problem: _Problem, placed: dict[int, list[int]], out: list[Unplaced]) -> Placement:
    runs = []
    for index in sorted(placed):
        request = problem.requests[index]
        count = len(request.cycles_min)
        for cycle, (start, run_min) in enumerate(
            zip(placed[index], request.cycles_min, strict=True), 1
        ):
            runs.append(Run(request.station, start, run_min, cycle, count))
    ordered = sorted(runs, key=lambda run: (run.start_min, run.station))
    unplaced = sorted(out, key=lambda item: item.request.rank)
    return Placement(tuple(ordered), tuple(unplaced))


def _all_placed(problem: _Problem, limits: Limits) -> Placement | None:
    """The earliest finish found with every request in, or None where some never fit."""
    urgency = _urgency(problem)
    bound = finish_bound(problem.requests, limits).minutes
    shift = np.random.default_rng(SEED)
    best: Placement | None = None
    for attempt in range(RESTARTS):
        spread = _SPREAD * attempt / max(RESTARTS - 1, 1)
        noise = 1.0 + shift.uniform(-spread, spread, len(urgency))
        placed, out = _pass(problem, np.argsort(-urgency * noise, kind="stable").tolist())
        if out:
            if attempt == 0:
                return None
            continue
        found = _placement(problem, placed, out)
        if best is None or found.finish_min < best.finish_min:
            best = found
        if best.finish_min <= bound:
            break
    return best


def _by_rank(problem: _Problem) -> Placement:
    """Serve by rank; then pack the served anew, longest first, and try the rest again."""
    ranks = np.array([request.rank for request in problem.requests])
    rank_order = np.argsort(ranks, kind="stable").tolist()
    placed, out = _pass(problem, rank_order)
    best = placed, out
    urgency = _urgency(problem)
    for _ in range(RESTARTS // 2):
        served = sorted(placed, key=lambda index: -urgency[index])
        rest = [index for index in rank_order if index not in placed]
        again, left = _pass(problem, [*served, *rest])
        lost = [index for index in placed if index not in again]
        if lost or len(again) <= len(placed):
            break
        placed, best = again, (again, left)
    return _placement(problem, *best)


def plan_runs(requests: Sequence[Request], limits: Limits, window_min: int) -> Placement:
    """Put requests into the night.

    When all fit, the earliest finish of a few passes, each placing stations at their first
    fit, longest first. When not all fit, by rank: a station is served whole or not at all, and
    no station is left out for the sake of one of later rank that needs the same water.

    Args:
        requests: what the stations ask; none may exceed a limit by itself.
        limits: what one minute may carry.
        window_min: minutes of the night.

    Returns:
        Runs, and what does not fit with the resource in its way. The same input gives the
        same placement.

    Reference: list scheduling (Graham 1969); docs/decisions/0002-list-scheduling.md.
    """
    problem = _problem(requests, limits, window_min)
    return _all_placed(problem, limits) or _by_rank(problem)
