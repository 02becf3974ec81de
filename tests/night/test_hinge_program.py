"""The interior-point solver against HiGHS, hand-made cases, and its own bound."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, sparse

from nightwater.findings import UserError
from nightwater.night.hinge_program import HingeProgram, solve_hinge_program


def program(seed: int, rows: int = 60, columns: int = 8, density: float = 0.3) -> HingeProgram:
    random = np.random.default_rng(seed)
    return HingeProgram(
        rows=sparse.csr_array(
            sparse.random_array((rows, columns), density=density, rng=random, format="csr")
        ),
        target=random.uniform(0.0, 5.0, rows),
        short=random.uniform(0.1, 2.0, rows),
        over=random.uniform(0.0, 0.4, rows),
        price=random.uniform(0.3, 3.0, columns),
        upper=random.uniform(1.0, 30.0, columns),
    )


def by_highs(asked: HingeProgram) -> float:
    """Least cost by HiGHS: t, what lacks and what is too much as variables of their own."""
    rows, _columns = asked.rows.shape
    eye = sparse.eye_array(rows)
    answer = optimize.linprog(
        np.concatenate([asked.price, asked.short, asked.over]),
        A_eq=sparse.hstack([asked.rows, eye, -eye]),
        b_eq=asked.target,
        bounds=[(0.0, most) for most in asked.upper] + [(0.0, None)] * (2 * rows),
        method="highs",
    )
    assert answer.status == 0
    return float(answer.fun)


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 10_000), rows=st.integers(1, 80), columns=st.integers(1, 12))
def test_the_cost_is_that_of_an_independent_solver(seed: int, rows: int, columns: int) -> None:
    asked = program(seed, rows, columns)
    solved = solve_hinge_program(asked, gap=1e-6)
    best = by_highs(asked)
    assert solved.cost == pytest.approx(best, rel=2e-6, abs=1e-9)
    assert solved.bound <= best * (1 + 1e-9) + 1e-9
    assert solved.gap <= 1e-6


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 10_000), share=st.floats(0, 1))
def test_any_multipliers_give_a_bound_below_any_choice(seed: int, share: float) -> None:
    asked = program(seed)
    random = np.random.default_rng(seed + 1)
    multipliers = -asked.over + random.uniform(0, 1, len(asked.short)) * (asked.short + asked.over)
    choice = share * asked.upper
    assert asked.bound(multipliers) <= asked.cost(choice) + 1e-9


def test_the_answer_keeps_its_bounds() -> None:
    for seed in range(10):
        asked = program(seed)
        found = solve_hinge_program(asked).columns
        assert (found >= 0).all()
        assert (found <= asked.upper).all()


def one_cell(**changes: float) -> HingeProgram:
    """One station that lays 0.5 mm a minute on a cell that lacks 6 mm."""
    values = {"target": 6.0, "short": 1.0, "over": 0.0, "price": 0.1, "upper": 100.0} | changes
    arrays = {name: np.array([value]) for name, value in values.items()}
    return HingeProgram(rows=sparse.csr_array(np.array([[0.5]])), **arrays)


def test_one_cell_gets_just_its_need_where_water_is_worth_it() -> None:
    found = solve_hinge_program(one_cell(), gap=1e-8)
    assert found.columns[0] == pytest.approx(12.0, abs=1e-4)  # 6 mm at 0.5 mm a minute
    assert found.cost == pytest.approx(1.2, rel=1e-6)


def test_one_cell_gets_nothing_where_water_costs_more_than_it_is_worth() -> None:
    # A minute costs 0.6 and mends 0.5 mm at 1 a mm.
    found = solve_hinge_program(one_cell(price=0.6), gap=1e-8)
    assert found.columns[0] == pytest.approx(0.0, abs=1e-4)
    assert found.cost == pytest.approx(6.0, rel=1e-6)


def test_the_longest_run_binds() -> None:
    found = solve_hinge_program(one_cell(upper=4.0), gap=1e-8)
    assert found.columns[0] == pytest.approx(4.0, abs=1e-4)
    assert found.cost == pytest.approx(0.4 + 4.0, rel=1e-6)  # water, and 4 mm lacking


def test_worth_decides_which_share_of_cells_stays_dry() -> None:
    """Twenty cells, rates 1 to 20: at worth w the dry ones get a w-th of the water."""
    rates = np.arange(1.0, 21.0)
    price = float(rates.sum())  # a litre costs one
    for worth in (2.0, 5.0, 10.0):
        asked = HingeProgram(
            rows=sparse.csr_array(rates[:, None]),
            target=np.full(20, 60.0),
            short=np.full(20, worth),
            over=np.zeros(20),
            price=np.array([price]),
            upper=np.array([1000.0]),
        )
        minutes = solve_hinge_program(asked, gap=1e-9).columns[0]
        dry_rate = rates[rates * minutes < 60.0 - 1e-3].sum()
        more_dry = rates[rates * minutes < 60.0 + 1e-3].sum()
        assert dry_rate <= price / worth <= more_dry


def test_a_program_of_no_rows_that_matter_is_solved_at_nothing() -> None:
    asked = replace(program(3), target=np.zeros(60))
    assert solve_hinge_program(asked, gap=1e-6).cost == pytest.approx(0.0, abs=1e-4)


def test_progress_is_told_and_can_end_the_search() -> None:
    told: list[tuple[int, float]] = []

    def stop(step: int, gap: float) -> None:
        told.append((step, gap))
        if step == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        solve_hinge_program(program(5), gap=1e-9, progress=stop)
    assert [step for step, _ in told] == [1, 2, 3]


def test_the_gap_never_grows() -> None:
    gaps: list[float] = []
    solve_hinge_program(program(8), gap=1e-7, progress=lambda _step, gap: gaps.append(gap))
    assert all(later <= earlier + 1e-12 for earlier, later in itertools.pairwise(gaps))


@pytest.mark.parametrize(
    ("name", "value"),
    [("target", np.nan), ("short", np.inf), ("price", 0.0), ("upper", 0.0)],
)
def test_input_without_meaning_is_refused(name: str, value: float) -> None:
    asked = program(1)
    broken = getattr(asked, name).copy()
    broken[0] = value
    with pytest.raises(UserError, match="cannot be fitted"):
        solve_hinge_program(replace(asked, **{name: broken}))


def test_a_row_that_costs_nothing_either_way_is_refused() -> None:
    asked = program(1)
    nothing = np.zeros_like(asked.short)
    with pytest.raises(UserError, match="cannot be fitted"):
        solve_hinge_program(replace(asked, short=nothing, over=nothing))


def test_input_is_left_as_it_was() -> None:
    asked = program(2)
    before = [asked.target.copy(), asked.short.copy(), asked.price.copy(), asked.rows.toarray()]
    solve_hinge_program(asked)
    after = [asked.target, asked.short, asked.price, asked.rows.toarray()]
    for one, other in zip(before, after, strict=True):
        np.testing.assert_array_equal(one, other)
