"""The meter series by minute: gaps stay gaps, blocks and stretches are counted right."""

from __future__ import annotations

import math
from datetime import UTC, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.proof.meter import (
    Meter,
    base_flow,
    blocks_of,
    dry_minutes,
    quiet_stretches,
    read_meter,
    still_minutes,
    stretches,
    wanted_minutes,
)

SAMPLE_COLUMNS = ["night", "meter", "time", "flow_l_s", "pressure_kpa", "power_kw", "origin"]


def samples_of(busy: Any, *rows: tuple[float, str | None, float]) -> pd.DataFrame:
    """Rows of minute of the night, meter and flow; power is ten times the flow."""
    start = busy.night.window.start.astimezone(UTC)
    return pd.DataFrame(
        [
            (
                "N",
                meter,
                (start + timedelta(minutes=minute)).isoformat(),
                flow,
                800.0,
                flow * 10,
                "",
            )
            for minute, meter, flow in rows
        ],
        columns=SAMPLE_COLUMNS,
    )


def meter_of(flow: list[float] | np.ndarray, first_min: int = 0) -> Meter:
    values = np.asarray(flow, dtype=float)
    return Meter(first_min, values, values * 10)


def test_readings_stand_at_their_minutes(busy: Any) -> None:
    meter = read_meter(samples_of(busy, (-2, "M", 0.5), (0, "M", 1.0), (479, "M", 2.0)), busy.night)
    assert meter.first_min == -2
    assert meter.size == 482
    assert meter.flow_l_s[[0, 2, 481]].tolist() == [0.5, 1.0, 2.0]
    assert np.isnan(meter.flow_l_s[[1, 3, 480]]).all()
    assert meter.power_kw[2] == 10.0


def test_window_is_cut_out_of_the_series(busy: Any) -> None:
    meter = read_meter(
        samples_of(busy, (-20, "M", 9.0), (0, "M", 1.0), (490, "M", 9.0)), busy.night
    )
    window = meter.window(busy.night, meter.flow_l_s)
    assert len(window) == 480
    assert window[0] == 1.0
    assert meter.size == 20 + 491


def test_several_readings_in_a_minute_are_averaged(busy: Any) -> None:
    meter = read_meter(samples_of(busy, (5.0, "M", 1.0), (5.5, "M", 3.0)), busy.night)
    assert meter.flow_l_s[5] == 2.0


def test_meters_are_added_and_a_missing_one_is_missing(busy: Any) -> None:
    rows = ((0, "M", 1.0), (0, "K", 2.0), (1, "M", 1.0), (2, "M", math.nan), (2, "K", 2.0))
    meter = read_meter(samples_of(busy, *rows), busy.night)
    assert meter.flow_l_s[0] == 3.0
    assert np.isnan(meter.flow_l_s[1:3]).all()


def test_readings_without_a_meter_count_as_one(busy: Any) -> None:
    meter = read_meter(samples_of(busy, (0, None, 1.0), (1, None, 2.0)), busy.night)
    assert meter.flow_l_s[:2].tolist() == [1.0, 2.0]


def test_readings_of_another_day_are_left_out(busy: Any) -> None:
    meter = read_meter(samples_of(busy, (0, "M", 1.0), (3 * 1440, "M", 7.0)), busy.night)
    assert meter.size == 480


def test_no_readings_is_a_window_of_nothing(busy: Any) -> None:
    meter = read_meter(samples_of(busy), busy.night)
    assert meter.size == 480
    assert np.isnan(meter.flow_l_s).all()


def test_second_before_the_minute_belongs_to_the_minute_before(busy: Any) -> None:
    meter = read_meter(samples_of(busy, (4 + 59 / 60, "M", 1.0)), busy.night)
    assert meter.flow_l_s[4] == 1.0


def test_stretches_of_a_mask() -> None:
    mask = np.array([1, 1, 0, 1, 0, 0, 1, 1, 1], dtype=bool)
    assert list(stretches(mask)) == [(0, 2), (3, 4), (6, 9)]
    assert list(stretches(mask, 2)) == [(0, 2), (6, 9)]
    assert list(stretches(np.zeros(3, dtype=bool))) == []


@settings(deadline=None)
@given(st.lists(st.booleans(), max_size=40))
def test_stretches_cover_exactly_the_true_minutes(values: list[bool]) -> None:
    mask = np.array(values, dtype=bool)
    rebuilt = np.zeros(len(mask), dtype=bool)
    for start, end in stretches(mask):
        assert not rebuilt[start:end].any()
        rebuilt[start:end] = True
    assert (rebuilt == mask).all()


def test_quiet_stretches_keep_two_minutes_from_what_runs() -> None:
    expected = np.array([0.0] * 10 + [5.0] * 5 + [0.0] * 10)
    flow = np.where(expected > 0, 5.0, 0.2)
    assert quiet_stretches(meter_of(flow), expected) == [(0, 8, 0.2), (17, 25, 0.2)]


def test_quiet_stretch_needs_three_minutes_that_were_read() -> None:
    expected = np.array([0.0] * 5 + [5.0] * 5)
    flow = np.array([math.nan] * 2 + [0.1] * 3 + [5.0] * 5)
    assert quiet_stretches(meter_of(flow), expected) == []  # one minute left


