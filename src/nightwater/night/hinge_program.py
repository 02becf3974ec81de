"""Least cost where each row wants at least, or at most, so much: an interior-point solver.

    minimise   price · t + Σ short_i · max(0, target_i − d_i) + over_i · max(0, d_i − target_i)
    subject to d = A t, 0 ≤ t ≤ upper

A linear program with one pair of slack variables per row. Rows may be hundreds of thousands and
columns a thousand: all that is ever factorised is the columns' matrix AᵀΘA, which is as sparse as
columns share rows. Any multipliers of the rows give a bound that no t can beat, so the gap told is
proved and not estimated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from nightwater.findings import UserError

MOST_STEPS: Final = 80
_TO_EDGE: Final = 0.995  # share of the way to the nearest bound that a step may go
_START: Final = 0.25  # share of the upper bounds at which the search starts

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class HingeProgram:
    """What is asked; all arrays finite.

    Attributes:
        rows: A, shape (m, n), 0 or more.
        target: shape (m,).
        short: cost of one unit too little on each row, 0 or more, shape (m,).
        over: cost of one unit too much, 0 or more, shape (m,); one of the two is above 0.
        price: cost of one unit of each column, above 0, shape (n,).
        upper: most of each column, above 0, shape (n,).
    """

    rows: sparse.csr_array
    target: Numbers
    short: Numbers
    over: Numbers
    price: Numbers
    upper: Numbers

    def cost(self, t: Numbers) -> float:
        """Cost of a choice of columns."""
        excess = self.rows @ t - self.target
        hinges = self.short * np.maximum(-excess, 0.0) + self.over * np.maximum(excess, 0.0)
        return float(self.price @ t + hinges.sum())

    def bound(self, multipliers: Numbers) -> float:
        """What no choice can cost less than, for multipliers between −over and short.

        Weak duality: hinge(x) ≥ y·x for any such y, and what is left is linear in t.
        """
        reduced = self.price - self.rows.T @ multipliers
        return float(self.target @ multipliers + self.upper @ np.minimum(reduced, 0.0))


@dataclass(frozen=True)
class HingeSolution:
    """The best columns found, what they cost, and what nothing can cost less than.

    Attributes:
        columns: t, within its bounds.
        multipliers: of the rows, for `HingeProgram.bound`.
        cost, bound: in the unit of the prices.
        steps: Newton steps taken.
    """

    columns: Numbers
    multipliers: Numbers
    cost: float
    bound: float
    steps: int

    @property
    def gap(self) -> float:
        """Share of the cost that a better choice could save at most."""
        return (self.cost - self.bound) / self.cost if self.cost > 0 else 0.0


class _Shared:
    """AᵀΘA for changing Θ: the products of each row's entries, summed by pair of columns."""

    def __init__(self, rows: sparse.csr_array) -> None:
        self.columns = rows.shape[1]
        row, pair, product = _pair_products(rows)
        keys, place = np.unique(pair, return_inverse=True)
        order = np.argsort(place, kind="stable")
        starts = np.concatenate(([0], np.cumsum(np.bincount(place, minlength=len(keys)))))
        self.sums = sparse.csr_array(
            (product[order], row[order], starts), shape=(len(keys), rows.shape[0])
        )
        first, second = keys // self.columns, keys % self.columns
        off = first != second
        own = np.arange(self.columns)
        self.off = off
        self.places = (
            np.concatenate((first, second[off], own)),
            np.concatenate((second, first[off], own)),
        )

    def factor(self, theta: Numbers, diagonal: Numbers) -> SuperLU:
        """Factors of AᵀΘA plus a diagonal; symmetric and positive definite."""
        values = self.sums @ theta
        entries = (np.concatenate((values, values[self.off], diagonal)), self.places)
        matrix = sparse.csc_array(entries, shape=(self.columns, self.columns))
        symmetric: Any = {"SymmetricMode": True}
        return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=symmetric)


