"""Nights against the solved network: cuts, what they mend, and what they cannot."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nightwater.findings import Severity
from nightwater.night.build import plan_night
from nightwater.night.cuts import NONE, Cuts, cut_limits, cut_requests, more_cuts
from nightwater.night.plan import Limits, Night, Request, Run
from nightwater.night.referee import referee
from nightwater.night.waters import Trouble, open_sets

NIGHT = date(2025, 7, 10)


def wet(
    row_of: Any, count: int, set_kpa: float, main_mm: float = 80.0, main_m_s: float = 3.9
) -> Any:
    """Fairways along a main whose pump holds a pressure."""
    course = row_of(*(("fairway", 1, (10,)) for _ in range(count)), pump_l_s=20.0)
    is_main = course.ground.pipes.index == "M"
    return course.cells("pumps", set_pressure_kpa=set_kpa, elevation_m=0.0).cells(
        "pipes",
        diameter_mm=np.where(is_main, main_mm, 80.0),
        max_velocity_m_s=np.where(is_main, main_m_s, np.nan),
    )


def planned(course: Any, *, hydraulic: bool = True) -> Night:
    return plan_night(
        course.ground, course.sums, course.settings, NIGHT, course.holds, hydraulic=hydraulic
    )


def told(course: Any, night: Night) -> list[tuple[str, str]]:
    found = referee(night, course.ground, course.settings, course.holds)
    return [(f.code, f.subject) for f in found if f.severity is not Severity.NOTE]


@pytest.mark.parametrize("set_kpa", [520.0, 600.0])
def test_what_the_linear_night_starves_the_cut_night_does_not(row_of: Any, set_kpa: float) -> None:
    course = wet(row_of, 12, set_kpa)
    linear = told(course, planned(course, hydraulic=False))
    assert {code for code, _ in linear} == {"head-pressure-low"}
    assert ("head-pressure-low", "heads:H11-0") in linear
    night = planned(course)
    assert told(course, night) == []
    assert night.left_out == ()
    (said,) = [f for f in night.findings if f.code == "night-solved"]
    assert "every minute keeps pressures and velocities" in said.message


def test_pressure_enough_for_all_needs_no_cut(row_of: Any) -> None:
    course = wet(row_of, 6, 900.0)
    night = planned(course)
    assert night.finish_min == planned(course, hydraulic=False).finish_min
    (said,) = [f for f in night.findings if f.code == "night-solved"]
    assert "placed 1 times" in said.message
    assert "0 limits" in said.message


def test_what_is_low_even_alone_is_told_and_not_waited_for(row_of: Any) -> None:
    course = wet(row_of, 3, 400.0)  # the design is 480 kPa
    night = planned(course)
    assert night.finish_min == 10
    (said,) = [f for f in night.findings if f.code == "night-solved"]
    assert "3 stations lack pressure even when they run alone" in said.message
    assert {code for code, _ in told(course, night)} == {"head-pressure-low"}


def test_a_set_floor_counts_over_the_design(row_of: Any) -> None:
    course = wet(row_of, 4, 900.0).rules(least_head_kpa=990.0)
    assert {code for code, _ in told(course, planned(course))} == {"head-pressure-low"}


def test_a_wider_share_lets_lower_pressures_pass(row_of: Any) -> None:
    course = wet(row_of, 12, 520.0).rules(pressure_within=0.9)
    assert told(course, planned(course, hydraulic=False)) == []


def test_a_pipe_too_fast_by_the_solved_network_is_an_error(row_of: Any) -> None:
    slow = wet(row_of, 8, 900.0, main_m_s=1.0)
    fast = wet(row_of, 8, 900.0, main_m_s=3.9)
    night = planned(fast)
    assert ("pipe-too-fast", "pipes:M") in told(slow, night)
    assert told(slow, planned(slow)) == []


def test_without_a_pressure_to_begin_with_only_linear_limits_are_kept(row_of: Any) -> None:
    course = row_of(*(("fairway", 1, (10,)) for _ in range(4)), pump_l_s=20.0)
    night = course.night()
    assert not [f for f in night.findings if f.code == "night-solved"]
    assert told(course, night) == []


# Open sets and cuts, by hand


def test_open_sets_by_hand() -> None:
    runs = [Run("A", 0, 5, 1, 1), Run("B", 2, 5, 1, 1), Run("A", 9, 1, 2, 2)]
    both, a, b = frozenset("AB"), frozenset("A"), frozenset("B")
    assert open_sets(runs, 12) == {a: 3, both: 3, b: 2}


def ask(name: str, flow: float = 1.0, **pipes: float) -> Request:
    return Request(name, "fairway", 0, (10,), 0, flow, 1, None, tuple(pipes.items()), 0, 60)


ABC = {name: ask(name, M=1.0) for name in "ABC"}


def test_a_pipe_too_fast_may_carry_less() -> None:
    trouble = {frozenset("ABC"): Trouble({}, {"M": 1.5}, {})}
    cuts = more_cuts(NONE, trouble, ABC, frozenset(), ())
    assert cuts.pipes_l_s["M"] == pytest.approx(3.0 * 0.995 / 1.5)
    assert cut_limits(Limits(9.0, {"M": 5.0}, {}), cuts, ABC).pipes_l_s["M"] == cuts.pipes_l_s["M"]


def test_water_that_comes_round_a_loop_is_cut_where_it_is_counted() -> None:
    trouble = {frozenset("AB"): Trouble({}, {"far": 1.25}, {})}
    cuts = more_cuts(NONE, trouble, ABC, frozenset(), ("M", "far"))
    assert set(cuts.pipes_l_s) == {"M"}


def test_no_cut_keeps_out_a_station_alone() -> None:
    limits = cut_limits(Limits(9.0, {"M": 5.0}, {}), Cuts({"M": 0.2}, {}), ABC)
    assert limits.pipes_l_s["M"] == 1.0


def test_a_low_station_is_charged_so_that_fewer_run_beside_it() -> None:
    """40 of 100 kPa of loss lack: the pipe may carry 0.6 to the power 1/1.852 of its flow."""
    trouble = {frozenset("ABC"): Trouble({"A": 40.0}, {}, {"M": 100.0})}
    cuts = more_cuts(NONE, trouble, ABC, frozenset(), ())
    most = cuts.beside_l_s["A", "M"]
    assert most == pytest.approx(3.0 * 0.6 ** (1 / 1.852) * 0.995)
    limits = Limits(9.0, {"M": 5.0}, {})
    charged = {r.station: dict(r.pipes)["M"] for r in cut_requests(ABC.values(), cuts, limits)}
    assert charged["B"] == 1.0
    assert charged["A"] + 1.0 <= 5.0  # one beside it
    assert charged["A"] + 2.0 > 5.0  # not two: 3.0 L/s are more than `most`
    assert 5.0 - charged["A"] == pytest.approx(most - 1.0)


def test_a_hopeless_station_asks_for_no_cut() -> None:
    trouble = {frozenset("AB"): Trouble({"A": 40.0}, {}, {"M": 100.0})}
    assert more_cuts(NONE, trouble, ABC, frozenset("A"), ()) == NONE


def test_cuts_only_ever_tighten() -> None:
    first = more_cuts(
        NONE, {frozenset("ABC"): Trouble({"A": 40.0}, {}, {"M": 100.0})}, ABC, frozenset(), ()
    )
    again = more_cuts(
        first, {frozenset("ABC"): Trouble({"A": 10.0}, {}, {"M": 100.0})}, ABC, frozenset(), ()
    )
    assert again.beside_l_s == first.beside_l_s


# Any night on any network


@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_the_referee_finds_nothing_on_any_plan(row_of: Any, data: st.DataObject) -> None:
    """Random stations, cycles, bores, pressures, ramps, neighbours and hours."""
    draw = data.draw
    count = draw(st.integers(3, 10))
    kinds = [draw(st.sampled_from(["green", "tee", "fairway", "rough"])) for _ in range(count)]
    cycles = [tuple(draw(st.lists(st.integers(6, 25), min_size=1, max_size=2))) for _ in kinds]
    heads = [draw(st.integers(1, 2)) for _ in kinds]
    course = row_of(*zip(kinds, heads, cycles, strict=True), pump_l_s=draw(st.floats(4.0, 20.0)))
    bores = [draw(st.sampled_from([60.0, 80.0, 110.0])) for _ in course.ground.pipes.index]
    course = course.cells("pipes", diameter_mm=bores).cells(
        "pumps",
        ramp_l_s_min=draw(st.sampled_from([3.5, 6.0, np.nan])),
        set_pressure_kpa=draw(st.sampled_from([560.0, 700.0, np.nan])),
        elevation_m=0.0,
        max_starts_h=draw(st.sampled_from([1, 6])),
    )
    course = course.rules(
        apart_m=draw(st.sampled_from([0.0, 41.0])),
        greens=draw(st.sampled_from(["any", "late", "first"])),
        rescue_min=draw(st.sampled_from([0, 30])),
        end=draw(st.sampled_from(["23:30", "05:00"])),
    )
    night = planned(course)
    errors = [
        (f.code, f.message)
        for f in referee(night, course.ground, course.settings, course.holds)
        if f.severity is Severity.ERROR
    ]
    assert errors == []