def test_base_flow_is_the_lesser_of_before_and_after() -> None:
    expected = np.array([0.0] * 8 + [5.0] * 6 + [0.0] * 8)
    flow = np.array([0.2] * 8 + [5.5] * 6 + [0.7] * 8)
    base = base_flow(meter_of(flow), expected)
    assert base[10] == 0.2
    assert base[0] == 0.2
    assert base[-1] == 0.7


def test_base_flow_is_nothing_where_one_side_is_unknown() -> None:
    expected = np.array([0.0] * 8 + [5.0] * 6)
    flow = np.array([0.2] * 8 + [5.5] * 6)
    assert base_flow(meter_of(flow), expected)[10] == 0.0


def test_dry_needs_three_minutes_together() -> None:
    expected = np.full(10, 4.0)
    flow = np.array([4, 0, 0, 4, 0, 0.1, 0, 4, 4, 0], dtype=float)
    dry = dry_minutes(meter_of(flow), expected, np.ones(10, dtype=bool))
    assert np.flatnonzero(dry).tolist() == [4, 5, 6]
    assert np.flatnonzero(still_minutes(meter_of(flow), expected)).tolist() == [1, 2, 4, 5, 6, 9]


def test_pause_does_not_part_a_dry_stretch() -> None:
    expected = np.array([4, 4, 0, 0, 4, 4], dtype=float)
    dry = dry_minutes(meter_of(np.zeros(6)), expected, expected > 0)
    assert np.flatnonzero(dry).tolist() == [0, 1, 4, 5]


def test_unread_minute_is_not_dry() -> None:
    expected = np.full(4, 4.0)
    dry = dry_minutes(meter_of([math.nan] * 4), expected, np.ones(4, dtype=bool))
    assert not dry.any()


def test_leak_does_not_hide_a_dry_station() -> None:
    expected = np.array([0.0] * 8 + [5.0] * 6 + [0.0] * 8)
    flow = np.full(22, 1.0)  # a leak of 1 L/s all the time, and nothing else
    assert dry_minutes(meter_of(flow), expected, expected > 0).sum() == 6


def test_leak_as_large_as_the_station_tells_nothing() -> None:
    expected = np.array([0.0] * 8 + [1.0] * 6 + [0.0] * 8)
    assert not dry_minutes(meter_of(np.full(22, 1.0)), expected, expected > 0).any()


def test_start_that_runs_over_is_not_wanted() -> None:
    assert wanted_minutes(np.array([4.0, 0.2, 0.0]), np.array([1.0, 0.05, 0.0])).tolist() == [
        True,
        False,
        False,
    ]


def block_meter(share: float) -> tuple[Meter, np.ndarray]:
    expected = np.array([0.0] * 10 + [10.0] * 50 + [0.0] * 30)
    return meter_of(expected * share), expected


@pytest.mark.parametrize(
    ("share", "agrees"), [(1.0, True), (1.09, True), (0.91, True), (1.11, False), (0.89, False)]
)
def test_blocks_agree_within_a_tenth(share: float, agrees: bool) -> None:
    meter, expected = block_meter(share)
    blocks = blocks_of(meter, expected, (expected > 0).astype(float), 90)
    assert [block.agrees for block in blocks] == [agrees, agrees, None]
    assert blocks[0].expected_m3 == pytest.approx(20 * 60 * 10 / 1000)
    assert blocks[0].share == pytest.approx(share)
    assert math.isnan(blocks[2].share)


def test_last_block_may_be_short() -> None:
    meter, expected = block_meter(1.0)
    blocks = blocks_of(meter, expected, (expected > 0).astype(float), 70)
    assert [(block.start_min, block.end_min) for block in blocks] == [(0, 30), (30, 60), (60, 70)]


def test_block_without_readings_is_not_judged() -> None:
    meter, expected = block_meter(1.0)
    meter.flow_l_s[:30] = math.nan
    first = blocks_of(meter, expected, (expected > 0).astype(float), 90)[0]
    assert first.agrees is None
    assert math.isnan(first.metered_m3)


def test_block_with_a_gap_compares_what_was_read() -> None:
    meter, expected = block_meter(1.0)
    meter.flow_l_s[15:25] = math.nan
    first = blocks_of(meter, expected, (expected > 0).astype(float), 90)[0]
    assert first.expected_m3 == pytest.approx(10 * 60 * 10 / 1000)
    assert first.agrees is True


def test_base_flow_is_taken_off_a_block() -> None:
    expected = np.array([0.0] * 10 + [2.0] * 20 + [0.0] * 30)
    meter = meter_of(expected + 0.5)
    first = blocks_of(meter, expected, (expected > 0).astype(float), 60)[0]
    assert first.agrees is True
    assert first.share == pytest.approx(1.0)
    assert first.base_m3 == pytest.approx(30 * 60 * 0.5 / 1000)


@settings(deadline=None)
@given(st.lists(st.floats(0, 50), min_size=1, max_size=200))
def test_blocks_hold_every_litre_of_the_meter(flow: list[float]) -> None:
    meter = meter_of(flow)
    blocks = blocks_of(meter, np.ones(len(flow)), np.ones(len(flow)), len(flow))
    total = sum(block.metered_m3 for block in blocks)
    assert total == pytest.approx(sum(flow) * 60 / 1000, abs=1e-9)
