"""The cheapest assignment against every other, and how clear a choice is."""

from __future__ import annotations

import time
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.survey.assigning import CLEAR, assigned, cheapest
from nightwater.survey.likeness import NOT_THE_SAME, Pairs


def pairs(*told_known_cost: tuple[int, int, float]) -> Pairs:
    told, known, cost = (np.array(column) for column in zip(*told_known_cost, strict=True))
    return Pairs(told, known, cost.astype(float), cost.astype(float), np.ones(len(cost)))


def chosen(candidates: Pairs) -> set[tuple[int, int]]:
    found = cheapest(candidates)
    return {(int(candidates.told[n]), int(candidates.known[n])) for n in found}


NOTHING = Pairs(*(np.array([], dtype=t) for t in (np.int64, np.int64, float, float, float)))


def test_nothing_to_choose_from() -> None:
    assert cheapest(NOTHING) == []
    assert assigned(NOTHING) == []


def test_the_whole_is_cheapest_not_each() -> None:
    """The nearest first would take (0, 0) and leave row 1 with a far one."""
    assert chosen(pairs((0, 0, 0.1), (0, 1, 0.2), (1, 0, 0.2), (1, 1, 0.9))) == {(0, 1), (1, 0)}


def test_a_pair_that_costs_nothing_is_taken() -> None:
    assert chosen(pairs((3, 7, 0.0))) == {(3, 7)}


def test_two_rows_for_one_thing_leave_one_alone() -> None:
    assert chosen(pairs((0, 5, 0.3), (1, 5, 0.2))) == {(1, 5)}


@pytest.mark.parametrize(
    ("candidates", "rivals"),
    [
        (pairs((0, 0, 0.1), (0, 1, 0.9)), {(0, 0): None}),
        (pairs((0, 0, 0.1), (0, 1, 0.1 + CLEAR / 2)), {(0, 0): (0, 1)}),
        (pairs((0, 0, 0.1), (1, 0, 0.1 + CLEAR / 2)), {(0, 0): (1, 0)}),
        (
            # An exchange of both costs 0.1 more.
            pairs((0, 0, 0.1), (0, 1, 0.2), (1, 0, 0.2), (1, 1, 0.2)),
            {(0, 0): (0, 1), (1, 1): (0, 1)},
        ),
        (
            # … and here 1.1 more, though each alone looks near.
            pairs((0, 0, 0.1), (0, 1, 0.15), (1, 0, 1.2), (1, 1, 0.15)),
            {(0, 0): None, (1, 1): None},
        ),
    ],
)
def test_a_choice_that_another_nearly_equals_names_it(
    candidates: Pairs, rivals: dict[tuple[int, int], tuple[int, int] | None]
) -> None:
    def name(n: int | None) -> tuple[int, int] | None:
        return None if n is None else (int(candidates.told[n]), int(candidates.known[n]))

    assert {name(choice.pair): name(choice.other) for choice in assigned(candidates)} == rivals


costs = st.floats(0, NOT_THE_SAME - 0.01)
grids = st.dictionaries(st.tuples(st.integers(0, 3), st.integers(0, 3)), costs, min_size=1)


@settings(max_examples=150, deadline=None)
@given(grid=grids)
def test_no_other_assignment_is_cheaper(grid: dict[tuple[int, int], float]) -> None:
    found = chosen(pairs(*((a, b, cost) for (a, b), cost in grid.items())))
    assert len({a for a, _ in found}) == len({b for _, b in found}) == len(found)
    rows = sorted({a for a, _ in grid})

    def total(taken: set[tuple[int, int]]) -> float:
        return sum(grid[key] for key in taken) + NOT_THE_SAME * (len(rows) - len(taken))

    # Columns 4 to 7 stand for "alone".
    every = (
        {(a, b) for a, b in zip(rows, order, strict=False) if (a, b) in grid}
        for order in permutations(range(8), len(rows))
    )
    assert total(found) <= min(map(total, every)) + 1e-9


def test_two_thousand_against_two_thousand_in_a_moment() -> None:
    """Also where everybody could be one of twenty, as with a gate far too wide."""
    chance = np.random.default_rng(1)
    told = np.repeat(np.arange(2000), 20)
    known = (told + np.tile(np.arange(20), 2000)) % 2000
    cost = chance.uniform(0, 1, len(told))
    start = time.process_time()
    found = assigned(Pairs(told, known, cost, cost, np.ones(len(cost))))
    assert len(found) == 2000
    assert time.process_time() - start < 1.0
