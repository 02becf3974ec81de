"""The cheapest way to give each row at most one partner, and how clear each choice is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

from nightwater.survey.likeness import NOT_THE_SAME, Pairs

CLEAR: Final = 0.15  # a choice is clear where every other costs this much more (no source)
_OFFSET: Final = 1.0  # a weight of 0 is no edge to the solver; every row pays it once


@dataclass(frozen=True)
class Choice:
    """One pair of the cheapest assignment.

    Attributes:
        pair: its place among the candidates.
        other: place of the candidate that nearly was chosen instead, or None where it is clear.
    """

    pair: int
    other: int | None


def cheapest(pairs: Pairs) -> list[int]:
    """Places of the chosen pairs: each row in at most one, and the whole cheapest.

    A row may stay alone, for which it pays `NOT_THE_SAME`. Solved on the candidates only
    (Jonker and Volgenant's shortest augmenting paths on a sparse graph, scipy).
    """
    if not len(pairs.cost):
        return []
    rows, mine = np.unique(pairs.told, return_inverse=True)
    columns, theirs = np.unique(pairs.known, return_inverse=True)
    alone = np.arange(len(rows))
    weight = np.concatenate([pairs.cost, np.full(len(rows), NOT_THE_SAME)]) + _OFFSET
    row = np.concatenate([mine, alone])
    column = np.concatenate([theirs, len(columns) + alone])
    graph = csr_array((weight, (row, column)), shape=(len(rows), len(columns) + len(rows)))
    taken_rows, taken = min_weight_full_bipartite_matching(graph)
    place = {key: n for n, key in enumerate(zip(mine.tolist(), theirs.tolist(), strict=True))}
    found = zip(taken_rows.tolist(), taken.tolist(), strict=True)
    return [place[key] for key in found if key in place]


class _Rivals:
    """The chosen pairs and what each other candidate would cost more."""

    def __init__(self, pairs: Pairs, chosen: list[int]) -> None:
        self.pairs = pairs
        self.of_told = {int(pairs.told[n]): n for n in chosen}
        self.of_known = {int(pairs.known[n]): n for n in chosen}
        keys = zip(pairs.told.tolist(), pairs.known.tolist(), strict=True)
        self.place = {key: n for n, key in enumerate(keys)}

    def dearer(self, other: int) -> list[tuple[int, float]]:
        """Chosen pairs that a candidate would undo, each with what it would cost more."""
        told, known = int(self.pairs.told[other]), int(self.pairs.known[other])
        mine, theirs = self.of_told.get(told), self.of_known.get(known)
        undone = [n for n in (mine, theirs) if n is not None]
        more = self.pairs.cost[other] - sum(self.pairs.cost[n] for n in undone)
        if mine is not None and theirs is not None:
            back = self.place.get((int(self.pairs.told[theirs]), int(self.pairs.known[mine])))
            more += NOT_THE_SAME if back is None else min(NOT_THE_SAME, self.pairs.cost[back])
        return [(n, float(more)) for n in undone]


def assigned(pairs: Pairs) -> list[Choice]:
    """The cheapest assignment; a choice that another nearly equals names it.

    Another is: a partner that stays alone otherwise, or an exchange with a neighbour.
    """
    chosen = cheapest(pairs)
    rivals = _Rivals(pairs, chosen)
    nearest: dict[int, tuple[float, int]] = {}
    for other in sorted(set(range(len(pairs.cost))) - set(chosen)):
        for pair, more in rivals.dearer(other):
            if more < nearest.get(pair, (CLEAR, 0))[0]:
                nearest[pair] = (more, other)
    return [Choice(n, nearest[n][1] if n in nearest else None) for n in chosen]
