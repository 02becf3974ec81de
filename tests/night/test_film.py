"""Frames of a night: what is open, and how long each has run by then."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from nightwater.night.film import frame_minutes, frames, run_so_far_min
from nightwater.night.plan import Night


@pytest.fixture
def night(row_of: Any) -> Night:
    night: Night = row_of(("green", 2, (10, 10)), ("rough", 3, (20,)), pump_l_s=20.0).night()
    return night


def test_frames_lie_a_step_apart_and_end_with_the_night(night: Night) -> None:
    assert night.window.minutes == 480
    assert frame_minutes(night, 60) == [0, 60, 120, 180, 240, 300, 360, 420, 480]
    assert frame_minutes(night, 7)[-2:] == [476, 480]


def test_a_frame_tells_what_is_open_in_its_minute(night: Night) -> None:
    for frame in frames(night, 1):
        running = {r for r in night.runs if r.start_min <= frame.minute < r.start_min + r.run_min}
        assert set(frame.open) == {run.station for run in running}
        assert frame.heads == sum({"S0": 2, "S1": 3}[run.station] for run in running)
    last = frames(night, 1)[-1]
    assert (last.open, last.flow_l_s) == ((), 0.0)
    assert last.volume_m3 == pytest.approx(night.volume_m3)


def test_water_so_far_grows_by_the_flow_of_each_minute(night: Night) -> None:
    made = frames(night, 1)
    for before, after in pairwise(made):
        grown = after.volume_m3 - before.volume_m3
        assert grown == pytest.approx(before.flow_l_s * 60 / 1000)


def test_minutes_so_far_grow_while_a_station_runs(night: Night) -> None:
    (first, second) = sorted(r.start_min for r in night.runs if r.station == "S0")
    at = [first, first + 4, first + 10, second, second + 3, 480]
    so_far = run_so_far_min(night, ["S0", "S9"], at)
    assert so_far[:, 0].tolist() == [0, 4, 10, 10, 13, 20]
    assert np.all(so_far[:, 1] == 0)


def test_a_step_is_a_minute_at_least(night: Night) -> None:
    with pytest.raises(ValueError, match="at least 1"):
        frames(night, 0)
