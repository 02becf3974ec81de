"""Plan again after a small change, and move as little as possible."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from nightwater.night.board import ROUNDING, Board, Problem, Starts, problem_of
from nightwater.night.bound import finish_bound
from nightwater.night.plan import Limits, Request, Run
from nightwater.night.planner import Placement, placement_of, starts_of
from nightwater.night.search import GOOD_ENOUGH
from nightwater.night.settle import finish_min


def _in_its_hours(request: Request, begun: Sequence[int], runs: Sequence[Run]) -> bool:
    """Whether earlier starts still suit what a station asks now."""
    if tuple(run.run_min for run in runs) != request.cycles_min:
        return False
    ready = request.earliest_min
    for start, run_min in zip(begun, request.cycles_min, strict=True):
        if start < ready:
            return False
        ready = start + run_min + request.soak_min
    return begun[-1] + request.cycles_min[-1] <= request.latest_min


def _kept(problem: Problem, board: Board, earlier: Iterable[Run]) -> Starts:
    """Those that may run exactly as before, put on the board."""
    runs = sorted(earlier, key=lambda run: (run.station, run.cycle))
    of: dict[str, list[Run]] = {}
    for run in runs:
        of.setdefault(run.station, []).append(run)
    starts = starts_of(runs, problem.requests)
    kept: Starts = {}
    for index, begun in sorted(starts.items(), key=lambda item: (item[1], item[0])):
        request = problem.requests[index]
        if _in_its_hours(request, begun, of[request.station]) and board.takes(index, begun):
            kept[index] = begun
    return kept


def keeps_ramp(problem: Problem, starts: Starts) -> bool:
    """Whether flow never changes faster than the pumps follow."""
    step = np.zeros(problem.minutes + 1)
    for index, begun in starts.items():
        request = problem.requests[index]
        for start, run_min in zip(begun, request.cycles_min, strict=True):
            step[start] += request.flow_l_s
            step[start + run_min] -= request.flow_l_s
    return bool(np.abs(step).max(initial=0.0) <= problem.ramp_l_s_min + 1e3 * ROUNDING)


def _worth(requests: Iterable[Request]) -> float:
    return sum(r.worth * r.flow_l_s * sum(r.cycles_min) for r in requests)


def _loses_little(
    requests: Sequence[Request], lost: Sequence[int], earlier: Sequence[Run], share: float
) -> bool:
    """Whether what ran earlier and finds no gap now is worth little."""
    ran = {run.station for run in earlier}
    gone = _worth(requests[index] for index in lost if requests[index].station in ran)
    return share > 0 and gone <= share * _worth(r for r in requests if r.station in ran)


def replanned(
    requests: Sequence[Request],
    limits: Limits,
    window_min: int,
    earlier: Sequence[Run],
    may_lose: float = 0.0,
) -> Placement | None:
    """The earlier night with as few stations moved as the change asks for.

    Every station that asks the same and still fits runs when it ran; the others go, by rank,
    where there is a gap.

    Args:
        requests: what the stations ask now.
        limits: what one minute may carry now.
        window_min: minutes of the night.
        earlier: runs of the earlier night.
        may_lose: share of the earlier night's worth that may find no gap. Over 0, what did not
            run earlier need not run now, and the night may use all its minutes.

    Returns:
        The placement; None where too much finds no gap, the ramp would be broken, or the
        night would end later than before and later than a search is content with.
    """
    if not earlier:
        return None
    problem = problem_of(requests, limits, window_min)
    board = Board(problem)
    starts = _kept(problem, board, earlier)
    rest = sorted(set(range(len(requests))) - set(starts), key=lambda i: requests[i].rank)
    lost = []
    for index in rest:
        begun = board.place(index)
        if begun is None:
            lost.append(index)
        else:
            starts[index] = begun
    if lost and not _loses_little(requests, lost, earlier, may_lose):
        return None
    before = max(run.start_min + run.run_min for run in earlier)
    content = finish_bound(requests, limits).minutes * GOOD_ENOUGH
    latest = window_min if lost else max(before, content)
    if finish_min(problem, starts) > latest or not keeps_ramp(problem, starts):
        return None
    return placement_of(problem, starts)


def moved(earlier: Sequence[Run], later: Sequence[Run]) -> frozenset[str]:
    """Stations that run in both nights, and not at the same minutes."""
    one, other = ({run.station: set[Run]() for run in runs} for runs in (earlier, later))
    for runs, by_station in ((earlier, one), (later, other)):
        for run in runs:
            by_station[run.station].add(run)
    return frozenset(name for name in one.keys() & other.keys() if one[name] != other[name])
