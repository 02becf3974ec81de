"""Every litre of a change has a reason, and the reasons add up."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.night import changes as tested
from nightwater.night.plan import Bound, LeftOut, Night, Run, StationSum, Window

START = datetime(2026, 7, 14, 4, tzinfo=UTC)


def station(name: str, need_mm: float = 6.0, **more: Any) -> StationSum:
    """Rate 12 mm/h, so 6 mm take 30 minutes before multiplier and trim."""
    values: dict[str, Any] = {
        "station": name, "area": f"A{name}", "kind": "green", "need_mm": need_mm,
        "rate_mm_h": 12.0, "flow_l_s": 2.0, "heads": 2, "du_lq": 0.8, "multiplier": 1.0,
        "multiplier_name": "none", "trim_factor": 1.0, "extra_min": 0.0, "trim_reason": "",
        "exact_min": math.nan, "floor_min": 1, "run_min": 0, "max_cycle_min": 60,
        "soak_min": 0, "cycles_min": (), "wetted_m2": 100.0,
    } | more  # fmt: skip
    exact = 60 * values["need_mm"] / values["rate_mm_h"] * values["multiplier"]
    run_min = more.get("run_min", round(exact * values["trim_factor"]) + int(values["extra_min"]))
    return StationSum(**values | {"exact_min": exact, "run_min": run_min, "cycles_min": (run_min,)})


def night(*sums: StationSum, left: dict[str, str] | None = None, day: int = 14) -> Night:
    left = left or {}
    runs = [Run(s.station, 0, s.run_min, 1, 1) for s in sums if s.station not in left]
    return Night(
        night=date(2026, 7, day),
        window=Window(START, START + timedelta(hours=8)),
        runs=tuple(run for run in runs if run.run_min),
        left_out=tuple(
            LeftOut(s.station, s.run_min, left[s.station]) for s in sums if s.station in left
        ),
        flow_l_s=(),
        bound=Bound(0, ""),
        finish_min=0,
        sums=sums,
        findings=(),
        pump_l_s=20.0,
    )


def only(after: Night, before: Night) -> tested.StationChange:
    (change,) = tested.night_changes(after, tested.against_night(before, "before"))
    return change


def minutes(change: tested.StationChange) -> dict[str, float]:
    return {part.reason: round(part.minutes, 6) for part in change.parts}


def test_a_night_against_itself_changes_nothing() -> None:
    same = night(station("a"), station("b", 3.0), left={"b": "the pump is full"})
    changes = tested.night_changes(same, tested.against_night(same, ""))
    assert tested.changed(changes) == []
    assert tested.count_beyond(changes, 0.0) == 0
    assert tested.totals_by_reason(changes) == []


def test_need_explains_what_need_changed() -> None:
    change = only(night(station("a", 8.0)), night(station("a", 6.0)))
    # 2 mm at 12 mm/h are ten minutes, and at 2 L/s these are 1,200 L.
    assert (change.before_min, change.after_min) == (30, 40)
    assert minutes(change) == {"need": 10.0}
    assert change.parts[0].litres == pytest.approx(1200.0)
    assert change.reason == "need"


def test_need_and_trim_are_told_apart() -> None:
    trimmed = station("a", 8.0, trim_factor=1.5, extra_min=3.0)
    change = only(night(trimmed), night(station("a", 6.0)))
    # Need first: +10; then 40 min × 0.5 + 3 = +23. 63 minutes in all.
    assert minutes(change) == {"trim": 23.0, "need": 10.0}
    assert change.after_min == 63


def test_rounding_and_floors_are_called_whole_minutes() -> None:
    change = only(night(station("a", 0.1, run_min=4)), night(station("a", 6.0)))
    assert minutes(change) == {"need": -29.5, "whole minutes": 3.5}


def test_another_flow_is_the_record_even_where_the_minutes_stay() -> None:
    change = only(night(station("a", flow_l_s=2.5)), night(station("a")))
    assert change.minutes == 0
    assert minutes(change) == {"record": 0.0}
    assert change.parts[0].litres == pytest.approx(30 * 60 * 0.5)


def test_another_rate_is_the_record() -> None:
    change = only(night(station("a", rate_mm_h=10.0)), night(station("a")))
    assert minutes(change) == {"record": 6.0}


@pytest.mark.parametrize(("name", "reason"), [("none", "record"), ("fitted", "fit")])
def test_the_multiplier_is_the_fit_where_minutes_follow_the_map(name: str, reason: str) -> None:
    change = only(night(station("a", multiplier=1.2, multiplier_name=name)), night(station("a")))
    assert minutes(change) == {reason: 6.0}


@pytest.mark.parametrize(
    ("why", "reason"), [("held (event): wedding, Ines", "hold"), ("the pump is full", "left out")]
)
def test_what_is_asked_and_not_given_is_a_hold_or_left_out(why: str, reason: str) -> None:
    change = only(night(station("a"), left={"a": why}), night(station("a")))
    assert minutes(change) == {reason: -30.0}
    back = only(night(station("a")), night(station("a"), left={"a": why}))
    assert minutes(back) == {reason: 30.0}


def test_new_and_gone_stations_are_changes_of_the_record() -> None:
    changes = tested.night_changes(
        night(station("a"), station("new")),
        tested.against_night(night(station("a"), station("gone")), ""),
    )
    told = {change.station: (change.minutes, minutes(change)) for change in changes}
    assert told["new"] == (30, {"record": 30.0})
    assert told["gone"] == (-30, {"record": -30.0})
    assert told["a"] == (0, {})


def test_a_station_of_unknown_flow_counts_minutes_and_no_litres() -> None:
    change = only(night(station("a", 8.0, flow_l_s=math.nan)), night(station("a")))
    assert change.minutes == 10
    assert math.isnan(change.litres)
    (total,) = tested.totals_by([change], lambda one: one.kind)
    assert (total.stations, total.minutes, total.litres) == (1, 10, 0.0)


needs = st.floats(0.0, 30.0)
whys = st.sampled_from(["", "held (rain): wet, Ines", "pipe M is full"])
factors = st.fixed_dictionaries(
    {
        "trim_factor": st.floats(0.0, 3.0),
        "extra_min": st.integers(-20, 60).map(float),
        "rate_mm_h": st.floats(4.0, 20.0),
        "flow_l_s": st.floats(0.5, 4.0),
    }
)


@given(needs, needs, factors, st.tuples(whys, whys), st.floats(0.5, 2.0))
def test_the_parts_always_add_up(
    before_mm: float,
    after_mm: float,
    more: dict[str, float],
    left: tuple[str, str],
    multiplier: float,
) -> None:
    first, raw = station("a", before_mm, multiplier=multiplier), station("a", after_mm, **more)
    second = replace(raw, run_min=max(0, raw.run_min))
    before, after = (
        night(one, left={"a": why} if why else None)
        for one, why in zip((first, second), left, strict=True)
    )
    change = only(after, before)
    assert sum(p.minutes for p in change.parts) == pytest.approx(change.minutes, abs=1e-6)
    assert sum(p.litres for p in change.parts) == pytest.approx(change.litres, abs=1e-3)
    sizes = [abs(part.minutes) for part in change.parts]
    assert sizes == sorted(sizes, reverse=True)


def test_totals_split_by_kind_and_reason_and_both_hold_every_litre() -> None:
    before = night(station("a"), station("b"), station("c", kind="tee"))
    after = night(station("a", 8.0), station("b", 4.0), station("c", 7.0, kind="tee"))
    changes = tested.night_changes(after, tested.against_night(before, ""))
    kinds = {t.name: (t.stations, t.litres) for t in tested.totals_by(changes, lambda c: c.kind)}
    assert kinds == {"tee": (1, pytest.approx(600.0)), "green": (2, pytest.approx(0.0))}
    (reason,) = tested.totals_by_reason(changes)
    assert (reason.name, reason.stations, reason.litres) == ("need", 3, pytest.approx(600.0))


@pytest.mark.parametrize(("share", "count"), [(0.0, 3), (0.2, 2), (0.5, 1), (10.0, 1)])
def test_stations_beyond_a_share_are_counted(share: float, count: int) -> None:
    before = night(station("a"), station("b"), station("c", 0.0))
    after = night(station("a", 8.0), station("b", 7.0), station("c", 2.0))
    changes = tested.night_changes(after, tested.against_night(before, ""))
    # +33 %, +17 %, and from nothing, which is beyond any share.
    assert tested.count_beyond(changes, share) == count


def test_ordinary_is_the_middle_of_past_nights() -> None:
    past = [night(station("a", mm), day=day) for day, mm in ((10, 4.0), (11, 6.0), (12, 20.0))]
    ordinary = tested.ordinary_night(night(station("a", 8.0)), past)
    assert ordinary.words == "the middle of the last 3 approved nights"
    (change,) = tested.night_changes(night(station("a", 8.0)), ordinary)
    assert (change.before_min, change.after_min) == (30, 40)
    assert minutes(change) == {"need": 10.0}


def test_a_station_left_out_once_of_three_is_ordinarily_served() -> None:
    past = [night(station("a")), night(station("a")), night(station("a"), left={"a": "full"})]
    assert tested.median_night(past).stations["a"].given_min == 30


def test_with_few_nights_ordinary_is_this_night_without_trims_holds_and_limits() -> None:
    tonight = night(
        station("a", trim_factor=0.5),
        station("b"),
        station("c", extra_min=5.0),
        left={"b": "held (event): wedding, Ines"},
    )
    ordinary = tested.ordinary_night(tonight, [tonight, tonight])
    assert "without trims" in ordinary.words
    told = {c.station: minutes(c) for c in tested.night_changes(tonight, ordinary)}
    assert told == {"a": {"trim": -15.0}, "b": {"hold": -30.0}, "c": {"trim": 5.0}}


def test_a_plain_night_keeps_the_floor_of_a_trimmed_station() -> None:
    short = station("a", 0.4, trim_factor=2.0, floor_min=6, run_min=6)
    # 0.4 mm are two minutes; its heads need six to turn, trimmed or not.
    assert tested.plain_night(night(short)).stations["a"].asked_min == 6
