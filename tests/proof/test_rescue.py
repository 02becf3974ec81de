"""What may still be watered before play, and in which order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from nightwater.night.plan import Run
from nightwater.proof.document import proof_from_document, proof_to_document
from nightwater.proof.rescue import CAUTION


def test_greens_first_then_tees_then_the_rest(busy: Any) -> None:
    proof = busy.proved(pump_trip_at="20:50")
    kinds = [row.kind for row in proof.rescue]
    assert kinds == ["green"] * 6 + ["tee"] * 6 + ["fairway"] * 6 + ["rough"] * 6


def test_most_missing_minutes_first_within_a_kind(make_case: Callable[[list[Run]], Any]) -> None:
    runs = [Run("S0", 0, 10, 1, 1), Run("S4", 0, 30, 1, 1), Run("S8", 0, 20, 1, 1)]
    proof = make_case(runs).proved(pump_trip_at="20:50")
    assert [(row.station, row.run_min) for row in proof.rescue] == [
        ("S4", 30),
        ("S8", 20),
        ("S0", 10),
    ]


def test_priority_of_the_settings_is_kept(busy: Any) -> None:
    rules = replace(busy.settings.night, priority=("rough", "green"))
    other = replace(busy, settings=replace(busy.settings, night=rules))
    kinds = [row.kind for row in other.proved(pump_trip_at="20:50").rescue]
    assert kinds[:12] == ["rough"] * 6 + ["green"] * 6


def test_missing_depth_and_minutes(busy: Any) -> None:
    row = busy.proved(pump_trip_at="20:50").rescue[0]
    assert row.missing_min == pytest.approx(24)
    assert row.run_min == 24
    assert row.missing_mm == pytest.approx(6.0)
    # 24 min in cycles of at most 15, with 20 min of soak between
    assert (row.cycles, row.chain_min) == (2, 44)


def test_pump_is_shared_with_all_before(busy: Any) -> None:
    rescue = busy.proved(pump_trip_at="20:50").rescue
    # 2 L/s each, pumps may give 17 L/s: eight at a time. Two cycles of 12 min with 20 min of
    # soak: eight at 0-12 and 32-44, eight at 12-24 and 44-56. The last eight find only eight
    # minutes free from 24 on, so they start when the second eight are done.
    assert [row.start_min for row in rescue] == [0] * 8 + [12] * 8 + [56] * 8
    assert [row.ready_min for row in rescue] == [44] * 8 + [56] * 8 + [100] * 8
    assert all(row.fits for row in rescue)


def test_the_rescue_never_draws_more_than_the_pumps_give(busy: Any) -> None:
    rescue = busy.proved(pump_trip_at="20:50").rescue
    load_l_s = [0.0] * 200
    for row in rescue:
        for start in (row.start_min, row.start_min + 32):
            for minute in range(start, start + 12):
                load_l_s[minute] += 2.0
    assert max(load_l_s) <= busy.night.pump_l_s
    # and every litre is there: 24 stations, 24 min, 2 L/s
    assert sum(load_l_s) == pytest.approx(24 * 24 * 2.0)


def test_a_station_larger_than_the_pumps_runs_alone(busy: Any) -> None:
    small = replace(busy, night=replace(busy.night, pump_l_s=1.0))
    rescue = small.proved(pump_trip_at="20:50").rescue
    spans = {
        minute
        for row in rescue
        for start in (row.start_min, row.start_min + 32)
        for minute in range(start, start + 12)
    }
    assert len(spans) == 24 * 24  # no minute is used twice


def test_without_a_known_capacity_all_start_at_once(busy: Any) -> None:
    unknown = replace(busy, night=replace(busy.night, pump_l_s=0.0))
    assert {row.start_min for row in unknown.proved(pump_trip_at="20:50").rescue} == {0}


def test_a_proof_of_an_earlier_version_has_no_start_times(busy: Any) -> None:
    document = proof_to_document(busy.proved(pump_trip_at="20:50"))
    for row in document["rescue"]:
        del row["start_min"]
    assert {row.start_min for row in proof_from_document(document).rescue} == {None}


def test_what_does_not_fit_before_the_first_tee(busy: Any) -> None:
    early = replace(busy, settings=replace(busy.settings, first_tee="06:00"))
    proof = early.proved(pump_trip_at="20:50")
    assert proof.rescue_minutes == 60
    assert [row.fits for row in proof.rescue] == [True] * 16 + [False] * 8


def test_tee_before_the_nights_end_leaves_no_time(busy: Any) -> None:
    early = replace(busy, settings=replace(busy.settings, first_tee="04:30"))
    proof = early.proved(pump_trip_at="20:50")
    assert proof.rescue_minutes == 0
    assert not any(row.fits for row in proof.rescue)


def test_rescue_is_not_shorter_than_the_turns(make_case: Callable[[list[Run]], Any]) -> None:
    proof = make_case([Run("S0", 0, 4, 1, 1)]).proved(pump_trip_at="20:50")
    assert proof.rescue[0].run_min == 6
    assert proof.rescue[0].missing_min == pytest.approx(4)


def test_amber_stations_are_looked_at_not_watered(busy: Any) -> None:
    assert busy.proved(dead_stations=("S5",)).rescue == ()


def test_caution_stands_with_every_rescue(busy: Any) -> None:
    assert busy.proved(pump_trip_at="20:50").caution == CAUTION
    assert "computed, not observed" in CAUTION
    assert "confirms" in CAUTION
