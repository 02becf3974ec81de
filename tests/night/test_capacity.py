"""The most that a night can carry: by hand, by derivative, and never below a real plan."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nightwater.night.bound import finish_bound
from nightwater.night.capacity import (
    capacities,
    ceiling,
    loads,
    longer,
    stronger,
    volume_m3,
)
from nightwater.night.plan import Limits, Request
from nightwater.night.planner import plan_runs


def asks(
    station: str, minutes: int, flow_l_s: float = 2.0, *, cycles: int = 1, **more: Any
) -> Request:
    values: dict[str, Any] = {
        "station": station,
        "kind": "fairway",
        "rank": 0,
        "cycles_min": (minutes // cycles,) * cycles,
        "soak_min": 20,
        "flow_l_s": flow_l_s,
        "heads": 2,
        "controller": "C",
        "pipes": (("main", flow_l_s),),
        "earliest_min": 0,
        "latest_min": 100,
    }
    return Request(**(values | more))


ROOMY = Limits(1000.0, {"main": 1000.0}, {"C": 1000})


def limits(pump: float = 1000.0, main: float = 1000.0, heads: int = 1000) -> Limits:
    return Limits(pump, {"main": main}, {"C": heads})


def test_what_fits_is_delivered_whole_and_has_no_price() -> None:
    requests = [asks("a", 40), asks("b", 30)]
    found = ceiling(requests, ROOMY, 100)
    assert found.most_m3 == pytest.approx(found.asked_m3)
    assert found.asked_m3 == pytest.approx(2.0 * 70 * 60 / 1000)
    assert (dict(found.price), found.minute_m3, found.share) == ({}, 0.0, pytest.approx(1.0))


def test_the_pump_holds_the_night_back_and_has_its_price() -> None:
    requests = [asks(name, 60) for name in "abc"]  # 2 L/s for 180 minutes; the pump gives 2
    found = ceiling(requests, limits(pump=2.0), 100)
    assert found.most_m3 == pytest.approx(2.0 * 100 * 60 / 1000)
    assert found.price["pump"] == pytest.approx(100 * 60 / 1000)
    assert found.minute_m3 == pytest.approx(2.0 * 60 / 1000)
    assert found.share == pytest.approx(100 / 180)


def test_a_main_of_its_own_holds_back_what_hangs_on_it_alone() -> None:
    requests = [asks("a", 60), asks("b", 60), asks("c", 60, pipes=())]
    found = ceiling(requests, limits(main=2.0), 100)
    assert found.most_m3 == pytest.approx(2.0 * (100 + 60) * 60 / 1000)
    assert list(found.price) == ["pipe:main"]


def test_a_path_counts_heads() -> None:
    requests = [asks(name, 60) for name in "abc"]
    found = ceiling(requests, limits(heads=2), 100)
    assert found.most_m3 == pytest.approx(2.0 * 100 * 60 / 1000)
    assert found.price["controller:C"] == pytest.approx(2.0 * 100 * 60 / 1000 / 2)


def test_hours_of_a_kind_bind_by_themselves() -> None:
    late = [asks(f"g{n}", 20, earliest_min=80) for n in range(3)]
    found = ceiling(late, limits(pump=2.0), 100)
    assert found.most_m3 == pytest.approx(2.0 * 20 * 60 / 1000)
    assert found.price["pump"] == pytest.approx(20 * 60 / 1000)


def test_a_station_cannot_run_longer_than_its_hours() -> None:
    found = ceiling([asks("a", 150)], ROOMY, 100)
    assert found.share == pytest.approx(100 / 150)
    assert found.price == {}


def test_nothing_asked_is_nothing_lacking() -> None:
    found = ceiling([], ROOMY, 100)
    assert (found.asked_m3, found.most_m3, found.share) == (0.0, 0.0, 1.0)
    assert loads([], ROOMY) == []


def test_hours_too_narrow_for_any_stretch_deliver_nothing() -> None:
    found = ceiling([asks("a", 10, earliest_min=120, latest_min=130)], ROOMY, 100)
    assert found.most_m3 == 0.0


def test_loads_say_the_least_minutes_of_each_resource() -> None:
    requests = [asks("a", 60), asks("b", 60), asks("c", 30, pipes=())]
    found = {load.resource: load for load in loads(requests, limits(2.0, 3.0, 4))}
    assert found["pump"].least_min == pytest.approx(150)
    assert found["pump"].share == pytest.approx(1.5)
    assert found["pipe:main"].least_min == pytest.approx(80)
    assert found["controller:C"].least_min == pytest.approx(75)


def test_the_most_loaded_comes_first() -> None:
    names = [load.resource for load in loads([asks("a", 60)], limits(1.0, 50.0, 50))]
    assert names[0] == "pump"
    assert names[1] == "chain:a"


def test_a_stations_soaks_are_part_of_its_own_clock() -> None:
    found = loads([asks("a", 60, cycles=3), asks("b", 70)], ROOMY)
    assert found[0].resource == "chain:a"
    assert (found[0].least_min, found[0].hours_min) == (100, 100)


def test_a_resource_with_late_work_alone_has_fewer_minutes() -> None:
    (pump,) = [
        load
        for load in loads([asks("g", 10, earliest_min=60)], limits(2.0))
        if load.resource == "pump"
    ]
    assert (pump.hours_min, pump.share) == (40, pytest.approx(0.25))


def test_a_limit_of_nothing_is_no_share() -> None:
    assert all(math.isfinite(load.share) for load in loads([asks("a", 10)], limits(pump=0.0)))


def test_a_longer_night_moves_only_what_ends_with_it() -> None:
    requests = [asks("a", 60), asks("early", 10, latest_min=50)]
    change = longer(requests, ROOMY, 100, 30)
    assert change.minutes == 130
    assert [one.latest_min for one in change.requests] == [130, 50]


@pytest.mark.parametrize(
    ("resource", "factor", "value"),
    [("pump", 1.1, 11.0), ("pipe:main", 1.5, 15.0), ("controller:C", 1.25, 12)],
)
def test_one_limit_is_raised_and_no_other(resource: str, factor: float, value: float) -> None:
    before = limits(10.0, 10.0, 10)
    after = capacities(stronger([], before, 100, resource, factor).limits)
    assert after.pop(resource) == pytest.approx(value)
    known = capacities(before)
    known.pop(resource)
    assert after == known
    assert capacities(before)[resource] == 10.0


requests_of_a_night = st.lists(
    st.builds(
        lambda n, minutes, flow, cycles, early, heads, pipe: asks(
            f"S{n}", minutes * cycles, flow, cycles=cycles, heads=heads,
            earliest_min=30 if early else 0, pipes=(("main", flow),) if pipe else (),
        ),
        st.integers(0, 10_000),
        st.integers(3, 25),
        st.floats(0.5, 4.0),
        st.integers(1, 2),
        st.booleans(),
        st.integers(1, 4),
        st.booleans(),
    ),
    min_size=1,
    max_size=14,
    unique_by=lambda request: request.station,
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    requests=requests_of_a_night,
    pump=st.floats(4.0, 12.0),
    main=st.floats(4.0, 10.0),
    heads=st.integers(4, 10),
)
def test_no_plan_delivers_more_than_the_ceiling(
    requests: list[Request], pump: float, main: float, heads: int
) -> None:
    held = limits(pump, main, heads)
    found = ceiling(requests, held, 100)
    placed = plan_runs(requests, held, 100)
    lost = sum(volume_m3(item.request) for item in placed.unplaced)
    assert found.asked_m3 - lost <= found.most_m3 + 1e-6
    assert found.most_m3 <= found.asked_m3 + 1e-6
    # What the finish bound says cannot end in time cannot be delivered whole either.
    if finish_bound(requests, held).minutes > 101 and loads(requests, held)[0].share > 1.02:
        assert found.share < 1 or loads(requests, held)[0].resource.startswith("chain")


@settings(max_examples=30, deadline=None)
@given(requests=requests_of_a_night, pump=st.floats(4.0, 9.0))
def test_the_price_is_the_slope_of_the_ceiling(requests: list[Request], pump: float) -> None:
    """A dual lies between the slopes to either side of a small change."""
    held, step = limits(pump), 1e-4
    most = ceiling(requests, held, 100)
    more = ceiling(requests, limits(pump + step), 100).most_m3
    less = ceiling(requests, limits(pump - step), 100).most_m3
    price = most.price.get("pump", 0.0)
    assert (more - most.most_m3) / step <= price + 1e-3
    assert price <= (most.most_m3 - less) / step + 1e-3


@settings(max_examples=30, deadline=None)
@given(requests=requests_of_a_night, factor=st.floats(1.01, 2.0))
def test_no_raised_limit_takes_water_away(requests: list[Request], factor: float) -> None:
    held = limits(6.0, 5.0, 6)
    most = ceiling(requests, held, 100).most_m3
    for resource in capacities(held):
        change = stronger(requests, held, 100, resource, factor)
        assert ceiling(change.requests, change.limits, change.minutes).most_m3 >= most - 1e-6
    change = longer(requests, held, 100, 20)
    assert ceiling(change.requests, change.limits, change.minutes).most_m3 >= most - 1e-6
