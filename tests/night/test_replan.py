"""A plan made again moves only what the change asks for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nightwater.night.plan import Limits, Request, Run
from nightwater.night.planner import plan_runs
from nightwater.night.replan import moved, replanned

WINDOW = 120


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
        "latest_min": WINDOW,
    }
    return Request(station=name, cycles_min=cycles, **{**values, **more})


@pytest.fixture(scope="module")
def crowd() -> tuple[list[Request], Limits]:
    rng = np.random.default_rng(5)
    requests = [ask(f"S{i}", int(rng.integers(4, 12)), rank=i) for i in range(60)]
    return requests, Limits(6.0, {}, {}, 3.0)


def test_nothing_changed_moves_nothing(crowd: tuple[list[Request], Limits]) -> None:
    requests, limits = crowd
    before = plan_runs(requests, limits, WINDOW)
    again = replanned(requests, limits, WINDOW, before.runs)
    assert again is not None
    assert again.runs == before.runs


def test_a_longer_run_moves_itself_and_no_other(crowd: tuple[list[Request], Limits]) -> None:
    requests, limits = crowd
    before = plan_runs(requests, limits, WINDOW)
    last = max(before.runs, key=lambda run: run.start_min)
    changed = [
        replace(r, cycles_min=(r.cycles_min[0] - 1,)) if r.station == last.station else r
        for r in requests
    ]
    again = replanned(changed, limits, WINDOW, before.runs)
    assert again is not None
    assert moved(before.runs, again.runs) <= {last.station}


def test_a_station_more_goes_into_a_gap(crowd: tuple[list[Request], Limits]) -> None:
    requests, limits = crowd
    before = plan_runs(requests, limits, WINDOW)
    roomy = replace(limits, pump_l_s=8.0)
    again = replanned([*requests, ask("NEW", 5, rank=99)], roomy, WINDOW, before.runs)
    assert again is not None
    assert moved(before.runs, again.runs) == frozenset()
    assert {run.station for run in again.runs} - {run.station for run in before.runs} == {"NEW"}


def test_a_station_less_leaves_the_others_where_they_are(
    crowd: tuple[list[Request], Limits],
) -> None:
    requests, _ = crowd
    limits = Limits(6.0, {}, {})
    before = plan_runs(requests, limits, WINDOW)
    again = replanned(requests[1:], limits, WINDOW, before.runs)
    assert again is not None
    assert moved(before.runs, again.runs) == frozenset()


def test_a_hold_on_one_moves_that_one() -> None:
    requests = [ask(f"S{i}", 10) for i in range(3)]
    limits = Limits(5.0, {}, {})
    before = plan_runs(requests, limits, WINDOW)
    held = [replace(requests[0], earliest_min=30, latest_min=60), *requests[1:]]
    again = replanned(held, limits, WINDOW, [*before.runs, Run("LONG", 0, 90, 1, 1)])
    assert again is not None
    assert moved(before.runs, again.runs) == {"S0"}
    assert next(r.start_min for r in again.runs if r.station == "S0") == 30


@pytest.mark.parametrize(
    ("why", "limits"),
    [("no gap", Limits(0.5, {}, {})), ("ramp", Limits(9.0, {}, {}, 1.0))],
)
def test_where_little_does_not_do_the_night_is_searched_anew(why: str, limits: Limits) -> None:
    requests = [ask(f"S{i}", 10) for i in range(3)]
    before = plan_runs(requests, Limits(9.0, {}, {}), WINDOW)
    assert {run.start_min for run in before.runs} == {0}, why
    assert replanned(requests, limits, WINDOW, before.runs) is None


def test_a_night_that_would_end_much_later_is_searched_anew() -> None:
    """Two at a time were full; a third of 40 minutes behind them would end at 60."""
    requests = [ask("S1", 20), ask("S2", 20)]
    before = plan_runs(requests, Limits(2.0, {}, {}), WINDOW)
    more = [*requests, ask("S3", 20, 20)]
    assert replanned(more, Limits(2.0, {}, {}), WINDOW, before.runs) is None


def test_without_an_earlier_night_there_is_nothing_to_keep() -> None:
    assert replanned([ask("S1", 10)], Limits(2.0, {}, {}), WINDOW, ()) is None


def test_cycles_keep_their_soak_when_it_has_grown() -> None:
    one = ask("S1", 5, 5, soak_min=10)
    before = plan_runs([one], Limits(2.0, {}, {}), WINDOW)
    again = replanned(
        [replace(one, soak_min=20)],
        Limits(2.0, {}, {}),
        WINDOW,
        [*before.runs, Run("LONG", 0, 90, 1, 1)],
    )
    assert again is not None
    first, second = sorted(run.start_min for run in again.runs)
    assert second - first == 25


def test_moved_counts_stations_of_both_nights_only() -> None:
    one = [Run("A", 0, 5, 1, 1), Run("B", 5, 5, 1, 1), Run("C", 9, 5, 1, 1)]
    other = [Run("A", 0, 5, 1, 1), Run("B", 6, 5, 1, 1), Run("D", 9, 5, 1, 1)]
    assert moved(one, other) == {"B"}
