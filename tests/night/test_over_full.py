"""What a night that cannot serve all is worth, and what more minutes would bring."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.ground.settings import PRIORITY
from nightwater.night.over_full import over_full, over_full_note, relaxed
from nightwater.night.plan import Limits, Request
from nightwater.night.planner import plan_runs
from nightwater.night.requests import litre_worth


def ask(name: str, minutes: int, **more: Any) -> Request:
    values: dict[str, Any] = {
        "kind": "rough",
        "rank": 0,
        "soak_min": 0,
        "flow_l_s": 1.0,
        "heads": 1,
        "controller": None,
        "pipes": (),
        "earliest_min": 0,
        "latest_min": 60,
        "worth": 1.0,
    }
    return Request(station=name, cycles_min=(minutes,), **{**values, **more})


def test_all_that_fits_is_worth_all_of_it() -> None:
    served = relaxed([ask("S1", 10), ask("S2", 20)], Limits(1.0, {}, {}), 60)
    assert served.value == pytest.approx(30 * 60.0)
    assert served.binding == ""
    assert served.share.tolist() == [1.0, 1.0]


def test_the_bound_by_hand_takes_the_worthier_first() -> None:
    """60 L/s·min of pump: 40 of worth 4, then half of 40 of worth 1."""
    requests = [ask("S1", 40, worth=1.0), ask("S2", 40, worth=4.0)]
    served = relaxed(requests, Limits(1.0, {}, {}), 60)
    assert served.share == pytest.approx([0.5, 1.0])
    assert served.value == pytest.approx((40 * 4 + 20 * 1) * 60)
    assert served.binding == "pump"


def test_hours_of_a_kind_bind_by_themselves() -> None:
    """Two of 20 minutes must go into 30 of one pipe, though the pump could do more."""
    requests = [ask(f"S{i}", 20, earliest_min=30, pipes=(("L", 1.0),)) for i in range(2)]
    served = relaxed(requests, Limits(5.0, {"L": 1.0}, {}), 60)
    assert served.value == pytest.approx(30 * 60)
    assert served.binding == "pipe:L"


def test_minutes_that_would_clear_what_is_left_out() -> None:
    requests = [ask(f"S{i}", 20) for i in range(5)]
    found = over_full(requests, frozenset({"S0", "S1", "S2"}), Limits(1.0, {}, {}), 60)
    assert found.clear_min == 40
    assert found.binding == "pump"
    assert found.gap == pytest.approx(0.0)
    assert found.more_l_min["rough"] == pytest.approx(60.0)
    longer = [ask(f"S{i}", 20, latest_min=100) for i in range(5)]
    assert plan_runs(longer, Limits(1.0, {}, {}), 100).unplaced == ()


def test_no_longer_night_helps_against_hours_that_end_before_it() -> None:
    requests = [ask(f"S{i}", 20, latest_min=30) for i in range(3)] + [ask("S9", 5)]
    found = over_full(requests, frozenset({"S0", "S9"}), Limits(1.0, {}, {}), 60)
    assert found.clear_min is None
    words = over_full_note(found, requests[1:3]).message
    assert "a longer night alone would not clear" in words


def test_a_ramp_takes_its_share_of_the_bound() -> None:
    """Rising and falling by 1 L/s a minute, 4 L/s lose 3+2+1 at each end."""
    requests = [ask(f"S{i}", 60, latest_min=60) for i in range(9)]
    served = relaxed(requests, Limits(4.0, {}, {}, 1.0), 60)
    assert served.value == pytest.approx((4 * 60 - 12) * 60)


def test_the_sentence_names_what_binds_and_what_more_minutes_bring() -> None:
    requests = [ask(f"S{i}", 20) for i in range(5)]
    found = over_full(requests, frozenset({"S0", "S1", "S2"}), Limits(1.0, {}, {}), 60)
    told = over_full_note(found, requests[3:])
    assert told.code == "night-over-full"
    assert told.message.startswith("The pump binds: about 40 more minutes of night would clear")
    assert "most of it to rough" in told.message
    assert "100.0 %" in told.message


def test_a_litre_of_the_next_kind_counts_half() -> None:
    worths = [litre_worth(kind, PRIORITY) for kind in PRIORITY]
    assert [a / b for a, b in pairwise(worths)] == [2.0] * (len(worths) - 1)
    assert litre_worth("somewhere", PRIORITY) == worths[-1] / 2


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10_000))
def test_no_plan_is_worth_more_than_the_bound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    requests = [
        ask(
            f"S{i}",
            int(rng.integers(5, 30)),
            rank=i,
            worth=float(2 ** rng.integers(0, 4)),
            flow_l_s=float(rng.choice([0.5, 1.0, 2.0])),
            earliest_min=int(rng.choice([0, 20])),
            latest_min=int(rng.choice([50, 60])),
        )
        for i in range(12)
    ]
    limits = Limits(2.0, {}, {}, float(rng.choice([2.0, np.inf])))
    ran = frozenset(run.station for run in plan_runs(requests, limits, 60).runs)
    found = over_full(requests, ran, limits, 60)
    assert found.value <= found.bound * (1 + 1e-9)
    assert 0 <= found.gap <= 1
