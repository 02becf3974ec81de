"""Put the cycles of all stations into the night: list scheduling to the minute."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from nightwater.night.board import MIXED, PUMP, Board, Problem, Starts, problem_of
from nightwater.night.bound import chain_min, finish_bound
from nightwater.night.joined import joined
from nightwater.night.plan import Limits, Request, Run
from nightwater.night.search import Effort, searched
from nightwater.night.settle import finish_min

OVERHANG_MIN: Final = 30
MOST_TRIES: Final = 4
USUAL: Final = Effort()


@dataclass(frozen=True)
class Unplaced:
    """A request that does not fit, and what stands in its way.

    Attributes:
        request: what was asked.
        blocked_by: "pump", "pipe:ID" or "controller:ID", where that alone leaves no gap for
            its longest cycle; "window" (its own hours are too short for its cycles and
            soaks); or "mixed" (no single one, but all of them together).
        longest_gap_min: the longest gap that `blocked_by` leaves in its hours.
    """

    request: Request
    blocked_by: str
    longest_gap_min: int = 0


@dataclass(frozen=True)
class Placement:
    """What the planner gives."""

    runs: tuple[Run, ...]
    unplaced: tuple[Unplaced, ...]

    @property
    def finish_min(self) -> int:
        """End of the last run, minutes from the night's start."""
        return max((run.start_min + run.run_min for run in self.runs), default=0)


def _runs(problem: Problem, starts: Starts) -> Iterator[Run]:
    for index, begun in starts.items():
        request = problem.requests[index]
        count = len(request.cycles_min)
        pairs = zip(begun, request.cycles_min, strict=True)
        for cycle, (start, run_min) in enumerate(pairs, 1):
            yield Run(request.station, start, run_min, cycle, count)


def placement_of(problem: Problem, starts: Starts) -> Placement:
    """Starts as runs, and what has none with what stands in its way."""
    runs = sorted(_runs(problem, starts), key=lambda run: (run.start_min, run.station))
    board = Board(problem)
    board.take_all(starts)
    lost = sorted(
        (index for index in range(len(problem.requests)) if index not in starts),
        key=lambda index: problem.requests[index].rank,
    )
    unplaced = [Unplaced(problem.requests[index], *board.blocker(index)) for index in lost]
    return Placement(tuple(runs), tuple(unplaced))


def _in_order(problem: Problem, order: Iterable[int], board: Board) -> Starts:
    """Put requests on a board one after the other, each at its first fits."""
    placed: Starts = {}
    for index in order:
        starts = board.place(index)
        if starts is not None:
            placed[index] = starts
    return placed


def _longest_first(problem: Problem) -> Starts | None:
    """For hours so tight that a sweep spends them on others: least time to spare first."""

    def spare(index: int) -> int:
        request = problem.requests[index]
        return request.latest_min - request.earliest_min - chain_min(request)

    count = len(problem.requests)
    placed = _in_order(problem, sorted(range(count), key=spare), Board(problem))
    return placed if len(placed) == count else None


def _swept(problem: Problem, limits: Limits, effort: Effort) -> Starts | None:
    """Every request by a search, shaken down into the night; None where that fails.

    A sweep itself may run a little past the night's end: shaking takes that back.
    """
    minutes = problem.minutes
    longer = [
        replace(request, latest_min=minutes + OVERHANG_MIN)
        if request.latest_min == minutes
        else request
        for request in problem.requests
    ]
    stretched = problem_of(longer, limits, minutes + OVERHANG_MIN)
    bound = finish_bound(problem.requests, limits).minutes
    if bound > minutes:
        return None
    found = searched(stretched, bound, effort)
    if found is None or finish_min(stretched, found) > minutes:
        return None
    return found


def _all_placed(problem: Problem, limits: Limits, effort: Effort) -> Starts | None:
    """The earliest finish found with every request in, or None where some did not fit."""
    found = _swept(problem, limits, effort)
    return _longest_first(problem) if found is None else found


def _repacked(
    problem: Problem, chosen: Iterable[int], limits: Limits, effort: Effort
) -> Starts | None:
    """Some of the requests by a sweep of their own; None where they do not all fit."""
    some = sorted(chosen)
    part = problem_of([problem.requests[index] for index in some], limits, problem.minutes)
    found = _swept(part, limits, effort)
    return None if found is None else {some[index]: begun for index, begun in found.items()}


def _rank_order(problem: Problem) -> list[int]:
    return sorted(range(len(problem.requests)), key=lambda i: problem.requests[i].rank)