def _pair_products(
    rows: sparse.csr_array,
) -> tuple[NDArray[np.int64], NDArray[np.int64], Numbers]:
    """Row, pair of columns (as first · n + second) and product of its two entries."""
    counts = np.diff(rows.indptr)
    row_parts, pair_parts, product_parts = [], [], []
    for count in np.unique(counts[counts > 0]):
        mine = np.flatnonzero(counts == count)
        entries = rows.indptr[mine][:, None] + np.arange(count)
        columns, values = rows.indices[entries].astype(np.int64), rows.data[entries]
        one, other = np.triu_indices(int(count))
        low = np.minimum(columns[:, one], columns[:, other])
        high = np.maximum(columns[:, one], columns[:, other])
        row_parts.append(np.repeat(mine, len(one)))
        pair_parts.append((low * rows.shape[1] + high).ravel())
        product_parts.append((values[:, one] * values[:, other]).ravel())
    if not row_parts:
        none = np.empty(0, np.int64)
        return none, none, np.empty(0)
    return np.concatenate(row_parts), np.concatenate(pair_parts), np.concatenate(product_parts)


@dataclass(frozen=True)
class _Point:
    """Where the search stands; or a step from there. All but y are above 0.

    t: columns; low, high: multipliers of their bounds. s, r: what rows lack and have too much;
    y: multipliers of the rows.
    """

    t: Numbers
    low: Numbers
    high: Numbers
    s: Numbers
    r: Numbers
    y: Numbers


def _start(program: HingeProgram) -> _Point:
    t = _START * program.upper
    lacking = program.target - program.rows @ t
    typical = max(float(np.abs(program.target).mean()), 1e-9)
    s = np.maximum(lacking, 0.0) + 0.2 * typical
    return _Point(
        t=t,
        low=program.price.copy(),
        high=0.1 * program.price,
        s=s,
        r=np.maximum(s - lacking, 0.02 * typical),
        y=0.5 * (program.short - program.over),
    )


@dataclass(frozen=True)
class _Target:
    """Products that complementarity is to reach: of s, r, low and high with their partners."""

    s: Numbers | float
    r: Numbers | float
    low: Numbers | float
    high: Numbers | float


class _Newton:
    """One linearisation, factorised once and solved for several targets."""

    def __init__(self, program: HingeProgram, shared: _Shared, at: _Point) -> None:
        self.program, self.at = program, at
        self.to_short = program.short - at.y  # partner of s
        self.to_over = at.y + program.over  # partner of r
        self.room = program.upper - at.t
        self.theta = 1.0 / (at.s / self.to_short + at.r / self.to_over)
        diagonal = at.low / at.t + at.high / self.room
        self.factors = shared.factor(self.theta, diagonal)
        self.off_rows = program.rows @ at.t + at.s - program.target - at.r
        self.off_columns = program.price - program.rows.T @ at.y - at.low + at.high

    def products(self, step: _Point | None = None, primal: float = 0.0, dual: float = 0.0) -> float:
        """Sum of all complementary products, here or after a step."""
        at = self.at
        if step is None:
            return float(
                at.s @ self.to_short + at.r @ self.to_over + at.t @ at.low + self.room @ at.high
            )
        rows = (at.s + primal * step.s) @ (self.to_short - dual * step.y)
        rows += (at.r + primal * step.r) @ (self.to_over + dual * step.y)
        columns = (at.t + primal * step.t) @ (at.low + dual * step.low)
        columns += (self.room - primal * step.t) @ (at.high + dual * step.high)
        return float(rows + columns)

    def solve(self, goal: _Target) -> _Point:
        """The step towards a target, whose entries are product wanted less product now."""
        at, program = self.at, self.program
        right = -self.off_rows - goal.s / self.to_short + goal.r / self.to_over
        column_right = program.rows.T @ (self.theta * right)
        column_right += goal.low / at.t - goal.high / self.room - self.off_columns
        t = self.factors.solve(column_right)
        y = self.theta * (right - program.rows @ t)
        return _Point(
            t=t,
            low=(goal.low - at.low * t) / at.t,
            high=(goal.high + at.high * t) / self.room,
            s=(goal.s + at.s * y) / self.to_short,
            r=(goal.r - at.r * y) / self.to_over,
            y=y,
        )

    def first_target(self) -> _Target:
        """All products to nothing at once."""
        at = self.at
        return _Target(
            -at.s * self.to_short, -at.r * self.to_over, -at.t * at.low, -self.room * at.high
        )

    def second_target(self, first: _Point, aim: float) -> _Target:
        """All products to `aim`, with what the first step got wrong by being straight."""
        goal = self.first_target()
        return _Target(
            goal.s + aim + first.s * first.y,
            goal.r + aim - first.r * first.y,
            goal.low + aim - first.t * first.low,
            goal.high + aim + first.t * first.high,
        )

    def reach(self, step: _Point) -> tuple[float, float]:
        """How far the primal and the dual part of a step can go, at most 1."""
        at = self.at
        primal = ((at.t, step.t), (self.room, -step.t), (at.s, step.s), (at.r, step.r))
        dual = (
            (self.to_short, -step.y), (self.to_over, step.y), (at.low, step.low),
            (at.high, step.high),
        )  # fmt: skip
        return _longest(primal), _longest(dual)


