"""A night survives the way through JSON, and a bad document is told wholly."""

from __future__ import annotations

import json
import math
from copy import deepcopy
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError, error, note
from nightwater.night.document import (
    KEYS,
    clock,
    document_findings,
    night_from_document,
    night_to_document,
)
from nightwater.night.plan import Bound, LeftOut, Night, Run, StationSum, Window

DENVER = ZoneInfo("America/Denver")
CONTRACT_KEYS = {
    "night",
    "window",
    "bound_min",
    "finish_min",
    "gap",
    "runs",
    "left_out",
    "flow_l_s",
    "findings",
}


def station_sum(**changes: Any) -> StationSum:
    values: dict[str, Any] = {
        "station": "S1",
        "area": "A1",
        "kind": "fairway",
        "need_mm": 5.7,
        "rate_mm_h": 18.4,
        "flow_l_s": 1.735,
        "heads": 1,
        "du_lq": 0.733,
        "multiplier": 1.191,
        "multiplier_name": "du_lq",
        "trim_factor": 1.0,
        "extra_min": 0.0,
        "trim_reason": "",
        "exact_min": 22.1,
        "floor_min": 6,
        "run_min": 22,
        "max_cycle_min": 11,
        "soak_min": 30,
        "cycles_min": (11, 11),
        "wetted_m2": 340.0,
    }
    return StationSum(**(values | changes))


def small_night(**changes: Any) -> Night:
    window = Window(
        datetime(2025, 7, 10, 21, 0, tzinfo=DENVER), datetime(2025, 7, 11, 5, 0, tzinfo=DENVER)
    )
    flow = [0.0] * window.minutes
    for start in (0, 41):
        flow[start : start + 11] = [1.735] * 11
    values: dict[str, Any] = {
        "night": date(2025, 7, 10),
        "window": window,
        "runs": (Run("S1", 0, 11, 1, 2), Run("S1", 41, 11, 2, 2)),
        "left_out": (LeftOut("S2", 9, "The night is full."),),
        "flow_l_s": tuple(flow),
        "bound": Bound(52, "chain:S1"),
        "finish_min": 52,
        "sums": (station_sum(),),
        "findings": (note("a-code", "stations:S1", "Something.", "Look."),),
        "pump_l_s": 96.5,
    }
    return Night(**(values | changes))


def through_json(night: Night) -> Night:
    return night_from_document(json.loads(json.dumps(night_to_document(night), allow_nan=False)))


def test_night_survives_json() -> None:
    assert through_json(small_night()) == small_night()


def test_document_holds_the_contract_and_every_sum_field() -> None:
    document = night_to_document(small_night())
    assert set(document) >= CONTRACT_KEYS
    assert set(document) == set(KEYS)
    assert set(document["sums"][0]) == {item.name for item in fields(StationSum)}
    assert set(document["runs"][0]) == {"station", "start", "run_min", "cycle", "of_cycles"}


def test_starts_are_local_instants_with_offset() -> None:
    starts = [run["start"] for run in night_to_document(small_night())["runs"]]
    assert starts == ["2025-07-10T21:00:00-06:00", "2025-07-10T21:41:00-06:00"]


def test_starts_are_right_when_the_clocks_go_back() -> None:
    # 2 November 2025, 02:00 in Denver becomes 01:00: minute 300 from 21:00 is 01:00 the second time
    window = Window(
        datetime(2025, 11, 1, 21, 0, tzinfo=DENVER), datetime(2025, 11, 2, 5, 0, tzinfo=DENVER)
    )
    assert window.minutes == 9 * 60
    assert clock(window, 240).isoformat() == "2025-11-02T01:00:00-06:00"
    assert clock(window, 300).isoformat() == "2025-11-02T01:00:00-07:00"
    night = small_night(
        window=window, runs=(Run("S1", 300, 11, 1, 1),), flow_l_s=(), night=date(2025, 11, 1)
    )
    assert through_json(night).runs == night.runs
    assert through_json(night).window.minutes == 540


def test_night_of_the_spring_change_is_an_hour_short() -> None:
    window = Window(
        datetime(2025, 3, 8, 21, 0, tzinfo=DENVER), datetime(2025, 3, 9, 5, 0, tzinfo=DENVER)
    )
    assert window.minutes == 7 * 60


def test_missing_numbers_become_null_and_come_back_as_nan() -> None:
    night = small_night(sums=(station_sum(du_lq=math.nan),), pump_l_s=math.nan)
    document = night_to_document(night)
    assert document["sums"][0]["du_lq"] is None
    assert document["pump_l_s"] is None
    back = through_json(night)
    assert math.isnan(back.sums[0].du_lq)
    assert math.isnan(back.pump_l_s)
    assert replace(back.sums[0], du_lq=0.7) == station_sum(du_lq=0.7)


def test_document_made_by_hand_needs_three_keys() -> None:
    full = night_to_document(small_night())
    night = night_from_document({key: full[key] for key in ("night", "window", "runs")})
    assert night.runs == small_night().runs
    assert night.finish_min == 52
    assert night.bound == Bound(0, "")
    assert (night.sums, night.left_out, night.flow_l_s, night.findings) == ((), (), (), ())
    assert math.isnan(night.pump_l_s)


def test_offsets_other_than_the_windows_name_the_same_instant() -> None:
    document = night_to_document(small_night())
    document["runs"][1]["start"] = "2025-07-11T03:41:00+00:00"
    assert night_from_document(document).runs == small_night().runs


def test_run_before_the_window_keeps_its_negative_minute() -> None:
    document = night_to_document(small_night())
    document["runs"][0]["start"] = "2025-07-10T20:50:00-06:00"
    assert night_from_document(document).runs[0].start_min == -10


