"""What stations ask, in which rank, with which limits; holds; and what can never run."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.night.holds import Held, free_minutes
from nightwater.night.plan import Request
from nightwater.night.requests import Occasion, Requests, build_requests, night_limits
from nightwater.night.window import night_window
from nightwater.pipes.network import build_network

NIGHT = date(2025, 7, 10)
# 21:00 in Denver is 03:00 UTC of the next day.
TEN_PM, TWO_AM, FIVE_AM = "2025-07-11T04:00:00Z", "2025-07-11T08:00:00Z", "2025-07-11T11:00:00Z"


def built(course: Any) -> Requests:
    network, _ = build_network(course.ground)
    window = night_window(NIGHT, course.settings.site, course.settings.night)
    occasion = Occasion(course.ground, network, course.settings, NIGHT, window)
    return build_requests(occasion, course.sums, course.holds)


def by_station(requests: Requests) -> dict[str, Request]:
    return {request.station: request for request in requests.requests}


FOUR = [("rough", 1, (10,)), ("green", 2, (8, 8)), ("fairway", 1, (22,)), ("green", 1, (9,))]


@pytest.fixture
def four(row_of: Any) -> Any:
    return row_of(*FOUR)


def test_a_request_carries_what_binds_it(four: Any) -> None:
    green = by_station(built(four))["S1"]
    assert green.cycles_min == (8, 8)
    assert green.soak_min == 20
    assert green.heads == 2
    assert green.controller == "B"
    assert green.flow_l_s == pytest.approx(3.4)
    assert dict(green.pipes) == {"L1": pytest.approx(3.4), "M": pytest.approx(3.4)}
    assert (green.earliest_min, green.latest_min) == (0, 480)


def test_heads_on_different_laterals_load_each_with_their_own(four: Any) -> None:
    places = list(four.ground.heads.geometry)
    moved = four.cells("heads", geometry=[*places[:2], places[0], *places[3:]])
    green = by_station(built(moved))["S1"]
    assert dict(green.pipes) == {
        "L0": pytest.approx(1.7),
        "L1": pytest.approx(1.7),
        "M": pytest.approx(3.4),
    }


def test_rank_is_by_kind_then_need_then_hole(row_of: Any) -> None:
    course = row_of(*[("fairway", 1, (9,))] * 4, ("green", 1, (9,)), ("native", 1, (9,)))
    course = course.summed("S3", need_mm=9.0)
    ranks = {r.station: r.rank for r in built(course).requests}
    # S3 needs most; of the others S0 and S2 are on hole 1, S1 on hole 2; native has no priority.
    assert sorted(ranks, key=ranks.__getitem__) == ["S4", "S3", "S0", "S2", "S1", "S5"]
    assert sorted(ranks.values()) == list(range(6))


def test_priority_of_kinds_is_the_course_s(four: Any) -> None:
    ranks = {r.station: r.rank for r in built(four.rules(priority=("rough", "fairway"))).requests}
    assert ranks["S0"] < ranks["S2"] < min(ranks["S1"], ranks["S3"])


def test_stations_without_minutes_ask_nothing(row_of: Any) -> None:
    requests = built(row_of(("green", 1, ()), ("rough", 1, (9,))))
    assert set(by_station(requests)) == {"S1"}
    assert (requests.too_big, requests.held) == ((), ())


def test_kinds_have_their_own_hours(four: Any) -> None:
    course = four.rules(kind_windows={"green": ("03:00", "")})
    found = by_station(built(course))
    assert (found["S1"].earliest_min, found["S1"].latest_min) == (360, 480)
    assert (found["S0"].earliest_min, found["S0"].latest_min) == (0, 480)


# Limits


def test_limits_of_pump_pipes_and_controllers(four: Any) -> None:
    limits = built(four.rules(pump_use=0.85, max_velocity_m_s=1.5)).limits
    assert limits.pump_l_s == pytest.approx(17.0)
    assert limits.pipes_l_s["M"] == pytest.approx(math.pi / 4 * 0.2**2 * 1.5 * 1000)
    assert limits.controllers_heads == {"A": 8, "B": 8}


def test_a_controller_without_a_number_takes_the_course_s(four: Any) -> None:
    course = four.cells("controllers", max_heads_on=[None, 5]).rules(max_heads_on=33)
    assert built(course).limits.controllers_heads == {"A": 33, "B": 5}


def test_a_controller_that_only_stations_name_is_limited_too(four: Any) -> None:
    course = four.cells("stations", controller=["A", "B", "Z", None])
    assert built(course).limits.controllers_heads == {"A": 8, "B": 8, "Z": 40}
    assert by_station(built(course))["S3"].controller is None


@pytest.mark.parametrize("capacity", [math.nan, 0.0])
def test_no_pump_says_what_to_enter(four: Any, capacity: float) -> None:
    with pytest.raises(UserError, match="Survey the pump station"):
        built(four.cells("pumps", capacity_l_s=capacity))


def test_pumps_add_up(four: Any) -> None:
    pumps = four.ground.pumps
    two = pumps.loc[["P", "P"]].set_axis(["P", "Q"]).assign(capacity_l_s=[20.0, 5.0])
    ground = four.ground.with_table("pumps", two)
    network, _ = build_network(ground)
    assert night_limits(ground, network, four.settings).pump_l_s == pytest.approx(25.0)


# What can never run


def test_too_much_for_a_pipe_is_left_out_with_pipe_and_numbers(four: Any) -> None:
    bores = four.ground.pipes["diameter_mm"].copy()
    bores["L1"] = 40.0
    requests = built(four.cells("pipes", diameter_mm=bores))
    (left,) = requests.too_big
    (found,) = requests.findings
    assert "S1" not in by_station(requests)
    assert (left.station, left.owed_min) == ("S1", 16)
    assert left.reason == "can never run: it asks 3.4 L/s of pipe L1, which may carry 1.9 L/s"
    assert (found.code, found.subject) == ("station-too-big", "stations:S1")
    assert "3.4 L/s of pipe L1" in found.message


def test_too_much_for_the_pump(row_of: Any) -> None:
    requests = built(row_of(("rough", 2, (9,)), ("rough", 1, (9,)), pump_l_s=3.0))
    assert [item.reason for item in requests.too_big] == [
        "can never run: it asks 3.4 L/s and the pump may give 3.0 L/s"
    ]


def test_too_many_heads_for_a_controller(four: Any) -> None:
    requests = built(four.cells("controllers", max_heads_on=[8, 1]))
    assert [item.reason for item in requests.too_big] == [
        "can never run: it has 2 heads and controller B holds 1 open"
    ]


def test_a_station_that_just_fits_is_kept(row_of: Any) -> None:
    assert built(row_of(("rough", 2, (9,)), pump_l_s=3.4)).too_big == ()


# Holds


@pytest.mark.parametrize(
    ("subject", "held"),
    [
        ("course", {"S0", "S1", "S2", "S3"}),
        ("stations:S2", {"S2"}),
        ("areas:A1", {"S1"}),
        ("kind:green", {"S1", "S3"}),
        ("holes:H1", {"S0", "S2"}),
        ("controllers:B", {"S1", "S3"}),
        ("heads:H1-1", {"S1"}),
        ("stations:S9", set()),
        ("point:80.0,10.0,1.0", {"S1"}),
        ("point:80.0,10.0,40.0", {"S0", "S1", "S2"}),  # the rim counts
        ("point:80.0,10.0", set()),
    ],
)
def test_a_hold_holds_what_it_names(four: Any, subject: str, held: set[str]) -> None:
    requests = built(four.held(subject, "2025-07-11T02:00:00Z", "2025-07-11T12:00:00Z"))
    assert {item.station for item in requests.held} == held
    assert set(by_station(requests)) == {"S0", "S1", "S2", "S3"} - held
    for item in requests.held:
        assert item.reason == "held (event): wedding, Ines"


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        ("2025-07-11T01:00:00Z", TEN_PM, (60, 480)),  # ends in the night
        (TWO_AM, "2025-07-11T20:00:00Z", (0, 300)),  # begins in the night
        (TEN_PM, TWO_AM, (300, 480)),  # the longer side of the two that are left
        ("2025-07-11T04:00:30Z", "2025-07-11T10:59:30Z", (0, 60)),  # seconds count against us
        ("2025-07-10T20:00:00Z", "2025-07-11T03:00:00Z", (0, 480)),  # over as the night begins
        (FIVE_AM, "2025-07-11T20:00:00Z", (0, 480)),  # begins as the night ends
    ],
)
def test_a_hold_of_part_of_the_night_leaves_the_rest(
    four: Any, start: str, end: str, hours: tuple[int, int]
) -> None:
    found = by_station(built(four.held("stations:S0", start, end)))
    assert (found["S0"].earliest_min, found["S0"].latest_min) == hours
    assert (found["S2"].earliest_min, found["S2"].latest_min) == (0, 480)


def test_what_no_longer_fits_beside_a_hold_waits(four: Any) -> None:
    """The green asks 8 + 20 + 8 = 36 minutes; 35 are left."""
    beside = four.held("areas:A1", "2025-07-11T03:35:00Z", "2025-07-11T12:00:00Z")
    assert [item.station for item in built(beside).held] == ["S1"]
    enough = four.held("areas:A1", "2025-07-11T03:36:00Z", "2025-07-11T12:00:00Z")
    assert by_station(built(enough))["S1"].latest_min == 36


def test_two_holds_leave_the_longest_gap(four: Any) -> None:
    course = four.held("course", "2025-07-11T02:00:00Z", TEN_PM)
    course = course.held("stations:S0", TWO_AM, "2025-07-11T09:00:00Z")
    found = by_station(built(course))
    assert (found["S0"].earliest_min, found["S0"].latest_min) == (60, 300)
    assert (found["S2"].earliest_min, found["S2"].latest_min) == (60, 480)


def test_a_hold_of_another_night_does_not_count(four: Any) -> None:
    course = four.held("course", "2025-07-12T02:00:00Z", "2025-07-12T12:00:00Z")
    assert len(built(course).requests) == 4


minutes = st.integers(0, 480)


@given(minutes, minutes, st.lists(st.tuples(minutes, minutes), max_size=5))
def test_free_minutes_are_free_and_the_longest(
    one: int, other: int, spans: list[tuple[int, int]]
) -> None:
    earliest, latest = sorted((one, other))
    holds = sorted(
        (Held(float(min(s)), float(max(s) + 1), "x") for s in spans), key=lambda h: h.start_min
    )
    free = [
        all(not h.start_min <= minute < h.end_min for h in holds)
        for minute in range(earliest, latest)
    ]
    start, end = free_minutes(earliest, latest, holds)
    assert earliest <= start <= end <= max(latest, start)
    assert all(free[start - earliest : end - earliest])
    longest = max((len(run) for run in "".join("x" if f else " " for f in free).split()), default=0)
    assert end - start == longest


def test_requests_do_not_depend_on_the_order_of_sums(four: Any) -> None:
    backwards = replace(four, sums=tuple(reversed(four.sums)))
    assert built(backwards).requests == built(four).requests
