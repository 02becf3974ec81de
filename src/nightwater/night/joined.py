"""Fewer pump starts in an hour: pauses closed, or what follows them put off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from nightwater.night.board import Problem, Starts

_HOUR_MIN: Final = 60

Block = tuple[int, int]


def blocks(problem: Problem, starts: Starts) -> list[Block]:
    """Stretches of minutes in which something runs: first minute, and the one after the last."""
    busy = np.zeros(problem.minutes + 2, dtype=bool)
    for index, begun in starts.items():
        for start, run_min in zip(begun, problem.requests[index].cycles_min, strict=True):
            busy[start + 1 : start + run_min + 1] = True
    edges = np.flatnonzero(busy[1:] != busy[:-1])
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def too_many(begun: Sequence[int], most: int) -> tuple[int, int] | None:
    """Places of the first and last of the starts that are too many for one hour."""
    for first, minute in enumerate(begun):
        last = max(place for place, other in enumerate(begun) if other < minute + _HOUR_MIN)
        if last - first + 1 > most:
            return first, last
    return None


def _later(problem: Problem, starts: Starts, block: Block, more_min: int) -> Starts | None:
    """All that runs in a block put off; None where hours or soaks forbid it."""
    found: Starts = {}
    for index, begun in starts.items():
        request = problem.requests[index]
        moved = [start + more_min if block[0] <= start < block[1] else start for start in begun]
        ready = request.earliest_min
        for start, run_min in zip(moved, request.cycles_min, strict=True):
            if start < ready:
                return None
            ready = start + run_min + request.soak_min
        if moved[-1] + request.cycles_min[-1] > request.latest_min:
            return None
        found[index] = moved
    return found


def joined(problem: Problem, starts: Starts, most: int) -> Starts:
    """With pauses taken out until no hour has more pump starts than allowed.

    Args:
        problem: requests, resources and minutes.
        starts: a placement that keeps every limit.
        most: starts from standstill in any 60 minutes.

    Returns:
        The placement; with starts too many left where hours or soaks forbid to wait.
    """
    while True:
        all_blocks = blocks(problem, starts)
        hour = too_many([block[0] for block in all_blocks], most)
        if hour is None:
            return starts
        found = _one_less(problem, starts, all_blocks, hour)
        if found is None:
            return starts
        starts = found


def _one_less(
    problem: Problem, starts: Starts, all_blocks: list[Block], hour: tuple[int, int]
) -> Starts | None:
    """A pause of the hour closed, or else its last start and all after it put off past it."""
    first, last = hour
    for place in range(first, last):
        block, following = all_blocks[place], all_blocks[place + 1]
        found = _later(problem, starts, block, following[0] - block[1])
        if found is not None:
            return found
    begin = all_blocks[last][0]
    wait = all_blocks[first][0] + _HOUR_MIN - begin
    return _later(problem, starts, (begin, problem.minutes + 1), wait)
