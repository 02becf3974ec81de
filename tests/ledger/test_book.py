"""Water, energy and money: every litre booked once, and each figure says where it comes from."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import MoneyRules, Settings, Site
from nightwater.ledger.allowance import allocation_m3, price_per_m3, used_in_period_m3
from nightwater.ledger.book import AREA_COLUMNS, COLUMNS, area_rows, ledger_rows, used_water
from nightwater.ledger.pumping import estimated_energy_kwh, lift_of
from nightwater.night.plan import Bound, Night, Run, StationSum, Window
from nightwater.night.rehearsal import Faults, rehearse
from nightwater.proof.verdict import Proof, prove
from nightwater.units import M_PER_FT, to_si

CRS = "EPSG:32613"
ZONE = ZoneInfo("America/Denver")
NIGHT = date(2025, 7, 10)
FLOW_L_S = 2.0
SITE = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", CRS)
MONEY = MoneyRules(energy_per_kwh=0.072, water_per_m3=0.5)
SETTINGS = Settings(SITE, money=MONEY)
DEMO_HEAD_M = 292 * M_PER_FT


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def ground_of(sources: dict[str, dict[str, Any]] | None = None, **pump: Any) -> Ground:
    row = {"capacity_l_s": 50.0, "head_m": DEMO_HEAD_M, "pump_efficiency": 0.78}
    row |= {"motor_efficiency": 0.93, "geometry": Point(0, 0)} | pump
    tables = {"pumps": frame({"P": row})}
    tables["stations"] = frame({f"S{i}": {"flow_listed_l_s": FLOW_L_S} for i in range(6)})
    if sources:
        placed = {key: {**value, "geometry": Point(0, 0)} for key, value in sources.items()}
        tables["sources"] = frame(placed)
    return ground_from(CRS, tables)


def station_sum(station: str, area: str) -> StationSum:
    return StationSum(
        station=station,
        area=area,
        kind="fairway",
        need_mm=5.0,
        rate_mm_h=18.0,
        flow_l_s=FLOW_L_S,
        heads=1,
        du_lq=0.7,
        multiplier=1.2,
        multiplier_name="du_lq",
        trim_factor=1.0,
        extra_min=0.0,
        trim_reason="",
        exact_min=20.0,
        floor_min=6,
        run_min=20,
        max_cycle_min=20,
        soak_min=0,
        cycles_min=(20,),
        wetted_m2=400.0,
    )


def night_of(runs: list[Run], day: date = NIGHT) -> Night:
    start = datetime(day.year, day.month, day.day, 21, tzinfo=ZONE)
    flow = np.zeros(480)
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += FLOW_L_S
    finish = max((run.start_min + run.run_min for run in runs), default=0)
    return Night(
        night=day,
        window=Window(start, start + timedelta(hours=8)),
        runs=tuple(runs),
        left_out=(),
        flow_l_s=tuple(flow),
        bound=Bound(finish, "pump"),
        finish_min=finish,
        sums=tuple(station_sum(f"S{i}", f"A{i % 2}") for i in range(6)),
        findings=(),
        pump_l_s=42.5,
    )


def plain_night(day: date = NIGHT) -> Night:
    """Three stations of 20 min, two of them together: 7.2 m³ in 40 minutes."""
    return night_of([Run("S0", 0, 20, 1, 1), Run("S1", 0, 20, 1, 1), Run("S2", 20, 20, 1, 1)], day)


def proved(night: Night, ground: Ground, **faults: Any) -> Proof:
    run = rehearse(night, ground, Faults(**faults), seed=1)
    return prove(night, run.commands, run.samples, ground, SETTINGS)


def test_rows_by_night_oldest_first() -> None:
    days = [NIGHT + timedelta(days=day) for day in (2, 0, 1)]
    rows = ledger_rows([(plain_night(day), None) for day in days], ground_of(), SETTINGS)
    assert list(rows.index) == sorted(days)
    assert rows.index.name == "night"
    assert list(rows.columns) == list(COLUMNS)
    assert "night" in rows.reset_index()


def test_no_nights_is_an_empty_table() -> None:
    rows = ledger_rows([], ground_of(), SETTINGS)
    assert rows.empty
    assert list(rows.columns) == list(COLUMNS)


def test_planned_night() -> None:
    row = ledger_rows([(plain_night(), None)], ground_of(), SETTINGS).iloc[0]
    assert row["planned_m3"] == pytest.approx(7.2)
    assert row["used_m3"] == pytest.approx(7.2)
    assert row["evidence"] == "planned"
    assert math.isnan(row["commanded_m3"])
    assert math.isnan(row["metered_m3"])
    assert row["hours"] == pytest.approx(40 / 60)
    assert row["station_hours"] == pytest.approx(1.0)
    assert row["energy_evidence"] == "computed"


def test_metered_night_books_the_meter() -> None:
    night, ground = plain_night(), ground_of()
    proof = proved(night, ground)
    row = ledger_rows([(night, proof)], ground, SETTINGS).iloc[0]
    assert row["used_m3"] == proof.metered_m3
    assert row["evidence"] == "metered"
    assert row["commanded_m3"] == pytest.approx(7.2, rel=0.01)
    assert row["station_hours"] == pytest.approx(1.0, rel=0.01)
    assert row["energy_kwh"] == pytest.approx(proof.energy_kwh)
    assert row["energy_evidence"] == "metered"


def test_failed_night_books_what_flowed() -> None:
    night, ground = plain_night(), ground_of()
    proof = proved(night, ground, pump_trip_at="21:20")
    row = ledger_rows([(night, proof)], ground, SETTINGS).iloc[0]
    assert row["planned_m3"] == pytest.approx(7.2)
    assert row["used_m3"] == pytest.approx(4.8, rel=0.06)


def test_leak_is_water_used() -> None:
    night, ground = plain_night(), ground_of()
    assert used_water(night, proved(night, ground, leak_l_s=1.0))[0] == pytest.approx(
        7.2 + 480 * 60 / 1000, rel=0.05
    )


def test_lost_minutes_of_the_meter_are_made_up_from_the_log() -> None:
    night, ground = plain_night(), ground_of()
    used_m3, evidence = used_water(night, proved(night, ground, meter_lost=("21:20", "21:45")))
    assert evidence == "part metered"
    assert used_m3 == pytest.approx(7.2, rel=0.06)


@pytest.mark.parametrize(
    ("faults", "evidence"),
    [
        ({"meter_lost": ("20:00", "06:00")}, "commanded"),
        ({"meter_lost": ("20:00", "06:00"), "log_lost": True}, "planned"),
        ({"log_lost": True}, "metered"),
    ],
)
def test_evidence_of_a_night(faults: dict[str, Any], evidence: str) -> None:
    night, ground = plain_night(), ground_of()
    used_m3, said = used_water(night, proved(night, ground, **faults))
    assert said == evidence
    assert used_m3 == pytest.approx(7.2, rel=0.06)


def test_energy_of_the_demo_pump() -> None:
    # 292 ft, 0.78 and 0.93: 1.26 kWh per 1,000 gal; 761 kgal at 1.264 are 962 kWh (common practice)
    lift = lift_of(ground_of().pumps)
    per_kgal = estimated_energy_kwh(float(to_si(1.0, "kgal")), lift)
    assert per_kgal == pytest.approx(1.264, abs=0.0015)
    assert estimated_energy_kwh(float(to_si(761.0, "kgal")), lift) == pytest.approx(962, abs=1.5)


def test_energy_of_a_night_follows_its_water() -> None:
    ground = ground_of()
    row = ledger_rows([(plain_night(), None)], ground, SETTINGS).iloc[0]
    assert row["energy_kwh"] == pytest.approx(estimated_energy_kwh(7.2, lift_of(ground.pumps)))


def test_set_pressure_stands_for_an_unknown_head() -> None:
    lift = lift_of(ground_of(head_m=None, set_pressure_kpa=980.665).pumps)
    assert lift.head_m == pytest.approx(100.0)


def test_unknown_lift_is_missing_not_nothing() -> None:
    row = ledger_rows([(plain_night(), None)], ground_of(head_m=None), SETTINGS).iloc[0]
    assert math.isnan(row["energy_kwh"])
    assert row["energy_evidence"] == "missing"
    assert math.isnan(row["money"])


def test_pumps_are_weighed_by_their_capacity() -> None:
    big = {"capacity_l_s": 30.0, "head_m": 100.0, "geometry": Point(0, 0)}
    small = {"capacity_l_s": 10.0, "head_m": 60.0, "geometry": Point(0, 0)}
    ground = ground_from(CRS, {"pumps": frame({"P": big, "J": small})})
    assert lift_of(ground.pumps).head_m == pytest.approx(90.0)
    assert lift_of(ground.pumps).pump_efficiency == 0.75


def test_money_of_water_and_energy() -> None:
    row = ledger_rows([(plain_night(), None)], ground_of(), SETTINGS).iloc[0]
    assert row["water_money"] == pytest.approx(7.2 * 0.5)
    assert row["energy_money"] == pytest.approx(row["energy_kwh"] * 0.072)
    assert row["money"] == pytest.approx(row["water_money"] + row["energy_money"])


def test_price_of_the_sources_wins() -> None:
    sources = ground_of({"C": {"price_per_m3": 0.08}, "W": {"price_per_m3": None}}).sources
    assert price_per_m3(sources, 0.5) == pytest.approx(0.08)
    assert price_per_m3(ground_of().sources, 0.5) == 0.5


CANAL = {
    "allocation_m3": 1000.0,
    "period_start": "2025-04-15",
    "period_end": "2025-07-12",
    "used_before_m3": 900.0,
}


def test_allocation_runs_down_night_by_night() -> None:
    days = [NIGHT + timedelta(days=day) for day in range(3)]
    rows = ledger_rows(
        [(plain_night(day), None) for day in days], ground_of({"C": CANAL}), SETTINGS
    )
    assert rows["used_in_period_m3"].tolist() == pytest.approx([907.2, 914.4, 921.6])
    assert rows["allocation_left_m3"].tolist() == pytest.approx([92.8, 85.6, 78.4])


def test_allocation_overdrawn_is_below_nothing() -> None:
    ground = ground_of({"C": CANAL | {"used_before_m3": 999.0}})
    row = ledger_rows([(plain_night(), None)], ground, SETTINGS).iloc[0]
    assert row["allocation_left_m3"] == pytest.approx(-6.2)


def test_new_period_starts_anew() -> None:
    renewed = {"allocation_m3": 500.0, "period_start": "2025-07-13", "period_end": "2026-04-14"}
    ground = ground_of({"C": CANAL, "D": renewed})
    days = [date(2025, 7, 12), date(2025, 7, 13), date(2025, 7, 14)]
    rows = ledger_rows([(plain_night(day), None) for day in days], ground, SETTINGS)
    assert rows["allocation_left_m3"].tolist() == pytest.approx([92.8, 492.8, 485.6])


def test_sources_are_one_pool() -> None:
    well = {"allocation_m3": 200.0, "used_before_m3": 50.0}
    sources = ground_of({"C": CANAL, "W": well}).sources
    assert allocation_m3(sources, NIGHT) == 1200.0
    assert used_in_period_m3(sources, [NIGHT], [7.0]) == [957.0]


def test_no_allocation_is_unknown() -> None:
    sources = ground_of({"C": {"price_per_m3": 1.0}}).sources
    assert math.isnan(allocation_m3(sources, NIGHT))
    row = ledger_rows([(plain_night(), None)], ground_of(), SETTINGS).iloc[0]
    assert math.isnan(row["allocation_left_m3"])


def test_unknown_night_makes_the_rest_of_the_period_unknown() -> None:
    sources = ground_of({"C": CANAL}).sources
    days = [NIGHT, NIGHT + timedelta(days=1)]
    assert np.isnan(used_in_period_m3(sources, days, [math.nan, 7.0])).all()


def test_areas_share_out_the_water() -> None:
    night, ground = plain_night(), ground_of()
    rows = area_rows([(night, proved(night, ground))])
    assert list(rows.columns) == list(AREA_COLUMNS)
    by_area = rows.set_index("area")
    assert by_area["planned_m3"].to_dict() == pytest.approx({"A0": 4.8, "A1": 2.4})
    assert by_area["delivered_m3"].to_dict() == pytest.approx({"A0": 4.8, "A1": 2.4}, rel=0.01)
    assert set(rows["evidence"]) == {"proved"}


def test_areas_of_an_unproved_night_are_the_plan() -> None:
    rows = area_rows([(plain_night(), None)]).set_index("area")
    assert rows["planned_m3"].to_dict() == pytest.approx({"A0": 4.8, "A1": 2.4})
    assert rows["delivered_m3"].isna().all()
    assert set(rows["evidence"]) == {"planned"}
    # S0 and S2 of three stations: 20 min at 18 mm/h over 1.2 is 5 mm
    assert rows["depth_mm"].to_dict() == pytest.approx({"A0": 10 / 3, "A1": 5 / 3})


def test_areas_of_no_nights() -> None:
    assert area_rows([]).empty
    assert area_rows([(replace(plain_night(), sums=()), None)]).empty


run_lists = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 400), st.integers(1, 60)), min_size=1, max_size=12
).map(lambda rows: [Run(f"S{i}", start, length, 1, 1) for i, start, length in rows])
SUMMED = ["planned_m3", "used_m3", "station_hours", "energy_kwh", "water_money", "energy_money"]


@settings(deadline=None)
@given(run_lists, st.data())
def test_litres_kwh_and_money_close_over_any_split(runs: list[Run], data: st.DataObject) -> None:
    """A night cut in two at any minute books as much as the whole."""
    cut = data.draw(st.integers(0, 460))
    first = [
        replace(run, run_min=min(run.run_min, cut - run.start_min))
        for run in runs
        if run.start_min < cut
    ]
    second = [
        replace(
            run,
            start_min=max(run.start_min, cut),
            run_min=run.start_min + run.run_min - max(run.start_min, cut),
        )
        for run in runs
        if run.start_min + run.run_min > cut
    ]
    ground = ground_of({"C": CANAL})
    whole = ledger_rows([(night_of(runs), None)], ground, SETTINGS)
    later = NIGHT + timedelta(days=1)
    parts = ledger_rows(
        [(night_of(first), None), (night_of(second, later), None)], ground, SETTINGS
    )
    for column in SUMMED:
        assert parts[column].sum() == pytest.approx(whole[column].sum())
    left = "allocation_left_m3"
    assert parts[left].iloc[-1] == pytest.approx(whole[left].iloc[-1])


@settings(deadline=None, max_examples=40)
@given(run_lists)
def test_areas_hold_every_litre_of_the_night(runs: list[Run]) -> None:
    night = night_of(runs)
    assert area_rows([(night, None)])["planned_m3"].sum() == pytest.approx(night.volume_m3)


@settings(deadline=None, max_examples=25)
@given(run_lists, st.integers(0, 2**31))
def test_areas_hold_every_delivered_litre(runs: list[Run], seed: int) -> None:
    night, ground = night_of(runs), ground_of()
    run = rehearse(night, ground, Faults(), seed=seed)
    proof = prove(night, run.commands, run.samples, ground, SETTINGS)
    delivered = sum(row.delivered_min for row in proof.stations) * FLOW_L_S * 60 / 1000
    assert area_rows([(night, proof)])["delivered_m3"].sum() == pytest.approx(delivered)