def drop(path: tuple[Any, ...]) -> Any:
    def edit(document: Any) -> None:
        for step in path[:-1]:
            document = document[step]
        del document[path[-1]]

    return edit


def put(path: tuple[Any, ...], value: Any) -> Any:
    def edit(document: Any) -> None:
        for step in path[:-1]:
            document = document[step]
        document[path[-1]] = value

    return edit


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (drop(("runs",)), "the document lacks 'runs'"),
        (drop(("night",)), "the document lacks 'night'"),
        (drop(("window",)), "the document lacks 'window'"),
        (drop(("window", "end")), "'window' lacks 'end'"),
        (drop(("runs", 1, "run_min")), "runs[2] lacks 'run_min'"),
        (drop(("sums", 0, "soak_min")), "sums[1] lacks 'soak_min'"),
        (put(("runz",), []), "unknown key 'runz' (did you mean 'runs'?)"),
        (put(("runs", 0, "minutes"), 3), "runs[1] has an unknown key 'minutes'"),
        (put(("runs", 0, "run_min"), 7.5), "runs[1] 'run_min' is 7.5, not a whole number"),
        (put(("runs", 0, "run_min"), "7"), "'run_min' is '7', not a whole number"),
        (put(("runs", 0, "run_min"), True), "'run_min' is True, not a whole number"),
        (put(("runs", 0, "station"), 7), "runs[1] 'station' is 7, not a text"),
        (put(("runs", 0), 4), "runs[1] is not an object with the keys station"),
        (put(("runs",), {}), "'runs' is not a list"),
        (put(("flow_l_s",), 3.0), "'flow_l_s' is not a list"),
        (put(("flow_l_s", 4), "x"), "flow_l_s[5] is 'x', not a number"),
        (put(("night",), "10 July"), "'night' is '10 July', not a date"),
        (put(("window", "start"), "21:00"), "window 'start' is '21:00', not an instant"),
        (put(("window", "start"), "2025-07-10T21:00"), "has no offset from UTC"),
        (put(("window", "end"), "2025-07-10T20:00:00-06:00"), "the window ends at"),
        (put(("runs", 0, "start"), "2025-07-10T21:00:30-06:00"), "30 s after the window's start"),
        (put(("runs", 0, "start"), None), "runs[1] 'start' is None, not an instant"),
        (put(("findings", 0, "severity"), "fatal"), "'severity' is 'fatal', not error"),
        (put(("left_out", 0, "owed_min"), 1.5), "left_out[1] 'owed_min' is 1.5"),
        (put(("pump_l_s",), "many"), "'pump_l_s' is 'many', not a number"),
        (put(("sums", 0, "rate_mm_h"), "18"), "sums[1] 'rate_mm_h' is '18', not a number"),
    ],
)
def test_each_fault_is_named(edit: Any, told: str) -> None:
    document = deepcopy(night_to_document(small_night()))
    edit(document)
    with pytest.raises(UserError) as refusal:
        night_from_document(document)
    assert told in str(refusal.value)
    assert str(refusal.value).startswith("This night document cannot be read: ")


def test_all_faults_are_told_at_once_but_not_hundreds() -> None:
    document = night_to_document(small_night())
    document["night"] = "soon"
    document["runs"] = [{"station": "S1"}] * 40
    with pytest.raises(UserError) as refusal:
        night_from_document(document)
    assert "and 36 more" in str(refusal.value)
    assert len(str(refusal.value)) < 900


@pytest.mark.parametrize("value", [None, [], 3, "text"])
def test_what_is_no_object_is_refused(value: Any) -> None:
    with pytest.raises(UserError, match="the document is not an object"):
        night_from_document(value)


def test_derived_numbers_that_do_not_follow_are_found() -> None:
    document = night_to_document(small_night())
    assert document_findings(document) == []
    document["gap"] = 0.25
    document["volume_m3"] += 1
    assert [finding.code for finding in document_findings(document)] == [
        "document-derived-wrong",
        "document-derived-wrong",
    ]


runs = st.builds(
    Run,
    station=st.text(min_size=1, max_size=8),
    start_min=st.integers(-30, 600),
    run_min=st.integers(-5, 90),
    cycle=st.integers(0, 9),
    of_cycles=st.integers(0, 9),
)
finite = st.floats(0, 1e4, allow_nan=False)


@settings(deadline=None)
@given(
    st.lists(runs, max_size=12),
    st.lists(finite, max_size=20),
    st.lists(st.builds(LeftOut, st.text(), st.integers(0, 99), st.text()), max_size=5),
    st.sampled_from(["America/Denver", "Europe/London", "Australia/Lord_Howe", "Asia/Kathmandu"]),
    st.datetimes(datetime(2024, 1, 1), datetime(2026, 12, 31)),
)
def test_any_night_survives_json(
    some_runs: list[Run],
    flow: list[float],
    left: list[LeftOut],
    zone: str,
    evening: datetime,
) -> None:
    start = evening.replace(second=0, microsecond=0, tzinfo=UTC).astimezone(ZoneInfo(zone))
    end = clock(Window(start, start), 480)
    night = small_night(
        window=Window(start, end),
        night=start.date(),
        runs=tuple(some_runs),
        flow_l_s=tuple(flow),
        left_out=tuple(left),
        sums=tuple(station_sum(flow_l_s=value) for value in flow[:3]),
        findings=(error("x-y", "runs:1", "Bad – 5 mm.", "Mend it."),),
    )
    assert through_json(night) == night
    assert night.window.minutes == 480
