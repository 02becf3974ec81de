"""A whole night: litres add up, limits hold, and what is left out says why."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from nightwater.findings import Severity, UserError
from nightwater.night.bound import finish_bound
from nightwater.night.build import flow_series_l_s, plan_night
from nightwater.night.plan import LeftOut, Limits, Request, Run, Window
from nightwater.night.planner import Unplaced
from nightwater.night.reasons import left_out_finding, left_out_reason
from nightwater.night.referee import referee
from nightwater.night.window import night_window
from nightwater.units import UnitSystem

NIGHT = date(2025, 7, 10)
MANY = [(kind, 1 + i % 2, (8, 8) if i % 3 else (14,)) for i, kind in enumerate(
    ["green", "tee", "fairway", "rough"] * 6
)]  # fmt: skip


@pytest.fixture
def many(row_of: Any) -> Any:
    return row_of(*MANY)


def asked_litres(sums: Any) -> float:
    return sum(s.flow_l_s * 60 * s.run_min for s in sums)


def test_a_night_that_fits(many: Any) -> None:
    night = many.night()
    assert night.left_out == ()
    assert night.findings == ()
    assert night.window.minutes == len(night.flow_l_s) == 480
    assert night.pump_l_s == pytest.approx(20.0)
    assert max(night.flow_l_s) <= 20.0 + 1e-9
    assert night.finish_min == max(run.start_min + run.run_min for run in night.runs)
    assert night.finish_min >= night.bound.minutes
    assert night.sums == many.sums


def test_litres_asked_are_litres_of_the_flow(many: Any) -> None:
    night = many.night()
    assert sum(night.flow_l_s) * 60 == pytest.approx(asked_litres(many.sums))
    assert night.volume_m3 * 1000 == pytest.approx(asked_litres(many.sums))


def test_the_referee_finds_nothing_wrong(many: Any) -> None:
    night = many.night()
    found = referee(night, many.ground, many.settings, many.holds)
    assert [f for f in found if f.severity is Severity.ERROR] == []


def test_an_over_full_night_owes_the_rest_and_says_why(row_of: Any) -> None:
    course = row_of(*MANY, pump_l_s=4.0).rules(start="02:30")
    night = course.night()
    run = sum(r.run_min for r in night.runs)
    owed = sum(item.owed_min for item in night.left_out)
    assert owed > 0
    assert run + owed == sum(s.run_min for s in course.sums)
    assert {item.reason for item in night.left_out} <= {
        "the pump is full between 02:30 and 05:00: a plan may use 4.0 L/s of it",
        "pump, pipes and controller together leave it no gap between 02:30 and 05:00 that is "
        "long enough for its cycles",
    }
    kind = {s.station: s.kind for s in course.sums}
    assert "green" not in {kind[item.station] for item in night.left_out}
    found, _ = night.findings
    assert found.code == "left-out"
    assert f"{owed} minutes are owed" in found.message
    judged = referee(night, course.ground, course.settings, course.holds)
    assert [f for f in judged if f.severity is Severity.ERROR] == []


def test_the_bound_is_of_what_runs(row_of: Any) -> None:
    course = row_of(*MANY, pump_l_s=4.0).rules(start="02:30")
    night = course.night()
    ran = {run.station for run in night.runs}
    litres = sum(s.flow_l_s * s.run_min for s in course.sums if s.station in ran)
    assert night.bound.binding == "pump"
    assert night.bound.minutes == int(np.ceil(litres / 4.0 - 1e-9))
    assert night.gap == pytest.approx(night.finish_min / night.bound.minutes - 1)


def test_greens_run_in_their_own_hours(many: Any) -> None:
    night = many.rules(kind_windows={"green": ("03:00", "04:30")}).night()
    kind = {s.station: s.kind for s in many.sums}
    greens = [run for run in night.runs if kind[run.station] == "green"]
    assert greens
    assert all(r.start_min >= 360 and r.start_min + r.run_min <= 450 for r in greens)


def test_hours_too_short_for_cycles_and_soaks(many: Any) -> None:
    night = many.rules(kind_windows={"green": ("04:40", "")}).night()
    # The green S0 is one cycle of 14 minutes, S4 two of 8 with a soak of 20.
    reasons = {item.station: item.reason for item in night.left_out}
    assert reasons["S4"] == (
        "its hours between 04:40 and 05:00 are too short for its cycles and soaks (36 min)"
    )
    assert "S0" not in reasons


def test_a_held_hole_is_left_out_with_the_hold_s_reason(many: Any) -> None:
    held = many.held("holes:H1", "2025-07-11T00:00:00Z", "2025-07-11T14:00:00Z", cause="chemical")
    night = held.night()
    assert len(night.left_out) == len(many.sums) // 2
    assert {item.reason for item in night.left_out} == {"held (chemical): wedding, Ines"}


def test_without_pipes_the_night_is_planned_and_says_so(many: Any) -> None:
    from dataclasses import replace

    bare = replace(many, ground=many.ground.with_table("pipes", many.ground.pipes.iloc[:0]))
    night = bare.night()
    assert night.left_out == ()
    assert [f.code for f in night.findings] == ["no-pipes"]


def test_no_minutes_asked_is_an_empty_night(row_of: Any) -> None:
    night = row_of(("green", 1, ())).night()
    assert (night.runs, night.left_out, night.finish_min, night.bound.minutes) == ((), (), 0, 0)
    assert night.gap == 0.0
    assert sum(night.flow_l_s) == 0.0


def test_no_pump_is_the_user_s_to_mend(many: Any) -> None:
    with pytest.raises(UserError, match="no pump"):
        many.cells("pumps", capacity_l_s=np.nan).night()


def test_a_night_across_a_change_of_clocks_is_as_long_as_it_is(many: Any) -> None:
    night = plan_night(many.ground, many.sums, many.settings, date(2025, 3, 8), many.holds)
    assert len(night.flow_l_s) == night.window.minutes == 420


# Flow by the minute


def test_flow_series_by_hand() -> None:
    runs = [Run("A", 1, 2, 1, 1), Run("B", 2, 2, 1, 1)]
    assert flow_series_l_s(runs, {"A": 1.5, "B": 2.0}, 5).tolist() == [0, 1.5, 3.5, 2.0, 0]


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(1, 10), st.floats(0.1, 9)), max_size=20))
def test_flow_series_holds_every_litre(given_runs: list[tuple[int, int, float]]) -> None:
    runs = [Run(f"S{i}", start, long, 1, 1) for i, (start, long, _) in enumerate(given_runs)]
    flows = {f"S{i}": flow for i, (_, _, flow) in enumerate(given_runs)}
    series = flow_series_l_s(runs, flows, 60)
    assert series.sum() == pytest.approx(sum(f * long for _, long, f in given_runs), abs=1e-6)
    assert (series >= 0).all()
    assert not series[60 - 1 :].any() or any(s + n == 60 for s, n, _ in given_runs)


# Words


def unplaced(blocked_by: str) -> Unplaced:
    request = Request("S1", "green", 0, (8, 9), 20, 1.7, 1, "A", (), 360, 480)
    return Unplaced(request, blocked_by)


@pytest.mark.parametrize(
    ("blocked_by", "units", "words"),
    [
        ("pump", UnitSystem.US, "the pump is full between 03:00 and 05:00: a plan may use 317 gpm"),
        ("pipe:L1", UnitSystem.METRIC, "pipe L1 is full between 03:00 and 05:00: it may carry 3.6"),
        (
            "controller:A",
            UnitSystem.US,
            "controller A is full between 03:00 and 05:00: it may hold",
        ),
        ("window", UnitSystem.US, "are too short for its cycles and soaks (37 min)"),
        ("mixed", UnitSystem.US, "together leave it no gap between 03:00 and 05:00"),
    ],
)
def test_reasons_name_thing_hours_and_number(
    many: Any, blocked_by: str, units: UnitSystem, words: str
) -> None:
    window: Window = night_window(NIGHT, many.settings.site, many.settings.night)
    limits = Limits(20.0, {"L1": 3.6}, {"A": 8})
    reason = left_out_reason(unplaced(blocked_by), limits, window, "America/Denver", units)
    assert words in reason


def test_one_finding_counts_what_is_left_out_by_kind(many: Any) -> None:
    left = tuple(LeftOut(f"S{i}", 10, "x") for i in (0, 1, 4))
    (found,) = left_out_finding(left, many.sums)
    assert "3 stations do not run tonight (2 green, 1 tee); 30 minutes are owed" in found.message
    assert left_out_finding((), many.sums) == []


# Random courses, planned and judged

kinds = st.sampled_from(["green", "tee", "fairway", "rough"])
stations = st.tuples(
    kinds,
    st.integers(1, 3),
    st.lists(st.integers(1, 12), min_size=1, max_size=3).map(tuple),
)


@hypothesis_settings(deadline=None, max_examples=25)
@given(
    st.lists(stations, min_size=1, max_size=10),
    st.floats(5.2, 30.0),
    st.sampled_from(["21:00", "03:30", "04:30"]),
)
def test_random_courses_balance_and_pass_the_referee(
    row_of: Any, given_stations: list[Any], pump_l_s: float, start: str
) -> None:
    course = row_of(*given_stations, pump_l_s=pump_l_s).rules(start=start)
    night = course.night()
    run = {}
    for one in night.runs:
        run[one.station] = run.get(one.station, 0) + one.run_min
    owed = {item.station: item.owed_min for item in night.left_out}
    for item in course.sums:
        assert run.get(item.station, 0) + owed.get(item.station, 0) == item.run_min
    litres = sum(s.flow_l_s * run.get(s.station, 0) * 60 for s in course.sums)
    assert sum(night.flow_l_s) * 60 == pytest.approx(litres)
    judged = referee(night, course.ground, course.settings, course.holds)
    assert [f for f in judged if f.severity is Severity.ERROR] == []


def test_plan_does_not_change_what_it_is_given(many: Any) -> None:
    before = {name: many.ground.table(name).copy() for name in ("heads", "pipes", "stations")}
    many.night()
    for name, rows in before.items():
        pd.testing.assert_frame_equal(pd.DataFrame(rows), pd.DataFrame(many.ground.table(name)))


def test_bound_of_a_night_is_that_of_its_requests() -> None:
    request = unplaced("pump").request
    assert finish_bound([request], Limits(20.0, {}, {})).minutes == 360 + 8 + 20 + 9
