"""The search: the same seed the same night, stopped at any time, ramps and pairs kept, optimal
where a proof is at hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from nightwater.night.board import problem_of
from nightwater.night.bound import carried_l_s_min, finish_bound
from nightwater.night.plan import Limits, Request, Run
from nightwater.night.planner import plan_runs
from nightwater.night.search import Effort, searched, unsteadiness_l_s
from nightwater.night.settle import finish_min, mirrored, mirrored_starts, settled
from nightwater.night.sweep import Weights, sweep

FEW = settings(deadline=None, max_examples=40)


def ask(name: str, *cycles: int, **more: Any) -> Request:
    values: dict[str, Any] = {
        "kind": "fairway",
        "rank": 0,
        "soak_min": 0,
        "flow_l_s": 1.0,
        "heads": 1,
        "controller": None,
        "pipes": (),
        "earliest_min": 0,
        "latest_min": 120,
    }
    return Request(station=name, cycles_min=cycles, **{**values, **more})


def flow_of(runs: tuple[Run, ...], requests: list[Request], minutes: int) -> np.ndarray[Any, Any]:
    flow = np.zeros(minutes)
    amount = {r.station: r.flow_l_s for r in requests}
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += amount[run.station]
    return flow


def steepest(flow: np.ndarray[Any, Any]) -> float:
    return float(np.abs(np.diff(np.concatenate([[0.0], flow, [0.0]]))).max())


@st.composite
def nights(draw: st.DrawFn) -> tuple[list[Request], Limits]:
    count = draw(st.integers(2, 14))
    requests = []
    for i in range(count):
        cycles = draw(st.lists(st.integers(1, 9), min_size=1, max_size=3))
        requests.append(
            ask(
                f"S{i}",
                *cycles,
                rank=i,
                soak_min=draw(st.integers(0, 6)),
                flow_l_s=draw(st.sampled_from([0.5, 1.0, 1.5])),
                pipes=((f"L{i % 3}", 1.0),),
            )
        )
    ramp = draw(st.sampled_from([1.5, 2.0, 4.0]))
    apart = tuple((f"S{i}", f"S{i + 1}") for i in range(0, count - 1, 3))
    pump = draw(st.sampled_from([1.5, 3.0, 5.0]))
    return requests, Limits(pump, {"L0": 1.0, "L1": 2.0}, {}, ramp, apart)


@FEW
@given(nights())
def test_ramp_and_pairs_hold_on_any_night(case: tuple[list[Request], Limits]) -> None:
    requests, limits = case
    placement = plan_runs(requests, limits, 120)
    flow = flow_of(placement.runs, requests, 120)
    assert steepest(flow) <= limits.ramp_l_s_min + 1e-6
    assert flow.max() <= limits.pump_l_s + 1e-6
    on = {r.station: np.zeros(120, dtype=bool) for r in requests}
    for run in placement.runs:
        assert not on[run.station][run.start_min : run.start_min + run.run_min].any()
        on[run.station][run.start_min : run.start_min + run.run_min] = True
    for one, other in limits.apart:
        assert not (on[one] & on[other]).any()


@FEW
@given(nights())
def test_the_bound_with_a_ramp_is_never_later_than_the_finish(
    case: tuple[list[Request], Limits],
) -> None:
    requests, limits = case
    placement = plan_runs(requests, limits, 120)
    ran = {run.station for run in placement.runs}
    bound = finish_bound([r for r in requests if r.station in ran], limits)
    assert bound.minutes <= placement.finish_min


@FEW
@given(st.integers(1, 40), st.floats(1, 50), st.floats(0.5, 60))
def test_what_a_ramping_pump_carries_is_the_trapezium(
    minutes: int, pump: float, ramp: float
) -> None:
    """Minute by minute: the least of the pump, the rise so far and the fall to come."""
    by_hand = [
        sum(min(pump, ramp * k, ramp * (n + 1 - k)) for k in range(1, n + 1))
        for n in range(1, minutes + 1)
    ]
    assert carried_l_s_min(minutes, pump, ramp) == pytest.approx(by_hand)


def test_ramp_of_one_station_a_minute_staggers_the_starts_and_the_ends() -> None:
    requests = [ask(f"S{i}", 10) for i in range(4)]
    placement = plan_runs(requests, Limits(9.0, {}, {}, 1.0), 120)
    assert sorted(run.start_min for run in placement.runs) == [0, 1, 2, 3]
    assert placement.finish_min == 13


# Same seed, same night


def crowd(count: int = 40) -> tuple[list[Request], Limits]:
    rng = np.random.default_rng(3)
    requests = [
        ask(f"S{i}", int(rng.integers(3, 12)), flow_l_s=float(rng.choice([1.0, 1.3, 1.7])), rank=i)
        for i in range(count)
    ]
    return requests, Limits(5.0, {}, {}, 3.0)


def test_a_seed_gives_the_same_night_again() -> None:
    requests, limits = crowd()
    one, other = (plan_runs(requests, limits, 120, Effort(seed=7)) for _ in range(2))
    assert one == other


def test_more_tries_never_end_later() -> None:
    requests, limits = crowd()
    finishes = [
        plan_runs(requests, limits, 120, Effort(tries=n, patience=99)).finish_min
        for n in (1, 4, 12)
    ]
    assert finishes == sorted(finishes, reverse=True)


def test_a_watch_sees_every_try_and_may_stop() -> None:
    requests, limits = crowd()
    seen: list[tuple[int, int]] = []

    def twice(count: int, finish: int) -> bool:
        seen.append((count, finish))
        return count < 2

    problem = problem_of(requests, limits, 120)
    found = searched(problem, 0, Effort(tries=9, patience=9, watch=twice))
    assert [count for count, _ in seen] == [1, 2]
    assert found is not None
    assert finish_min(problem, found) == seen[-1][1]
    assert seen[1][1] <= seen[0][1]


def test_patience_ends_a_search_that_finds_nothing_better() -> None:
    counts: list[int] = []

    def watch(count: int, _: int) -> bool:
        counts.append(count)
        return True

    problem = problem_of([ask("S1", 10), ask("S2", 10)], Limits(1.0, {}, {}), 120)
    searched(problem, 0, Effort(tries=50, patience=3, watch=watch))
    assert counts[-1] <= 4


def test_of_equal_finishes_the_steadier_flow_is_kept() -> None:
    requests, limits = crowd()
    problem = problem_of(requests, limits, 120)
    plain = sweep(problem, Weights(0.0, 0.0))
    found = searched(problem, 0, Effort(tries=12, patience=12))
    assert plain is not None
    assert found is not None
    mine = (finish_min(problem, found), unsteadiness_l_s(problem, found))
    assert mine <= (finish_min(problem, plain), unsteadiness_l_s(problem, plain))


# The mirror


@FEW
@given(nights())
def test_a_mirror_image_of_a_mirror_image_is_the_same(case: tuple[list[Request], Limits]) -> None:
    requests, limits = case
    problem = problem_of(requests, limits, 120)
    found = sweep(problem, Weights(0.0, 0.0))
    if found is None:
        return
    image = mirrored(problem, 120)
    assert mirrored(image, 120).requests == problem.requests
    there = mirrored_starts(problem, found, 120)
    assert mirrored_starts(image, there, 120) == found


@FEW
@given(nights())
def test_shaking_never_ends_later_and_keeps_soaks(case: tuple[list[Request], Limits]) -> None:
    requests, limits = case
    problem = problem_of(requests, limits, 120)
    found = sweep(problem, Weights(0.0, 0.0))
    if found is None:
        return
    shaken = settled(problem, found)
    assert finish_min(problem, shaken) <= finish_min(problem, found)
    for index, begun in shaken.items():
        request = requests[index]
        for (one, length), two in zip(
            zip(begun, request.cycles_min, strict=True), begun[1:], strict=False
        ):
            assert two >= one + length + request.soak_min
        assert all(a < b for a, b in pairwise(begun))


# Proven optimal


def proven_finish(requests: list[Request], limits: Limits, horizon: int) -> int:
    """The earliest finish, by a time-indexed mixed-integer program solved to optimality.

    One binary for each cycle and start minute; the finish is no earlier than any end.
    Reference: the time-indexed formulation of Pritsker, Watters and Wolfe (1969), from memory.
    """
    keys = [(i, c) for i, r in enumerate(requests) for c in range(len(r.cycles_min))]
    column = {
        (i, c, t): n
        for n, (i, c, t) in enumerate(
            (i, c, t) for i, c in keys for t in range(horizon - requests[i].cycles_min[c] + 1)
        )
    }
    last = len(column)
    rows: list[dict[int, float]] = []
    low: list[float] = []
    high: list[float] = []

    def add(row: dict[int, float], least: float, most: float) -> None:
        rows.append(row)
        low.append(least)
        high.append(most)

    for i, c in keys:
        mine = {n: 1.0 for (a, b, _), n in column.items() if (a, b) == (i, c)}
        add(mine, 1, 1)
        length = requests[i].cycles_min[c]
        end = {n: float(t + length) for (a, b, t), n in column.items() if (a, b) == (i, c)}
        add({**{n: -v for n, v in end.items()}, last: 1.0}, 0, np.inf)
        if c:
            before = requests[i].cycles_min[c - 1] + requests[i].soak_min
            order = {n: float(t) for (a, b, t), n in column.items() if (a, b) == (i, c)}
            order |= {n: -float(t) for (a, b, t), n in column.items() if (a, b) == (i, c - 1)}
            add(order, before, np.inf)
    loads = {"pump": [r.flow_l_s for r in requests]} | {
        pipe: [dict(r.pipes).get(pipe, 0.0) for r in requests] for pipe in limits.pipes_l_s
    }
    caps = {"pump": limits.pump_l_s} | limits.pipes_l_s
    for name, amounts in loads.items():
        for minute in range(horizon):
            row = {
                n: amounts[i]
                for (i, c, t), n in column.items()
                if t <= minute < t + requests[i].cycles_min[c]
            }
            add(row, -np.inf, caps[name] + 1e-9)
    for minute in range(horizon + 1):
        step = {}
        for (i, c, t), n in column.items():
            length = requests[i].cycles_min[c]
            if t == minute:
                step[n] = requests[i].flow_l_s
            elif t + length == minute:
                step[n] = -requests[i].flow_l_s
        if np.isfinite(limits.ramp_l_s_min):
            add(step, -limits.ramp_l_s_min - 1e-9, limits.ramp_l_s_min + 1e-9)
    entries = [(r, n, v) for r, row in enumerate(rows) for n, v in row.items()]
    at, where, value = zip(*entries, strict=True)
    matrix = coo_array((value, (at, where)), shape=(len(rows), last + 1)).tocsr()
    cost = np.zeros(last + 1)
    cost[last] = 1.0
    solved = milp(
        cost,
        constraints=LinearConstraint(matrix, low, high),
        integrality=np.append(np.ones(last), 0),
        bounds=Bounds(np.zeros(last + 1), np.append(np.ones(last), horizon)),
    )
    assert solved.status == 0, solved.message
    return round(solved.fun)


def small(seed: int) -> tuple[list[Request], Limits]:
    rng = np.random.default_rng(seed)
    requests = [
        ask(
            f"S{i}",
            *(int(n) for n in rng.integers(1, 5, size=rng.integers(1, 3))),
            soak_min=int(rng.integers(0, 4)),
            flow_l_s=float(rng.choice([1.0, 1.5, 2.0])),
            pipes=((f"L{i % 2}", 1.0),),
            latest_min=24,
        )
        for i in range(6)
    ]
    ramp = float(rng.choice([2.0, 3.0, np.inf]))
    return requests, Limits(3.5, {"L0": 1.0, "L1": 2.0}, {}, ramp)


def test_most_small_nights_are_proven_best_and_none_is_far_from_it() -> None:
    gaps = []
    for seed in range(14):
        requests, limits = small(seed)
        placement = plan_runs(requests, limits, 24, Effort(tries=60, patience=60))
        assert placement.unplaced == ()
        best = proven_finish(requests, limits, 24)
        assert best >= finish_bound(requests, limits).minutes
        gaps.append(placement.finish_min - best)
    assert min(gaps) == 0
    assert max(gaps) <= 2
    assert sum(gap == 0 for gap in gaps) >= 10, gaps


def test_a_limit_shared_by_a_pair_is_no_limit_for_others() -> None:
    requests = [ask("S1", 10), ask("S2", 10), ask("S3", 10)]
    placement = plan_runs(requests, replace(Limits(9.0, {}, {}), apart=(("S1", "S2"),)), 120)
    starts = {run.station: run.start_min for run in placement.runs}
    assert sorted((starts["S1"], starts["S2"])) == [0, 10]
    assert starts["S3"] == 0