def _filled_up(problem: Problem, placed: Starts) -> Starts:
    """With the rest, by rank, put where there is still a gap."""
    board = Board(problem)
    board.take_all(placed)
    rest = [index for index in _rank_order(problem) if index not in placed]
    return placed | _in_order(problem, rest, board)


def _volume(request: Request) -> float:
    return request.flow_l_s * sum(request.cycles_min)


def _room(problem: Problem, placed: Starts, limits: Limits) -> float:
    used = sum(_volume(problem.requests[index]) for index in placed)
    return limits.pump_l_s * problem.minutes - used


def _next_in_line(problem: Problem, placed: Starts, room: float) -> list[int]:
    """Of those that only the pump keeps out, by rank, as many as the room holds."""
    board = Board(problem)
    board.take_all(placed)
    chosen: list[int] = []
    for index in _rank_order(problem):
        if index in placed or board.blocker(index)[0] not in (PUMP, MIXED):
            continue
        room -= _volume(problem.requests[index])
        if room < 0:
            break
        chosen.append(index)
    return chosen


def _squeezed(problem: Problem, placed: Starts, limits: Limits, effort: Effort) -> Starts:
    """Pack anew with some more by rank, fewer each time that it does not go."""
    share = 1.0
    for _ in range(MOST_TRIES):
        room = _room(problem, placed, limits) * share
        more = _next_in_line(problem, placed, room)
        if not more:
            break
        found = _repacked(problem, [*placed, *more], limits, effort)
        if found is None:
            share /= 2
        else:
            placed = _filled_up(problem, found)
    return placed


def _by_rank(problem: Problem, limits: Limits, effort: Effort) -> Starts:
    """Serve by rank, squeeze in by rank what room the pump still has, then end early."""
    once = replace(effort, tries=min(effort.tries, 3))
    placed = _squeezed(problem, _filled_up(problem, {}), limits, once)
    again = _repacked(problem, placed, limits, once)
    if again is None or finish_min(problem, again) >= finish_min(problem, placed):
        return placed
    return _filled_up(problem, again)


def _has_hours(request: Request) -> bool:
    """Whether its cycles and soaks go into its own hours at all."""
    return chain_min(request) <= request.latest_min - request.earliest_min


def plan_runs(
    requests: Sequence[Request], limits: Limits, window_min: int, effort: Effort = USUAL
) -> Placement:
    """Put requests into the night.

    When all fit, the earliest finish of many sweeps, each shaken down; the first that ends
    within 0.45 % of the bound is taken. When not all fit, by rank: a station is served
    whole or not at all, and one of later rank only gets what those before it cannot use.

    Args:
        requests: what the stations ask; none may exceed a limit by itself.
        limits: what one minute may carry.
        window_min: minutes of the night.
        effort: how long to try, and who may stop it.

    Returns:
        Runs, and what does not fit with what stands in its way. The same input gives the
        same placement.

    Reference: list scheduling (Graham 1969); docs/decisions/0002-list-scheduling.md.
    """
    problem = problem_of(requests, limits, window_min)
    hopeful = [index for index, request in enumerate(requests) if _has_hours(request)]
    part = problem_of([requests[index] for index in hopeful], limits, window_min)
    starts = _all_placed(part, limits, effort)
    if starts is None:
        starts = _by_rank(part, limits, effort)
    if limits.starts_h is not None:
        starts = joined(part, starts, limits.starts_h)
    return placement_of(problem, {hopeful[index]: begun for index, begun in starts.items()})


def starts_of(runs: Iterable[Run], requests: Sequence[Request]) -> Starts:
    """Starts by place in the requests, of the stations that are among them."""
    place = {request.station: index for index, request in enumerate(requests)}
    found: Starts = {}
    for run in sorted(runs, key=lambda run: (run.station, run.cycle)):
        if run.station in place:
            found.setdefault(place[run.station], []).append(run.start_min)
    return found


def filled_up(
    placement: Placement, requests: Sequence[Request], limits: Limits, window_min: int
) -> Placement:
    """A placement with what found no place, by rank, put where wider hours leave a gap.

    Args:
        placement: of the same stations.
        requests: of all stations, some with wider hours than they were placed with.
        limits: what one minute may carry.
        window_min: minutes of the night.
    """
    problem = problem_of(requests, limits, window_min)
    return placement_of(problem, _filled_up(problem, starts_of(placement.runs, requests)))
