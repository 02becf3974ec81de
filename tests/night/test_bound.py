"""The bound is right by hand, never over a true optimum, and names what makes it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.night.bound import chain_min, finish_bound, resource_loads
from nightwater.night.plan import Bound, Limits, Request

WIDE = Limits(100.0, {}, {})


def ask(station: str, *cycles_min: int, **more: Any) -> Request:
    usual: dict[str, Any] = {
        "kind": "fairway",
        "rank": 0,
        "soak_min": 0,
        "flow_l_s": 1.0,
        "heads": 1,
        "controller": None,
        "pipes": (),
        "earliest_min": 0,
        "latest_min": 480,
    }
    return Request(station=station, cycles_min=cycles_min, **{**usual, **more})


def test_nothing_asked() -> None:
    assert finish_bound([], WIDE) == Bound(0, "nothing")


def test_the_longest_chain_of_cycles_and_soaks() -> None:
    requests = [ask("S1", 30), ask("S2", 11, 11, soak_min=30), ask("S3", 40)]
    assert finish_bound(requests, WIDE) == Bound(52, "chain:S2")


def test_a_chain_that_may_begin_late() -> None:
    requests = [ask("S1", 30), ask("S2", 5, earliest_min=40)]
    assert finish_bound(requests, WIDE) == Bound(45, "chain:S2")


def test_volume_over_pump() -> None:
    # 10 stations · 12 min · 1.5 L/s over 4 L/s = 45 min
    requests = [ask(f"S{i}", 12, flow_l_s=1.5) for i in range(10)]
    assert finish_bound(requests, replace(WIDE, pump_l_s=4.0)) == Bound(45, "pump")


def test_parts_of_a_minute_count_whole() -> None:
    requests = [ask(f"S{i}", 10) for i in range(3)]
    assert finish_bound(requests, replace(WIDE, pump_l_s=1.99)).minutes == math.ceil(30 / 1.99)


def test_rounding_does_not_add_a_minute() -> None:
    requests = [ask(f"S{i}", 1, flow_l_s=0.1) for i in range(3)]
    assert finish_bound(requests, replace(WIDE, pump_l_s=0.3)).minutes == 1


def test_volume_of_a_pipe_over_what_it_carries() -> None:
    requests = [ask(f"S{i}", 20, pipes=(("L", 1.0), ("M", 1.0))) for i in range(4)]
    limits = Limits(100.0, {"L": 2.0, "M": 50.0}, {})
    assert finish_bound(requests, limits) == Bound(40, "pipe:L")


def test_head_minutes_of_a_controller_over_its_heads() -> None:
    requests = [ask(f"S{i}", 20, heads=2, controller="A") for i in range(6)]
    assert finish_bound(requests, Limits(100.0, {}, {"A": 4})) == Bound(60, "controller:A")


def test_work_that_starts_late_counts_from_there() -> None:
    """Greens from 300 on: 6 · 20 min at 1 L/s over 2 L/s end at 360 whatever was before."""
    late = [ask(f"G{i}", 20, earliest_min=300) for i in range(6)]
    early = [ask("S", 30)]
    assert finish_bound([*early, *late], replace(WIDE, pump_l_s=2.0)) == Bound(360, "pump")


def test_resources_of_a_request() -> None:
    request = ask("S1", 5, flow_l_s=3.0, heads=2, controller="A", pipes=(("L", 1.5), ("M", 3.0)))
    assert dict(resource_loads(request)) == {
        "pump": 3.0,
        "pipe:L": 1.5,
        "pipe:M": 3.0,
        "controller:A": 2.0,
    }
    assert "controller:None" not in dict(resource_loads(ask("S1", 5)))


@pytest.mark.parametrize("limit", [0.0, -1.0])
def test_a_limit_of_nothing_gives_no_bound_rather_than_a_crash(limit: float) -> None:
    request = ask("S1", 5, pipes=(("L", 1.0),))
    assert finish_bound([request], Limits(100.0, {"L": limit}, {})).minutes == 5


def test_a_pipe_without_limit_binds_nothing() -> None:
    request = ask("S1", 5, pipes=(("Q", 500.0),), controller="Z", heads=99)
    assert finish_bound([request], WIDE) == Bound(5, "chain:S1")


one_station = st.tuples(
    st.lists(st.integers(1, 4), min_size=1, max_size=2),
    st.integers(0, 3),
    st.integers(1, 3),
    st.integers(0, 4),
)


def shortest_night(requests: list[Request], capacity: int) -> int:
    """The true optimum with one resource in whole units, by trying every order of starts.

    A shortest night exists in which each cycle starts at the earliest minute that the order
    leaves it, so that all orders of cycles are enough.
    """
    best = [10_000]

    def go(done: dict[str, int], ready: dict[str, int], use: dict[int, int], end: int) -> None:
        if end >= best[0]:
            return
        waiting = [r for r in requests if done[r.station] < len(r.cycles_min)]
        if not waiting:
            best[0] = end
            return
        for request in waiting:
            name, run_min = request.station, request.cycles_min[done[request.station]]
            amount = int(request.flow_l_s)
            start = ready[name]
            while any(use.get(start + m, 0) + amount > capacity for m in range(run_min)):
                start += 1
            more = dict(use)
            for minute in range(start, start + run_min):
                more[minute] = more.get(minute, 0) + amount
            later = start + run_min + request.soak_min
            go(
                done | {name: done[name] + 1},
                ready | {name: later},
                more,
                max(end, start + run_min),
            )

    go({r.station: 0 for r in requests}, {r.station: r.earliest_min for r in requests}, {}, 0)
    return best[0]


@settings(deadline=None, max_examples=80)
@given(st.lists(one_station, min_size=1, max_size=4), st.integers(3, 5))
def test_no_bound_is_over_the_true_optimum(
    stations: list[tuple[list[int], int, int, int]], capacity: int
) -> None:
    requests = [
        ask(f"S{i}", *cycles, soak_min=soak, flow_l_s=float(flow), earliest_min=earliest)
        for i, (cycles, soak, flow, earliest) in enumerate(stations)
    ]
    bound = finish_bound(requests, replace(WIDE, pump_l_s=float(capacity)))
    assert bound.minutes <= shortest_night(requests, capacity)
    assert bound.minutes >= max(r.earliest_min + chain_min(r) for r in requests)


@given(st.lists(one_station, min_size=1, max_size=6), st.floats(1, 9))
def test_more_requests_never_lower_the_bound(
    stations: list[tuple[list[int], int, int, int]], pump_l_s: float
) -> None:
    requests = [
        ask(f"S{i}", *cycles, soak_min=soak, flow_l_s=float(flow), earliest_min=earliest)
        for i, (cycles, soak, flow, earliest) in enumerate(stations)
    ]
    limits = replace(WIDE, pump_l_s=pump_l_s)
    assert finish_bound(requests[:-1], limits).minutes <= finish_bound(requests, limits).minutes