def _longest(parts: Iterable[tuple[Numbers, Numbers]]) -> float:
    """The longest step, at most 1, that keeps every value above 0."""
    steepest = max((float(np.max(-change / value)) for value, change in parts), default=0.0)
    return 1.0 if steepest <= 1.0 else 1.0 / steepest


def _moved(at: _Point, step: _Point, primal: float, dual: float) -> _Point:
    return _Point(
        t=at.t + primal * step.t,
        low=at.low + dual * step.low,
        high=at.high + dual * step.high,
        s=at.s + primal * step.s,
        r=at.r + primal * step.r,
        y=at.y + dual * step.y,
    )


def _next(program: HingeProgram, shared: _Shared, at: _Point) -> _Point:
    """One predictor-corrector step."""
    newton = _Newton(program, shared, at)
    now = newton.products()
    first = newton.solve(newton.first_target())
    after = newton.products(first, *newton.reach(first))
    pairs = 2 * (len(at.s) + len(at.t))
    second = newton.solve(newton.second_target(first, (after / now) ** 3 * now / pairs))
    primal, dual = newton.reach(second)
    return _moved(at, second, min(1.0, _TO_EDGE * primal), min(1.0, _TO_EDGE * dual))


def _check(program: HingeProgram) -> None:
    known = all(
        np.isfinite(part).all()
        for part in (program.target, program.short, program.over, program.price, program.upper)
    )
    sound = known and min(program.upper.min(), program.price.min()) > 0
    if not sound or not (program.short + program.over > 0).all():
        raise UserError(
            "The minutes cannot be fitted: a need, a worth, a flow or a longest run is missing or "
            "is 0. Look at the record's stations and the settings under minutes."
        )


def solve_hinge_program(
    program: HingeProgram,
    gap: float = 2e-3,
    progress: Callable[[int, float], None] | None = None,
) -> HingeSolution:
    """The columns of least cost, up to a proved gap.

    A primal-dual interior-point method with Mehrotra's predictor and corrector.

    Args:
        program: what is asked.
        gap: share of the cost within which the answer is good enough.
        progress: told steps and gap so far; what it raises ends the search.

    Returns:
        The best found; its `gap` says how good it is, also where the steps ran out.

    Raises:
        UserError: an input that is missing or without meaning.

    Reference: Mehrotra 1992, On the implementation of a primal-dual interior point method, SIAM
    J. Optimization 2 (from memory); Nocedal and Wright, Numerical Optimization, chapter 14.
    """
    _check(program)
    shared = _Shared(program.rows)
    at = _start(program)
    best = HingeSolution(at.t, at.y, program.cost(at.t), program.bound(at.y), 0)
    for step in range(1, MOST_STEPS + 1):
        if best.gap <= gap:
            break
        at = _next(program, shared, at)
        cost, bound = program.cost(at.t), program.bound(at.y)
        best = HingeSolution(
            at.t if cost < best.cost else best.columns,
            at.y if bound > best.bound else best.multipliers,
            min(cost, best.cost),
            max(bound, best.bound),
            step,
        )
        if progress is not None:
            progress(step, best.gap)
    return best
