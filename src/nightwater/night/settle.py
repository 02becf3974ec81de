"""Shake a placed night down: everything as late as it goes, then as early as it goes."""

from __future__ import annotations

from nightwater.night.board import Board, Problem, Starts


def finish_min(problem: Problem, starts: Starts) -> int:
    """End of the last cycle; 0 without any."""
    return max(
        (begun[-1] + problem.requests[i].cycles_min[-1] for i, begun in starts.items()), default=0
    )


def _cycles(problem: Problem, starts: Starts) -> list[tuple[int, int, int, int]]:
    """Start, end, request and number of every cycle."""
    return [
        (start, start + run_min, index, cycle)
        for index, begun in starts.items()
        for cycle, (start, run_min) in enumerate(
            zip(begun, problem.requests[index].cycles_min, strict=True)
        )
    ]


def _late(problem: Problem, starts: Starts) -> Starts | None:
    """Every cycle, the last to end first, as late as it fits before the finish."""
    finish, board = finish_min(problem, starts), Board(problem)
    late = {index: list(begun) for index, begun in starts.items()}
    cycles = _cycles(problem, starts)
    for _, _, index, cycle in sorted(cycles, key=lambda it: (-it[1], -it[0], it[2])):
        request, run_min = problem.requests[index], problem.requests[index].cycles_min[cycle]
        last = cycle == len(request.cycles_min) - 1
        end = min(finish, request.latest_min) if last else late[index][cycle + 1] - request.soak_min
        start = board.last_start(index, request.earliest_min, end, run_min)
        if start is None:
            return None
        board.take(index, start, run_min)
        late[index][cycle] = start
    return late


def _early(problem: Problem, starts: Starts) -> Starts | None:
    """Every cycle, the first to start first, as early as it fits."""
    board = Board(problem)
    early = {index: list(begun) for index, begun in starts.items()}
    cycles = _cycles(problem, starts)
    for _, _, index, cycle in sorted(cycles, key=lambda it: (it[0], it[2])):
        request, run_min = problem.requests[index], problem.requests[index].cycles_min[cycle]
        ready = request.earliest_min
        if cycle:
            before = early[index][cycle - 1] + request.cycles_min[cycle - 1]
            ready = before + request.soak_min
        start = board.first_start(index, ready, request.latest_min, run_min)
        if start is None:
            return None
        board.take(index, start, run_min)
        early[index][cycle] = start
    return early


def settled(problem: Problem, starts: Starts) -> Starts:
    """A placement of the same cycles that ends no later.

    Args:
        problem: requests, resources and minutes.
        starts: a placement that keeps every limit.

    Returns:
        The shaken placement, or the one given where shaking brings nothing.

    Reference: forward–backward improvement, or double justification (Li and Willis 1992;
    Valls, Ballestín and Quintanilla 2005).
    """
    late = _late(problem, starts)
    early = None if late is None else _early(problem, late)
    if early is None or finish_min(problem, early) >= finish_min(problem, starts):
        return starts
    return early
