"""Grow the 2-inch laterals from the mains to the heads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.demo.place import Metres

MOST_M3: Final = 76.0  # what one lateral may carry on an average July night, by design
BRANCH_M: Final = 4.85  # the last metres to a head are a thin branch that nobody drew
LEAST_STUB_M: Final = 2.0  # a shorter pipe would be all joint
JOINT_M: Final = 0.9  # two branches closer than this leave the pipe at one joint
CLEAR_M: Final = 0.7  # ends closer than 0.5 m to another pipe would read as a joint
_BRANCHES_M: Final = (BRANCH_M, BRANCH_M - 0.8, BRANCH_M - 1.6, BRANCH_M - 2.4, BRANCH_M - 3.2)


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
        self.stretches = np.zeros((64, 2, 2))  # start and end of each, doubled as it fills
        self.owners: list[int] = []
        self.full: set[int] = set()

    def offer(self, one: Metres, other: Metres, lateral: int) -> None:
        """Let every waiting head consider a new stretch of pipe."""
        if len(self.owners) == len(self.stretches):
            self.stretches = np.concatenate([self.stretches, np.zeros_like(self.stretches)])
        self.stretches[len(self.owners)] = one, other
        self.owners.append(lateral)
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
        for (one, other), owner in zip(self.stretches, self.owners, strict=False):
            if owner not in self.full:
                self._consider(one, other, owner, orphans)

    def clearance_m(self, foot: Metres, end: Metres) -> float:
        """How near a new stretch comes to being joined to pipes it does not start from."""
        one, other = self.ends
        apart = np.hypot(*(one - foot).T) > CLEAR_M
        apart &= np.hypot(*(other - foot).T) > CLEAR_M
        tips = np.concatenate([one[apart], other[apart]])
        on_it = _feet(tips, foot, end)[0].min(initial=np.inf)
        beside = _gap_to_stretches(end, one, other)
        own = _gap_to_stretches(foot, one, other) < 0.01
        return float(min(on_it, beside[~own].min(initial=np.inf)))

    def joint(self, foot: Metres) -> Metres:
        """A place on a pipe, moved to a joint that is there already or nearly so."""
        ends = np.concatenate(self.ends)
        away = np.hypot(*(ends - foot).T)
        nearest = int(np.argmin(away))
        return ends[nearest] if away[nearest] < JOINT_M else foot.copy()

    @property
    def ends(self) -> tuple[Metres, Metres]:
        """Starts and ends of every stretch so far."""
        drawn = self.stretches[: len(self.owners)]
        return drawn[:, 0], drawn[:, 1]

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


def _gap_to_stretches(spot: Metres, one: Metres, other: Metres) -> NDArray[np.float64]:
    """Distance of a place to every stretch of pipe."""
    along = other - one
    square = np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(((spot - one) * along).sum(axis=1) / square, 0.0, 1.0)
    return np.asarray(np.hypot(*(spot - one - share[:, None] * along).T))


def _clear(growth: _Growth, way: list[Metres]) -> bool:
    return all(growth.clearance_m(one, other) > CLEAR_M for one, other in pairwise(way))


def _ways(growth: _Growth, head: int) -> Iterator[list[Metres]]:
    """Straight ways to a head with shorter and shorter branches, then ways with a bend."""
    spot, foot = growth.spots[head], growth.joint(growth.foot[head])
    distance = float(np.hypot(*(spot - foot)))
    longest = max(distance - LEAST_STUB_M, 0.0)
    for branch in _BRANCHES_M:
        yield [foot, spot + (foot - spot) * (min(branch, longest) / distance)]
    end = spot + (foot - spot) * (min(BRANCH_M, longest) / distance)
    aside = np.array([end[1] - foot[1], foot[0] - end[0]]) / np.hypot(*(end - foot))
    for bend in (2.0, -2.0, 4.0, -4.0, 6.0, -6.0):
        yield [foot, (foot + end) / 2 + bend * aside, end]


def _stub_end(spot: Metres, foot: Metres) -> Metres:
    """End of the short pipe to a head that stands beside a main."""
    gap = float(np.hypot(*(spot - foot)))
    ahead = (spot - foot) / gap if gap > 0.01 else np.array([0.0, 1.0])
    return np.asarray(foot + max(gap, LEAST_STUB_M) * ahead)


def _way(growth: _Growth, head: int, *, is_new: bool) -> list[Metres]:
    """Points of the pipe to a head, clear of other pipes; none where it needs no pipe."""
    spot, foot = growth.spots[head], growth.joint(growth.foot[head])
    if growth.distance[head] <= BRANCH_M:
        return [foot, _stub_end(spot, foot)] if is_new else []
    ways = list(_ways(growth, head))
    return next((way for way in ways if _clear(growth, way)), ways[0])


def grow_laterals(mains: list[Metres], spots: Metres, night_m3: Metres) -> list[Lateral]:
    """Join every head to the network, nearest first, by the shortest new pipe.

    Args:
        mains: points of each main, loop and spur, shape (n, 2) each [m].
        spots: places of the heads, shape (heads, 2) [m].
        night_m3: water of each head on an average July night, shape (heads,) [m³].

    Returns:
        Laterals, each with one run from the main and runs that branch off; every head
        lies within `BRANCH_M` of one of them, and none carries much more than `MOST_M3`.
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
        way = _way(growth, head, is_new=not lateral.heads)
        growth.waiting[head] = False
        lateral.heads.append(head)
        lateral.night_m3 += night_m3[head]
        for one, other in pairwise(way):
            _extend(lateral, one, other)
            growth.offer(one, other, owner)
        if lateral.night_m3 >= MOST_M3:
            growth.close(owner)
    return laterals
