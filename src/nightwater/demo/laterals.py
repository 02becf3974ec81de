"""Grow the 2-inch laterals from the mains to the heads."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.demo.place import Metres

MOST_M3: Final = 75.0  # what one lateral may carry on an average July night, by design
BRANCH_M: Final = 5.9  # the last metres to a head are a thin branch that nobody drew


@dataclass
class Lateral:
    """A branched 2-inch line: the points of each of its runs, and how many heads it feeds."""

    runs: list[list[tuple[float, float]]] = field(default_factory=list)
    heads: list[int] = field(default_factory=list)
    night_m3: float = 0.0


def _feet(
    spots: Metres, one: Metres, other: Metres
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distance of every spot to one stretch of pipe, and the foot of the perpendicular."""
    along = other - one
    square = float(along @ along)
    share = np.clip((spots - one) @ along / square, 0.0, 1.0) if square else np.zeros(len(spots))
    foot = one + share[:, None] * along
    return np.hypot(*(spots - foot).T), foot


class _Growth:
    """Heads that wait for a pipe, and the nearest stretch that may still feed each."""

    def __init__(self, spots: Metres) -> None:
        self.spots = spots
        self.distance = np.full(len(spots), np.inf)
        self.foot = np.zeros_like(spots)
        self.lateral = np.full(len(spots), -1)  # which lateral owns the stretch; -1 a main
        self.waiting = np.ones(len(spots), dtype=bool)
        self.stretches: list[tuple[Metres, Metres, int]] = []
        self.full: set[int] = set()

    def offer(self, one: Metres, other: Metres, lateral: int) -> None:
        """Let every waiting head consider a new stretch of pipe."""
        self.stretches.append((one, other, lateral))
        self._consider(one, other, lateral, self.waiting)

    def _consider(self, one: Metres, other: Metres, lateral: int, who: NDArray[np.bool_]) -> None:
        distance, foot = _feet(self.spots, one, other)
        better = who & (distance < self.distance - 1e-6)
        self.distance[better], self.foot[better] = distance[better], foot[better]
        self.lateral[better] = lateral

    def close(self, lateral: int) -> None:
        """A lateral is full: heads that counted on it look elsewhere."""
        self.full.add(lateral)
        orphans = self.waiting & (self.lateral == lateral)
        self.distance[orphans] = np.inf
        for one, other, owner in self.stretches:
            if owner not in self.full:
                self._consider(one, other, owner, orphans)

    def nearest(self) -> int:
        """The waiting head with the shortest way to a pipe."""
        return int(np.argmin(np.where(self.waiting, self.distance, np.inf)))


def _extend(lateral: Lateral, foot: Metres, spot: Metres) -> None:
    """Carry on the run that ends at the foot, or branch off."""
    start, end = (float(foot[0]), float(foot[1])), (float(spot[0]), float(spot[1]))
    for run in lateral.runs:
        if np.hypot(run[-1][0] - start[0], run[-1][1] - start[1]) < 0.01:
            run.append(end)
            return
    lateral.runs.append([start, end])


def _short_of(spot: Metres, foot: Metres, distance_m: float, *, is_new: bool) -> Metres | None:
    """Where the drawn pipe to a head ends; None where it needs none."""
    if distance_m > BRANCH_M:
        return spot + (foot - spot) * (BRANCH_M / distance_m)
    return spot if is_new else None


def grow_laterals(mains: list[Metres], spots: Metres, night_m3: Metres) -> list[Lateral]:
    """Join every head to the network, nearest first, by the shortest new pipe.

    Args:
        mains: points of each main, loop and spur, shape (n, 2) each [m].
        spots: places of the heads, shape (heads, 2) [m].

    Returns:
        Laterals, each with one run from the main and runs that branch off; every head
        lies on one of them and none feeds more than `MOST_HEADS`.
    """
    growth = _Growth(spots)
    laterals: list[Lateral] = []
    for points in mains:
        for one, other in pairwise(points):
            growth.offer(one, other, -1)
    while growth.waiting.any():
        head = growth.nearest()
        owner = int(growth.lateral[head])
        if owner < 0:
            owner = len(laterals)
            laterals.append(Lateral())
        lateral = laterals[owner]
        foot = growth.foot[head].copy()
        end = _short_of(spots[head], foot, float(growth.distance[head]), is_new=not lateral.heads)
        growth.waiting[head] = False
        lateral.heads.append(head)
        lateral.night_m3 += night_m3[head]
        if end is not None:
            _extend(lateral, foot, end)
            growth.offer(foot, end, owner)
        if lateral.night_m3 >= MOST_M3:
            growth.close(owner)
    return laterals
