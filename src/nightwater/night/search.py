"""Many sweeps by chance, the best kept: a search that may be stopped at any time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightwater.night.board import Numbers, Problem, Starts
from nightwater.night.settle import finish_min, settled
from nightwater.night.sweep import Weights, sweep

GOOD_ENOUGH: Final = 1.0045  # of the bound
FIRST: Final = (
    Weights(queue=0.0, flow_min=10.0, run=2.0),
    Weights(queue=0.5, flow_min=10.0),
    Weights(queue=0.0, flow_min=0.0, run=1.0, fills=True),
)
_MOST_NUDGE_MIN: Final = 4.0

Watch = Callable[[int, int], bool]  # tries, best finish [min] → whether to go on


def go_on(tries: int, finish: int) -> bool:
    """The watch that never stops a search."""
    return True


@dataclass(frozen=True)
class Effort:
    """How long a search may try, and who watches it.

    Attributes:
        tries: sweeps at most; a count and no time, so that the same input gives the same night.
        patience: tries in a row without an earlier finish after which it ends.
        seed: of the random weights.
        watch: told after each try how many there were and the best finish [min]; False stops.
    """

    tries: int = 14
    patience: int = 6
    seed: int = 0
    watch: Watch = go_on


def _random_weights(rng: np.random.Generator) -> Weights:
    return Weights(
        queue=float(rng.choice([0.0, 0.0, 0.5])),
        flow_min=float(rng.uniform(0.0, 20.0)),
        run=float(rng.uniform(0.0, 4.0)),
        fills=bool(rng.random() < 0.2),
    )


def _tries(problem: Problem, effort: Effort) -> Iterator[tuple[Weights, Numbers | None]]:
    """The fixed weights, then weights and nudges by chance."""
    rng = np.random.default_rng(effort.seed)
    for weights in FIRST[: effort.tries]:
        yield weights, None
    for _ in range(effort.tries - len(FIRST)):
        yield _random_weights(rng), rng.uniform(0.0, _MOST_NUDGE_MIN, len(problem.requests))


def unsteadiness_l_s(problem: Problem, starts: Starts) -> float:
    """Sum of all changes of flow from minute to minute [L/s]."""
    step = np.zeros(problem.minutes + 1)
    for index, begun in starts.items():
        request = problem.requests[index]
        for start, run_min in zip(begun, request.cycles_min, strict=True):
            step[start] += request.flow_l_s
            step[start + run_min] -= request.flow_l_s
    return float(np.abs(step).sum())


def _one(problem: Problem, weights: Weights, nudge_min: Numbers | None) -> Starts | None:
    """A sweep shaken down; kept gently to the ramp only where it would break it otherwise."""
    found = sweep(problem, weights, nudge_min)
    if found is not None:
        return settled(problem, found)
    if not np.isfinite(problem.ramp_l_s_min):
        return None
    found = sweep(problem, weights, nudge_min, gentle=True)
    return None if found is None else settled(problem, found, gentle=True)


def searched(problem: Problem, bound_min: int, effort: Effort) -> Starts | None:
    """The earliest finish found with every request in; of equal ones the steadiest flow.

    Args:
        problem: requests, resources and minutes.
        bound_min: no placement ends sooner; the search ends at 0.45 % over it.
        effort: how long to try.

    Returns:
        Starts, or None where no try got every request in.
    """
    best: Starts | None = None
    rank, since = (np.inf, np.inf), 0
    for count, (weights, nudge_min) in enumerate(_tries(problem, effort), 1):
        found = _one(problem, weights, nudge_min)
        since += 1
        if found is not None:
            mine = (finish_min(problem, found), unsteadiness_l_s(problem, found))
            if mine[0] < rank[0]:
                since = 0
            if mine < rank:
                best, rank = found, mine
        enough = rank[0] <= bound_min * GOOD_ENOUGH or since >= effort.patience
        if enough or not effort.watch(count, -1 if best is None else int(rank[0])):
            break
    return best
