"""The command log as openings, however untidy it is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.proof.log import (
    Opening,
    flow_by_minute,
    planned_openings,
    read_log,
    volume_m3,
)


def log_of(*lines: tuple[str | None, str, str]) -> pd.DataFrame:
    """Lines of station, local time of 10 July (HH:MM:SS, or a whole instant) and event."""
    rows = [
        {
            "night": "N",
            "station": station,
            "time": time if "T" in time else f"2025-07-10T{time}-06:00",
            "event": event,
            "detail": "valve current low" if event == "fault" else None,
            "origin": "field",
        }
        for station, time, event in lines
    ]
    return pd.DataFrame(rows, columns=["night", "station", "time", "event", "detail", "origin"])


def test_open_and_close_make_an_opening(busy: Any) -> None:
    log = read_log(log_of(("S0", "21:00:06", "open"), ("S0", "21:24:30", "close")), busy.night)
    assert log.known
    assert log.findings == ()
    assert log.openings == (Opening("S0", pytest.approx(0.1), pytest.approx(24.5)),)
    assert log.commanded_min() == {"S0": pytest.approx(24.4)}


def test_lines_in_any_order_and_any_offset(busy: Any) -> None:
    lines = (
        ("S1", "2025-07-11T03:30:00Z", "close"),
        ("S0", "21:24:00", "close"),
        ("S1", "21:05:00", "open"),
        ("S0", "21:00:00", "open"),
    )
    log = read_log(log_of(*lines), busy.night)
    assert [(o.station, o.start_min, o.end_min) for o in log.openings] == [
        ("S0", 0.0, 24.0),
        ("S1", 5.0, 30.0),
    ]


def test_cycles_of_one_station_add_up(busy: Any) -> None:
    lines = [("S0", f"21:{minute:02d}:00", event) for minute, event in
             ((0, "open"), (10, "close"), (30, "open"), (42, "close"))]  # fmt: skip
    log = read_log(log_of(*lines), busy.night)
    assert log.commanded_min() == {"S0": pytest.approx(22)}


def test_close_and_open_in_the_same_second_is_two_openings(busy: Any) -> None:
    lines = [("S0", "21:10:00", "open"), ("S0", "21:00:00", "open"), ("S0", "21:10:00", "close"),
             ("S0", "21:20:00", "close")]  # fmt: skip
    log = read_log(log_of(*lines), busy.night)
    assert [(o.start_min, o.end_min) for o in log.openings] == [(0.0, 10.0), (10.0, 20.0)]


def test_second_open_is_passed_over(busy: Any) -> None:
    lines = [("S0", "21:00:00", "open"), ("S0", "21:05:00", "open"), ("S0", "21:20:00", "close")]
    assert read_log(log_of(*lines), busy.night).commanded_min() == {"S0": pytest.approx(20)}


def test_close_without_open_is_passed_over(busy: Any) -> None:
    log = read_log(log_of(("S0", "21:20:00", "close")), busy.night)
    assert log.known
    assert log.openings == ()


def test_open_without_close_ends_with_its_run(busy: Any) -> None:
    log = read_log(log_of(("S4", "21:25:03", "open")), busy.night)  # S4 runs from 25 for 24
    assert log.openings[0].end_min == 49.0
    assert [finding.code for finding in log.findings] == ["log-close-missing"]


def test_open_without_close_and_without_a_run_stays_open(busy: Any) -> None:
    log = read_log(log_of(("S99", "21:30:00", "open")), busy.night)
    assert log.openings == (Opening("S99", 30.0, 480.0),)


def test_faults_are_told_in_the_fields_own_words(busy: Any) -> None:
    lines = [("S0", "21:00:00", "fault"), ("S0", "21:01:00", "fault"), (None, "22:00:00", "fault")]
    log = read_log(log_of(*lines), busy.night)
    assert [finding.code for finding in log.findings] == ["log-fault", "log-fault"]
    assert "valve current low (2×)" in log.findings[0].message
    assert log.findings[1].subject == "commands:"
    assert log.openings == ()


def test_times_that_are_none_are_passed_over(busy: Any) -> None:
    lines = log_of(("S0", "21:00:00", "open"), ("S0", "21:10:00", "close"))
    lines.loc[2] = {"station": "S1", "time": "yesterday", "event": "open"}
    assert set(read_log(lines, busy.night).commanded_min()) == {"S0"}


def test_no_rows_is_no_log(busy: Any) -> None:
    log = read_log(log_of(), busy.night)
    assert not log.known
    assert log.openings == ()


def test_plan_as_openings(busy: Any) -> None:
    openings = planned_openings(busy.night)
    assert len(openings) == 24
    assert openings[4] == Opening("S4", 25, 49)


def test_flow_of_parts_of_minutes() -> None:
    openings = (Opening("A", 1.5, 3.25), Opening("B", 2.0, 3.0))
    flow = flow_by_minute(openings, {"A": 2.0, "B": 1.0}, 0, 5)
    assert flow.tolist() == pytest.approx([0.0, 1.0, 3.0, 0.5, 0.0])


def test_flow_outside_the_range_is_cut_off() -> None:
    flow = flow_by_minute((Opening("A", -5.0, 50.0),), {"A": 2.0}, -2, 4)
    assert flow.tolist() == [2.0] * 4


def test_station_without_a_flow_draws_nothing() -> None:
    assert flow_by_minute((Opening("A", 0.0, 2.0),), {}, 0, 2).tolist() == [0.0, 0.0]
    assert volume_m3((Opening("A", 0.0, 2.0),), {}) == 0.0


openings_of_a_night = st.lists(
    st.builds(
        lambda station, start, length: Opening(station, start, start + length),
        st.sampled_from("ABC"),
        st.floats(0, 90),
        st.floats(0, 30),
    ),
    max_size=12,
)


@settings(deadline=None)
@given(openings_of_a_night, st.integers(1, 119))
def test_litres_close_over_any_split(openings: list[Opening], cut: int) -> None:
    flows = {"A": 0.37, "B": 1.9, "C": 4.4}
    whole = flow_by_minute(tuple(openings), flows, 0, 121)
    parts = [
        flow_by_minute(tuple(openings), flows, first, size)
        for first, size in ((0, cut), (cut, 121 - cut))
    ]
    assert np.concatenate(parts) == pytest.approx(whole, abs=1e-6)
    assert whole.sum() * 60 / 1000 == pytest.approx(volume_m3(tuple(openings), flows), abs=1e-6)


@settings(deadline=None)
@given(openings_of_a_night)
def test_flow_is_never_negative(openings: list[Opening]) -> None:
    flow = flow_by_minute(tuple(openings), {"A": 0.37, "B": 1.9, "C": 4.4}, 0, 120)
    assert (flow >= 0).all()
