"""Shake a placed night down: everything as late as it goes, then as early as it goes."""

from __future__ import annotations

from dataclasses import replace

from nightwater.night.board import Problem, Starts
from nightwater.night.sweep import sweep_in_order


def finish_min(problem: Problem, starts: Starts) -> int:
    """End of the last cycle; 0 without any."""
    return max(
        (begun[-1] + problem.requests[i].cycles_min[-1] for i, begun in starts.items()), default=0
    )


def mirrored(problem: Problem, horizon_min: int) -> Problem:
    """The same problem with time running backwards from a horizon."""
    requests = tuple(
        replace(
            request,
            cycles_min=request.cycles_min[::-1],
            earliest_min=max(horizon_min - request.latest_min, 0),
            latest_min=horizon_min - request.earliest_min,
        )
        for request in problem.requests
    )
    return replace(problem, requests=requests, minutes=horizon_min)


def mirrored_starts(problem: Problem, starts: Starts, horizon_min: int) -> Starts:
    """Starts of a problem as starts of its mirror image, and back."""
    return {
        index: [
            horizon_min - start - run_min
            for start, run_min in zip(
                reversed(begun), reversed(problem.requests[index].cycles_min), strict=True
            )
        ]
        for index, begun in starts.items()
    }


def _order(problem: Problem, starts: Starts) -> list[list[int]]:
    return [starts[index] for index in range(len(problem.requests))]


def settled(problem: Problem, starts: Starts, *, gentle: bool = False) -> Starts:
    """A placement of the same cycles that ends no later.

    Args:
        problem: requests, resources and minutes.
        starts: a placement of all requests that keeps every limit.
        gentle: as for `sweep`.

    Returns:
        The shaken placement, or the one given where shaking brings nothing.

    Reference: forward–backward improvement, or double justification (Li and Willis 1992;
    Valls, Ballestín and Quintanilla 2005), here by the parallel scheme both ways.
    """
    finish = finish_min(problem, starts)
    image = mirrored(problem, finish)
    back = mirrored_starts(problem, starts, finish)
    late = sweep_in_order(image, _order(image, back), gentle=gentle)
    if late is None:
        return starts
    forth = mirrored_starts(image, late, finish)
    early = sweep_in_order(problem, _order(problem, forth), gentle=gentle)
    if early is None or finish_min(problem, early) >= finish:
        return starts
    return early
