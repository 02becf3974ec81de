"""Rehearsed faults are found, and what nobody saw is never called green."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nightwater.findings import Finding, Severity
from nightwater.night.plan import Run
from nightwater.proof.verdict import Proof, StationProof, Verdict

GREEN, AMBER, RED = Verdict.GREEN, Verdict.AMBER, Verdict.RED


def counts(proof: Proof) -> Counter[Verdict]:
    return Counter(row.verdict for row in proof.stations)


def by_station(proof: Proof) -> dict[str, StationProof]:
    return {row.station: row for row in proof.stations}


def codes(proof: Proof) -> set[str]:
    return {finding.code for finding in proof.findings}


def told(proof: Proof, code: str) -> Finding:
    return next(finding for finding in proof.findings if finding.code == code)


def test_sound_night_is_green_without_a_finding(busy: Any) -> None:
    proof = busy.proved()
    assert proof.verdict is GREEN
    assert counts(proof) == {GREEN: 24}
    assert proof.findings == ()
    assert proof.rescue == ()
    assert proof.caution == ""
    assert proof.missing_meter_min == 0


def test_totals_of_a_sound_night(busy: Any) -> None:
    proof = busy.proved()
    planned_m3 = 24 * 24 * 60 * 2.0 / 1000
    assert proof.planned_m3 == pytest.approx(planned_m3)
    assert proof.commanded_m3 == pytest.approx(planned_m3, rel=0.005)
    assert proof.metered_m3 == pytest.approx(planned_m3, rel=0.03)
    assert proof.compared_m3 == pytest.approx(proof.commanded_m3, rel=1e-6)
    assert proof.base_flow_l_s == 0.0
    assert proof.peak_l_s == pytest.approx(8.0)
    assert sum(block.metered_m3 for block in proof.blocks) == pytest.approx(proof.metered_m3)


def test_delivered_minutes_and_depth_follow_the_sum(busy: Any) -> None:
    row = by_station(busy.proved())["S7"]
    assert row.planned_min == 24
    assert row.delivered_min == pytest.approx(24, abs=0.11)
    # 24 min at 18 mm/h over a multiplier of 1.2: 6 mm net
    assert row.delivered_mm == pytest.approx(6.0, abs=0.03)
    assert (row.area, row.kind, row.metered) == ("A7", "rough", True)


def test_series_for_the_chart_cover_the_window(busy: Any) -> None:
    proof = busy.proved()
    for series in (proof.planned_l_s, proof.commanded_l_s, proof.metered_l_s):
        assert len(series) == 480
        assert max(series) == pytest.approx(8.0, rel=0.06)
    assert proof.start == busy.night.window.start


def test_energy_is_metered_power_over_the_night(busy: Any) -> None:
    proof = busy.proved()
    # ρ g V H over 0.75 · 0.92, the usual efficiencies
    lifted_kwh = proof.metered_m3 * 90 * 9.80665 / 3600 / (0.75 * 0.92)
    assert proof.energy_kwh == pytest.approx(lifted_kwh, rel=0.02)


def test_time_before_the_first_tee(busy: Any) -> None:
    proof = busy.proved()
    assert proof.first_tee.isoformat() == "2025-07-11T07:00:00-06:00"
    assert proof.rescue_minutes == 120  # the window ends at 05:00


@pytest.mark.parametrize("seed", range(5))
def test_dead_night_is_wholly_red(busy: Any, seed: int) -> None:
    proof = busy.proved(seed, pump_trip_at="20:50")
    assert proof.verdict is RED
    assert counts(proof) == {RED: 24}
    assert len(proof.rescue) == 24
    assert proof.metered_m3 == 0.0
    assert max(row.delivered_min for row in proof.stations) == pytest.approx(0, abs=1e-9)
    assert told(proof, "proof-no-flow").severity is Severity.ERROR


def test_pump_trip_parts_the_night(busy: Any) -> None:
    # four stations each 25 min: from 22:15 on S12 and after
    proof = busy.proved(pump_trip_at="22:14")
    verdicts = by_station(proof)
    assert all(verdicts[f"S{i}"].verdict is GREEN for i in range(12))
    assert all(verdicts[f"S{i}"].verdict is RED for i in range(12, 24))
    message = told(proof, "proof-no-flow").message
    assert message.startswith("From 22:15 to 23:29 stations were open and no water flowed")
    assert "45" in verdicts["S12"].reason or "24 of its 24" in verdicts["S12"].reason


def test_station_cut_short_by_the_trip_keeps_what_it_got(busy: Any) -> None:
    proof = busy.proved(pump_trip_at="22:33")  # 18 of the 24 min of S12 to S15
    row = by_station(proof)["S12"]
    assert row.delivered_min == pytest.approx(18, abs=0.5)
    assert row.verdict is AMBER
    assert row.delivered_mm == pytest.approx(6.0 * 18 / 24, abs=0.2)
    early = by_station(busy.proved(pump_trip_at="22:21"))["S12"]
    assert early.verdict is RED
    assert early.delivered_min == pytest.approx(6, abs=0.5)


def test_pump_that_restarts_leaves_the_rest_green(busy: Any) -> None:
    proof = busy.proved(pump_trip_at="21:50", pump_restart_at="22:40")
    found = [i for i, row in enumerate(proof.stations) if row.verdict is RED]
    assert found == list(range(8, 16))
    assert counts(proof)[GREEN] == 16


def test_silent_path_was_not_commanded(busy: Any) -> None:
    proof = busy.proved(silent_controllers=("B",))
    red = {row.station for row in proof.stations if row.verdict is RED}
    assert red == {f"S{i}" for i in range(1, 24, 2)}
    assert by_station(proof)["S1"].reason == "The log shows no opening."
    assert told(proof, "proof-not-commanded").severity is Severity.ERROR
    assert counts(proof)[GREEN] == 12
    assert proof.commanded_m3 == pytest.approx(proof.planned_m3 / 2, rel=0.01)


def test_paths_that_always_run_together_cannot_be_told_apart(busy: Any) -> None:
    for seed in range(5):
        proof = busy.proved(seed, dead_controllers=("B",))
        red = {row.station for row in proof.stations if row.verdict is RED}
        # both paths always run together here, so no fit can part them: amber for all
        assert red == set()
        assert counts(proof)[AMBER] == 24
        assert "proof-block-off" in codes(proof)


def uneven_runs() -> list[Run]:
    """Paths in turn: 3 of A with 1 of B, then the other way."""
    runs = []
    for i in range(24):
        step = i // 4
        runs.append(Run(f"S{i}", 25 * step + (12 if (i + step) % 3 == 0 else 0), 24, 1, 1))
    return runs


def test_dry_path_is_told_from_its_neighbours(make_case: Callable[[list[Run]], Any]) -> None:
    case = make_case(uneven_runs())
    for seed in range(5):
        proof = case.proved(seed, dead_controllers=("B",))
        red = {row.station for row in proof.stations if row.verdict is RED}
        assert red == {f"S{i}" for i in range(1, 24, 2)}
        assert counts(proof)[GREEN] == 12
        assert told(proof, "proof-path-dead").subject == "controllers:B"
        assert by_station(proof)["S1"].delivered_min == 0.0
        assert by_station(proof)["S0"].delivered_min == pytest.approx(24, abs=0.2)


def test_sound_night_never_names_a_path(make_case: Callable[[list[Run]], Any]) -> None:
    case = make_case(uneven_runs())
    assert all("proof-path-dead" not in codes(case.proved(seed)) for seed in range(10))


def test_station_alone_and_dead_is_red(make_case: Callable[[list[Run]], Any]) -> None:
    case = make_case([Run(f"S{i}", 20 * i, 18, 1, 1) for i in range(12)])
    proof = case.proved(dead_stations=("S5",))
    assert by_station(proof)["S5"].verdict is RED
    assert counts(proof) == {GREEN: 11, RED: 1}
    assert [row.station for row in proof.rescue] == ["S5"]


def test_one_dead_station_of_four_makes_its_block_amber(busy: Any) -> None:
    proof = busy.proved(dead_stations=("S5",))
    amber = {row.station for row in proof.stations if row.verdict is AMBER}
    assert {"S4", "S5", "S6", "S7"} <= amber
    assert counts(proof)[RED] == 0
    assert proof.verdict is AMBER
    assert "Metered 8" in by_station(proof)["S5"].reason  # blocks hold others as well


def test_leak_shows_in_base_flow_not_in_stations(busy: Any) -> None:
    proof = busy.proved(leak_l_s=0.3)
    assert proof.base_flow_l_s == pytest.approx(0.3, rel=0.05)
    assert counts(proof) == {GREEN: 24}
    assert proof.verdict is AMBER
    message = told(proof, "proof-base-flow").message
    assert "from 20:40 to" in message or "from 23:" in message
    assert "3.8% of the" in message or "3.7% of the" in message


def test_small_base_flow_is_not_told(busy: Any) -> None:
    assert "proof-base-flow" not in codes(busy.proved(leak_l_s=0.05))


def test_burst_during_the_night_puts_the_total_off(busy: Any) -> None:
    proof = busy.proved(leak_l_s=2.0, leak_from="22:30")
    assert {"proof-base-flow", "proof-total-off"} <= codes(proof)
    assert proof.verdict is AMBER


def test_stuck_station_shows_as_base_flow(busy: Any) -> None:
    proof = busy.proved(stuck_stations=("S20",))
    assert proof.base_flow_l_s == pytest.approx(2.0, rel=0.06)
    assert "proof-base-flow" in codes(proof)


def test_lost_log_is_amber_and_proves_nothing(busy: Any) -> None:
    proof = busy.proved(log_lost=True)
    assert counts(proof) == {AMBER: 24}
    assert codes(proof) == {"proof-log-missing"}
    assert math.isnan(proof.commanded_m3)
    assert all(math.isnan(row.commanded_min) for row in proof.stations)
    assert proof.commanded_l_s == ()
    assert set(proof.irrigation["evidence"]) == {"planned"}


def test_lost_log_does_not_hide_a_dead_night(busy: Any) -> None:
    proof = busy.proved(log_lost=True, pump_trip_at="20:50")
    assert counts(proof) == {RED: 24}
    assert set(proof.irrigation["evidence"]) == {"proved"}
    assert proof.irrigation["depth_mm"].max() == 0.0


def test_lost_meter_is_amber_and_proves_nothing(busy: Any) -> None:
    proof = busy.proved(meter_lost=("20:30", "06:00"))
    assert counts(proof) == {AMBER: 24}
    assert codes(proof) == {"proof-meter-missing"}
    assert math.isnan(proof.metered_m3)
    assert math.isnan(proof.energy_kwh)
    assert math.isnan(proof.base_flow_l_s)
    assert proof.metered_l_s == ()
    assert proof.missing_meter_min == 480
    assert all(block.agrees is None for block in proof.blocks)
    assert set(proof.irrigation["evidence"]) == {"planned"}


def test_gap_of_the_meter_leaves_only_its_stations_unproven(busy: Any) -> None:
    proof = busy.proved(meter_lost=("21:25", "21:50"))
    amber = {row.station for row in proof.stations if row.verdict is AMBER}
    assert amber == {"S4", "S5", "S6", "S7"}
    assert proof.missing_meter_min == 25
    assert "25 of 480 min, first at 21:25" in told(proof, "proof-meter-gaps").message
    assert proof.compared_m3 == pytest.approx(proof.commanded_m3 * 20 / 24, rel=0.01)
    assert "proof-total-off" not in codes(proof)
    evidence = proof.irrigation.set_index("area")["evidence"]
    assert evidence["A4"] == "planned"
    assert evidence["A0"] == "proved"


def test_neither_log_nor_meter(busy: Any) -> None:
    proof = busy.proved(log_lost=True, meter_lost=("20:30", "06:00"))
    assert proof.verdict is AMBER
    assert codes(proof) == {"proof-log-missing", "proof-meter-missing"}
    assert by_station(proof)["S0"].delivered_min == 24  # the plan is all that is known
    assert set(proof.irrigation["evidence"]) == {"planned"}


def test_station_that_nobody_planned(busy: Any) -> None:
    run = busy.rehearsed()
    fewer = replace(busy, night=replace(busy.night, runs=busy.night.runs[:-1]))
    proof = fewer.judged(run.commands, run.samples)
    row = by_station(proof)["S23"]
    assert row.verdict is AMBER
    assert row.reason == "It ran 24 min that the plan does not hold."
    assert "proof-unplanned" in codes(proof)
    assert row.planned_min == 0


def test_station_closed_early_is_short(busy: Any) -> None:
    run = busy.rehearsed()
    log = run.commands.copy()
    closes = log[(log["station"] == "S0") & (log["event"] == "close")].index
    log.loc[closes, "time"] = "2025-07-11T03:18:00Z"
    row = by_station(busy.judged(log, run.samples))["S0"]
    assert row.verdict is AMBER
    assert row.commanded_min == pytest.approx(18, abs=0.2)
    log.loc[closes, "time"] = "2025-07-11T03:08:00Z"
    row = by_station(busy.judged(log, run.samples))["S0"]
    assert row.verdict is RED
    assert row.reason.startswith("It was commanded only 8 of 24 min")


def test_order_of_rows_does_not_matter(busy: Any) -> None:
    run = busy.rehearsed(dead_stations=("S5",))
    shuffled = busy.judged(
        run.commands.sample(frac=1, random_state=1), run.samples.sample(frac=1, random_state=1)
    )
    assert repr(shuffled) == repr(busy.judged(run.commands, run.samples))


def test_two_meters_are_added_up(busy: Any) -> None:
    run = busy.rehearsed()
    halves = [run.samples.assign(meter=name, flow_l_s=run.samples["flow_l_s"] / 2) for name in "XY"]
    both = pd.concat(halves, ignore_index=True)
    proof = busy.judged(run.commands, both)
    assert proof.metered_m3 == pytest.approx(busy.proved().metered_m3)
    assert proof.verdict is GREEN
    short = busy.judged(run.commands, both.drop(both.index[100:130]))
    assert short.missing_meter_min == 30  # half a flow is no flow


def test_empty_night_is_green_and_quiet(make_case: Callable[[list[Run]], Any]) -> None:
    proof = make_case([]).proved()
    assert proof.stations == ()
    assert proof.planned_m3 == 0.0
    assert proof.metered_m3 == 0.0
    assert "proof-base-flow" not in codes(proof)


def test_findings_say_what_and_what_to_do(busy: Any) -> None:
    for faults in (
        {"pump_trip_at": "21:30"},
        {"silent_controllers": ("A",)},
        {"leak_l_s": 1.0},
        {"log_lost": True, "meter_lost": ("21:30", "23:00")},
    ):
        for finding in busy.proved(**faults).findings:
            assert finding.code.startswith(("proof-", "log-"))
            assert finding.message.endswith(".")
            assert finding.fix.endswith(".")
            assert "nan" not in finding.message


runs_of_a_night = st.lists(
    st.tuples(st.integers(0, 23), st.integers(0, 380), st.integers(6, 40)),
    min_size=1,
    max_size=24,
    unique_by=lambda row: row[0],
).map(lambda rows: [Run(f"S{i}", start, length, 1, 1) for i, start, length in rows])
seeds = st.integers(0, 2**31)
slow = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@slow
@given(runs_of_a_night, seeds)
def test_any_dead_night_is_found_whole(
    make_case: Callable[[list[Run]], Any], runs: list[Run], seed: int
) -> None:
    proof = make_case(runs).proved(seed, pump_trip_at="20:30")
    assert counts(proof) == {RED: len(runs)}
    assert proof.verdict is RED
    assert proof.irrigation["depth_mm"].max() == pytest.approx(0.0, abs=1e-9)


@slow
@given(runs_of_a_night, seeds, st.integers(0, 400), st.integers(20, 200))
def test_any_tripped_block_is_found_whole(
    make_case: Callable[[list[Run]], Any], runs: list[Run], seed: int, trip: int, length: int
) -> None:
    """No station that lay wholly in a trip is green, all are red, and none beyond it is."""
    clocks = [
        f"{(21 + minute // 60) % 24:02d}:{minute % 60:02d}" for minute in (trip, trip + length)
    ]
    proof = make_case(runs).proved(seed, pump_trip_at=clocks[0], pump_restart_at=clocks[1])
    verdicts = by_station(proof)
    for run in runs:
        inside = trip <= run.start_min and run.start_min + run.run_min <= trip + length
        beside = run.start_min + run.run_min <= trip - 1 or run.start_min >= trip + length + 1
        if inside:
            assert verdicts[run.station].verdict is RED
            assert verdicts[run.station].delivered_min <= 1.0
        if beside:
            assert verdicts[run.station].verdict is not RED


@slow
@given(runs_of_a_night, seeds)
def test_any_sound_night_has_no_red(
    make_case: Callable[[list[Run]], Any], runs: list[Run], seed: int
) -> None:
    proof = make_case(runs).proved(seed)
    assert counts(proof)[RED] == 0
    assert {f.code for f in proof.findings if f.severity is Severity.ERROR} == set()
    for row in proof.stations:
        assert row.delivered_min == pytest.approx(row.planned_min, rel=0.12, abs=0.3)


@slow
@given(runs_of_a_night, seeds)
def test_any_lost_witness_is_never_green(
    make_case: Callable[[list[Run]], Any], runs: list[Run], seed: int
) -> None:
    case = make_case(runs)
    for faults in ({"log_lost": True}, {"meter_lost": ("20:00", "06:00")}):
        proof = case.proved(seed, **faults)
        assert counts(proof)[GREEN] == 0
        assert proof.verdict is not GREEN
        assert set(proof.irrigation["evidence"]) <= {"planned", "proved"}
