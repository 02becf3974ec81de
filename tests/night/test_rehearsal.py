"""The simulated field writes what a real one would, and each fault shows where it should."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, box

from nightwater.findings import UserError
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.running_tables import COMMANDS, SAMPLES
from nightwater.night.plan import Bound, Night, Run, Window
from nightwater.night.rehearsal import Faults, rehearse
from nightwater.night.rehearsal_faults import MARGIN_MIN
from nightwater.night.window import clock_minute

ZONE = ZoneInfo("America/Denver")
WINDOW = Window(datetime(2025, 7, 10, 21, tzinfo=ZONE), datetime(2025, 7, 11, 1, tzinfo=ZONE))
FLOW_L_S = 2.0
SAMPLES_A_NIGHT = WINDOW.minutes + 2 * MARGIN_MIN


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def ground_of(stations: int, **pump: Any) -> Ground:
    heads = {
        f"H{i}-{k}": {"station": f"S{i}", "nozzle": "N", "area": "A", "geometry": Point(20 * i, k)}
        for i in range(stations)
        for k in range(10)
    }
    nozzle = {"pressure_kpa": 480.0, "flow_l_s": FLOW_L_S / 10, "radius_m": 20.0}
    row = {"capacity_l_s": 50.0, "set_pressure_kpa": 800.0, "head_m": 90.0, "pump_efficiency": 0.8}
    row |= {"motor_efficiency": 0.9, "geometry": Point(0, 0)} | pump
    return ground_from(
        "EPSG:32613",
        {
            "areas": frame(
                {"A": {"kind": "rough", "geometry": MultiPolygon([box(0, 0, 400, 90)])}}
            ),
            "heads": frame(heads),
            "nozzles": frame({"N": nozzle}),
            "stations": frame({f"S{i}": {"controller": "AB"[i % 2]} for i in range(stations)}),
            "controllers": frame({"A": {}, "B": {}}),
            "pumps": frame({"P": row}),
            "meters": frame({"M1": {"geometry": Point(0, 0)}}),
        },
    )


def night_of(*runs: Run) -> Night:
    flow = np.zeros(WINDOW.minutes)
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += FLOW_L_S
    finish = max((run.start_min + run.run_min for run in runs), default=0)
    return Night(
        night=date(2025, 7, 10),
        window=WINDOW,
        runs=runs,
        left_out=(),
        flow_l_s=tuple(flow),
        bound=Bound(finish, "pump"),
        finish_min=finish,
        sums=(),
        findings=(),
        pump_l_s=50.0,
    )


@pytest.fixture
def night() -> Night:
    """Four stations one after another, half an hour each: 21:00 to 23:00."""
    return night_of(*(Run(f"S{i}", 30 * i, 30, 1, 1) for i in range(4)))


@pytest.fixture
def ground() -> Ground:
    return ground_of(4)


def flow(night: Night, ground: Ground, seed: int = 1, **faults: Any) -> np.ndarray:
    """Metered flow per minute of the night, margins cut off."""
    samples = rehearse(night, ground, Faults(**faults), seed=seed).samples
    return samples["flow_l_s"].to_numpy()[MARGIN_MIN : MARGIN_MIN + night.window.minutes]


def test_rows_are_those_of_the_tables(night: Night, ground: Ground) -> None:
    run = rehearse(night, ground, Faults(), seed=1)
    assert list(run.commands.columns) == [column.name for column in COMMANDS.columns]
    assert list(run.samples.columns) == [column.name for column in SAMPLES.columns]
    assert run.commands.index.is_unique
    assert run.samples.index.is_unique
    assert set(run.commands["origin"]) == set(run.samples["origin"]) == {"rehearsal"}
    assert set(run.samples["meter"]) == {"M1"}
    assert len(run.samples) == SAMPLES_A_NIGHT
    assert run.samples["time"].iloc[0] == "2025-07-11T02:40:00Z"
    assert run.samples["time"].iloc[-1] == "2025-07-11T07:19:00Z"


def test_same_seed_same_night_other_seed_other_night(night: Night, ground: Ground) -> None:
    one, same, other = (rehearse(night, ground, Faults(), seed=seed) for seed in (7, 7, 8))
    pd.testing.assert_frame_equal(one.commands, same.commands)
    pd.testing.assert_frame_equal(one.samples, same.samples)
    assert not one.samples["flow_l_s"].equals(other.samples["flow_l_s"])


def test_each_run_is_opened_and_closed_a_few_seconds_late(night: Night, ground: Ground) -> None:
    log = rehearse(night, ground, Faults(), seed=3).commands
    times = pd.to_datetime(log["time"], utc=True)
    assert times.is_monotonic_increasing
    start = pd.Timestamp(night.window.start).tz_convert("UTC")
    for run in night.runs:
        own = times[log["station"] == run.station]
        assert list(log.loc[own.index, "event"]) == ["open", "close"]
        opened, closed = ((own - start).dt.total_seconds() / 60).tolist()
        assert run.start_min <= opened <= run.start_min + 0.1
        assert run.start_min + run.run_min <= closed <= run.start_min + run.run_min + 0.1


def test_sound_night_delivers_what_was_planned(night: Night, ground: Ground) -> None:
    metered = flow(night, ground)
    assert metered.sum() * 60 / 1000 == pytest.approx(night.volume_m3, rel=0.03)
    assert metered[125:].max() == 0.0


def test_heads_differ_a_little_from_the_record(night: Night, ground: Ground) -> None:
    # the mean of ten heads that spread by 3 % spreads by about 1 %
    means = [flow(night, ground, seed=seed)[5:25].mean() for seed in range(30)]
    assert 0.004 < np.std(means) / FLOW_L_S < 0.02
    assert np.mean(means) == pytest.approx(FLOW_L_S, rel=0.01)


def test_tripped_pump_gives_nothing_until_it_restarts(night: Night, ground: Ground) -> None:
    metered = flow(night, ground, pump_trip_at="21:40", pump_restart_at="22:10")
    assert metered[45:60].max() == 0.0
    assert metered[40:70].max() == 0.0
    assert metered[5:40].min() > 1.8
    assert metered[72:85].min() > 1.8
    samples = rehearse(night, ground, Faults(pump_trip_at="21:40"), seed=1).samples
    assert samples["pressure_kpa"].iloc[MARGIN_MIN + 45] == 0.0
    assert samples["power_kw"].iloc[-1] == 0.0


def test_trip_before_the_night_leaves_nothing(night: Night, ground: Ground) -> None:
    assert flow(night, ground, pump_trip_at="20:00").max() == 0.0


@pytest.mark.parametrize("clock", ["12:00", "15:00"])
def test_a_trip_by_day_is_refused(night: Night, ground: Ground, clock: str) -> None:
    with pytest.raises(UserError, match="the pumps cannot trip"):
        flow(night, ground, pump_trip_at=clock)


def test_trip_after_midnight_is_the_next_morning(ground: Ground) -> None:
    long = night_of(Run("S0", 0, 240, 1, 1))
    metered = flow(long, ground, pump_trip_at="00:30")
    assert metered[209] > 1.8
    assert metered[211:].max() == 0.0


@pytest.mark.parametrize(
    ("faults", "share"),
    [
        ({"dead_stations": ("S1",)}, 0.0),
        ({"half_open_stations": ("S1",)}, 0.5),
        ({"dead_controllers": ("B",)}, 0.0),
        ({"silent_controllers": ("B",)}, 0.0),
    ],
)
def test_fault_of_a_station_shows_in_its_minutes(
    night: Night, ground: Ground, faults: dict[str, Any], share: float
) -> None:
    metered = flow(night, ground, **faults)
    assert metered[33:58].mean() == pytest.approx(share * FLOW_L_S, abs=0.1)
    assert metered[3:28].mean() == pytest.approx(FLOW_L_S, rel=0.05)


def test_dead_path_is_logged_and_silent_path_is_not(night: Night, ground: Ground) -> None:
    dead = rehearse(night, ground, Faults(dead_controllers=("B",)), seed=1).commands
    silent = rehearse(night, ground, Faults(silent_controllers=("B",)), seed=1).commands
    assert set(dead["station"]) == {"S0", "S1", "S2", "S3"}
    assert set(silent["station"]) == {"S0", "S2"}


def test_leak_runs_all_the_time_or_from_its_start(night: Night, ground: Ground) -> None:
    all_night = rehearse(night, ground, Faults(leak_l_s=0.4), seed=1).samples["flow_l_s"]
    assert all_night.iloc[1:MARGIN_MIN].mean() == pytest.approx(0.4, rel=0.02)
    late = rehearse(night, ground, Faults(leak_l_s=0.4, leak_from="23:30"), seed=1).samples
    assert late["flow_l_s"].iloc[:MARGIN_MIN].max() == 0.0
    assert late["flow_l_s"].iloc[-MARGIN_MIN:].mean() == pytest.approx(0.4, rel=0.02)


def test_station_that_sticks_runs_on_though_logged_as_closed(night: Night, ground: Ground) -> None:
    run = rehearse(night, ground, Faults(stuck_stations=("S0",)), seed=1)
    assert run.samples["flow_l_s"].iloc[-5:].mean() == pytest.approx(FLOW_L_S, rel=0.05)
    log = run.commands[run.commands["station"] == "S0"]
    assert list(log["event"]) == ["open", "close"]
    assert log["time"].iloc[1].startswith("2025-07-11T03:30")


def test_station_that_sticks_is_counted_once_over_its_cycles(ground: Ground) -> None:
    cycles = night_of(Run("S0", 0, 10, 1, 2), Run("S0", 60, 10, 2, 2))
    metered = flow(cycles, ground, stuck_stations=("S0",))
    assert metered[100:].max() < 1.1 * FLOW_L_S


def test_pump_follows_no_faster_than_its_ramp() -> None:
    ground = ground_of(10, ramp_l_s_min=5.0)
    night = night_of(*(Run(f"S{i}", 0, 30, 1, 1) for i in range(10)))  # 20 L/s at once
    metered = flow(night, ground)
    assert metered[0] == pytest.approx(2.5, abs=0.6)  # from 0 to 5 L/s in the first minute
    assert metered[1] == pytest.approx(7.5, abs=0.6)
    assert metered[5:29].mean() == pytest.approx(20.0, rel=0.03)


def test_pressure_sags_where_the_pump_is_too_small() -> None:
    night = night_of(*(Run(f"S{i}", 0, 30, 1, 1) for i in range(10)))
    run = rehearse(night, ground_of(10, capacity_l_s=10.0), Faults(), seed=1)
    busy = run.samples.iloc[MARGIN_MIN + 5 : MARGIN_MIN + 25]
    assert busy["flow_l_s"].mean() == pytest.approx(10.0, rel=0.02)
    assert busy["pressure_kpa"].mean() == pytest.approx(800 / 4, rel=0.1)  # half the flow


def test_power_is_water_power_over_efficiencies(night: Night, ground: Ground) -> None:
    run = rehearse(night, ground, Faults(), seed=1).samples.iloc[MARGIN_MIN + 5]
    # 2 L/s · 90 m · 9.80665 kPa/m = 1.765 kW of water power
    assert run["power_kw"] == pytest.approx(1.765 / (0.8 * 0.9), rel=0.04)


def test_pump_without_head_and_pressure_has_no_power(night: Night) -> None:
    bare = ground_of(4, head_m=None, set_pressure_kpa=None)
    samples = rehearse(night, bare, Faults(), seed=1).samples
    assert samples["power_kw"].isna().all()
    assert samples["flow_l_s"].notna().all()


def test_lost_meter_and_lost_log_leave_gaps(night: Night, ground: Ground) -> None:
    run = rehearse(night, ground, Faults(meter_lost=("22:00", "22:30"), log_lost=True), seed=1)
    assert len(run.samples) == SAMPLES_A_NIGHT - 30
    assert not run.samples["time"].str.startswith("2025-07-11T04:15").any()
    assert run.commands.empty
    assert list(run.commands.columns) == [column.name for column in COMMANDS.columns]


def test_record_without_meter_still_has_a_series(night: Night, ground: Ground) -> None:
    bare = ground.with_table("meters", ground.meters.iloc[:0])
    assert rehearse(night, bare, Faults(), seed=1).samples["meter"].isna().all()


def test_empty_night_is_quiet(ground: Ground) -> None:
    run = rehearse(night_of(), ground, Faults(), seed=1)
    assert run.commands.empty
    assert run.samples["flow_l_s"].max() == 0.0


@pytest.mark.parametrize("text", ["25:00", "22:61", "ten", "22", ""])
def test_what_is_no_clock_time_is_refused(night: Night, ground: Ground, text: str) -> None:
    with pytest.raises(UserError, match="is not a time of day"):
        clock_minute(text, night.window)


@pytest.mark.parametrize(
    ("faults", "told"),
    [
        ({"dead_stations": ("S9",)}, "no station 'S9'"),
        ({"stuck_stations": ("S9",)}, "no station 'S9'"),
        ({"dead_controllers": ("Z",)}, "no controller 'Z'"),
    ],
)
def test_faults_of_nobody_are_refused(
    night: Night, ground: Ground, faults: dict[str, Any], told: str
) -> None:
    with pytest.raises(UserError, match=told):
        rehearse(night, ground, Faults(**faults), seed=1)


def test_clock_times_around_the_night() -> None:
    assert clock_minute("21:00", WINDOW) == 0
    assert clock_minute("20:50", WINDOW) == -10
    assert clock_minute("00:15", WINDOW) == 195
    assert clock_minute("12:00", WINDOW) == -540  # the noon before lies nearer than the one after
    assert clock_minute("10:00", WINDOW) == 780


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 150), st.integers(1, 60)), max_size=8),
    st.integers(0, 2**31),
)
def test_metered_volume_is_that_of_the_log(rows: list[tuple[int, int, int]], seed: int) -> None:
    """What the meter counts is what logged openings draw, within the spread of the heads."""
    night = night_of(*(Run(f"S{i}", start, length, 1, 1) for i, start, length in rows))
    run = rehearse(night, ground_of(4), Faults(), seed=seed)
    metered_m3 = run.samples["flow_l_s"].sum() * 60 / 1000
    # 5 s steps and a start up to 6 s late: each run may count 10 s more or less
    slack_m3 = len(rows) * FLOW_L_S * 11 / 1000
    assert metered_m3 == pytest.approx(night.volume_m3, rel=0.06, abs=slack_m3 + 1e-9)
    assert len(run.commands) == 2 * len(rows)


def test_inputs_are_left_as_they_were(night: Night, ground: Ground) -> None:
    before = ground.pumps.copy(), replace(night)
    rehearse(night, ground, Faults(leak_l_s=1.0), seed=1)
    pd.testing.assert_frame_equal(ground.pumps, before[0])
    assert night == before[1]
