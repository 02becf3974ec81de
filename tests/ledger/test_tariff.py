"""Energy by period, demand by the quarter hour, and published tariffs recomputed by hand."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.ground.settings import MoneyRules, TariffPeriod
from nightwater.ledger.pumping import Lift, estimated_energy_kwh, power_series_kw
from nightwater.ledger.tariff import (
    OTHERWISE,
    Usage,
    added,
    bill,
    in_blocks,
    period_of,
    together,
    usage_by_month,
)
from nightwater.units import M_PER_FT

ZONE = "America/Denver"
PEAK = TariffPeriod("peak", "16:00", "21:00", weekdays=("mon", "tue", "wed", "thu", "fri"),
                    per_kwh=0.3, per_kw=10.0)  # fmt: skip
NIGHT = TariffPeriod("night", "22:00", "06:00", per_kwh=0.05, per_kw=2.0)
TIMES = MoneyRules(energy_per_kwh=0.1, demand_per_kw=5.0, periods=(PEAK, NIGHT))
THURSDAY = datetime(2025, 7, 10, 20, tzinfo=UTC)  # 14:00 at the course


def local(hour: int, minute: int = 0, day: int = 10, month: int = 7) -> datetime:
    return datetime(2025, month, day, hour, minute)


@pytest.mark.parametrize(
    ("moment", "name"),
    [
        (local(15, 59), OTHERWISE),
        (local(16), "peak"),
        (local(20, 59), "peak"),
        (local(21), OTHERWISE),
        (local(22), "night"),
        (local(0), "night"),
        (local(5, 59), "night"),
        (local(6), OTHERWISE),
        (local(17, day=12), OTHERWISE),  # a Saturday
    ],
)
def test_a_moment_belongs_to_the_first_period_that_holds_it(moment: datetime, name: str) -> None:
    assert period_of(moment, TIMES) == name


def test_months_limit_a_period_and_the_first_of_two_counts() -> None:
    summer = replace(PEAK, name="summer", months=(6, 7, 8))
    money = MoneyRules(periods=(summer, PEAK))
    assert period_of(local(17), money) == "summer"
    assert period_of(local(17, day=10, month=4), money) == "peak"


def test_energy_and_demand_are_taken_by_period() -> None:
    power = np.zeros(24 * 60)
    power[90:150] = 40.0  # 15:30 to 16:30: half before the peak, half in it
    (usage,) = usage_by_month(power, THURSDAY, TIMES, ZONE).values()
    assert usage.kwh[OTHERWISE] == pytest.approx(20.0)
    assert usage.kwh["peak"] == pytest.approx(20.0)
    assert usage.kw["peak"] == usage.kw[OTHERWISE] == 40.0
    assert usage.kw["night"] == 0.0


def test_demand_is_the_mean_of_a_quarter_hour_of_the_clock() -> None:
    power = np.zeros(60)
    power[10:20] = 30.0  # five minutes in one quarter, five in the next
    (usage,) = usage_by_month(power, THURSDAY, TIMES, ZONE).values()
    assert usage.highest_kw == pytest.approx(10.0)
    (hour,) = usage_by_month(power, THURSDAY, replace(TIMES, demand_min=60), ZONE).values()
    assert hour.highest_kw == pytest.approx(5.0)


def test_a_start_within_a_quarter_keeps_to_the_clock() -> None:
    start = THURSDAY + timedelta(minutes=10)
    (usage,) = usage_by_month(np.full(5, 30.0), start, TIMES, ZONE).values()
    assert usage.highest_kw == pytest.approx(10.0)
    assert sum(usage.kwh.values()) == pytest.approx(2.5)


def test_a_night_over_the_end_of_a_month_is_in_both() -> None:
    start = datetime(2025, 8, 1, 5, tzinfo=UTC)  # 23:00 on 31 July
    found = usage_by_month(np.full(120, 10.0), start, TIMES, ZONE)
    assert {month: usage.kwh["night"] for month, usage in found.items()} == {
        (2025, 7): pytest.approx(10.0),
        (2025, 8): pytest.approx(10.0),
    }


def test_a_bill_names_each_period() -> None:
    usage = Usage({OTHERWISE: 100.0, "peak": 10.0, "night": 1000.0}, {"peak": 20.0, "night": 120.0})
    lines = {line.period: line for line in bill(usage, TIMES).lines}
    assert lines[OTHERWISE].energy_money == pytest.approx(10.0)
    assert lines[OTHERWISE].demand_money == pytest.approx(120 * 5.0)
    assert (lines["peak"].energy_money, lines["peak"].demand_money) == (
        pytest.approx(3.0),
        pytest.approx(200.0),
    )
    assert lines["night"].energy_money == pytest.approx(50.0)
    assert bill(usage, TIMES).money == pytest.approx(10 + 600 + 3 + 200 + 50 + 240)


def test_nothing_drawn_costs_nothing() -> None:
    assert bill(Usage(), TIMES).money == 0.0
    assert usage_by_month([], THURSDAY, TIMES, ZONE) == {}


@pytest.mark.parametrize(
    ("amount", "money"), [(0, 0.0), (50, 5.0), (100, 10.0), (150, 14.0), (300, 23.0)]
)
def test_blocks_are_filled_one_after_the_other(amount: float, money: float) -> None:
    blocks = ((100.0, 0.1), (200.0, 0.08))
    assert in_blocks(amount, blocks, 0.05) == pytest.approx(money)
    assert in_blocks(2 * amount, blocks, 0.05, stretch=2.0) == pytest.approx(2 * money)


nights = st.lists(st.lists(st.floats(0, 200), min_size=30, max_size=200), min_size=1, max_size=5)


@given(nights=nights, split=st.booleans())
def test_what_the_nights_add_is_the_months_bill(nights: list[list[float]], split: bool) -> None:
    start = datetime(2025, 7, 30 if split else 10, 3, tzinfo=UTC)
    blocks = replace(NIGHT, kwh_blocks=((300.0, 0.09),), kw_blocks=((50.0, 4.0),))
    money = replace(TIMES, periods=(PEAK, blocks))
    before: dict[tuple[int, int], Usage] = {}
    total = 0.0
    for day, power in enumerate(nights):
        usage = usage_by_month(power, start + timedelta(days=day), money, ZONE)
        cost = added(usage, before, money)
        assert cost.kwh == pytest.approx(sum(power) / 60)
        total += cost.money
        for month, mine in usage.items():
            before[month] = together([before.get(month, Usage()), mine])
    assert total == pytest.approx(sum(bill(usage, money).money for usage in before.values()))


def test_a_night_no_higher_than_those_before_pays_no_demand() -> None:
    before = {(2025, 7): Usage({"night": 500.0}, {"night": 100.0})}
    low = added({(2025, 7): Usage({"night": 50.0}, {"night": 80.0})}, before, TIMES)
    assert (low.energy_money, low.demand_money) == (pytest.approx(2.5), 0.0)
    high = added({(2025, 7): Usage({"night": 50.0}, {"night": 120.0})}, before, TIMES)
    assert high.demand_money == pytest.approx(20 * (5.0 + 2.0))


# ---- power ------------------------------------------------------------------------------------

DEMO = Lift(292 * M_PER_FT, 0.78, 0.93)


def test_the_trades_pump_draws_137_kilowatts() -> None:
    """1,800 gpm at 292 ft, 0.78 and 0.925 through the drive: about 137 kW (TRADE, demo club)."""
    flow_l_s = 1800 * 3.785411784 / 60
    lift = Lift(292 * M_PER_FT, 0.78, 0.925)
    assert float(power_series_kw([flow_l_s], lift)[0]) == pytest.approx(137, abs=0.6)


def test_power_adds_up_to_the_ledgers_energy() -> None:
    flow = np.array([0.0, 10.0, 55.5, 100.0] * 30)
    energy = power_series_kw(flow, DEMO).sum() / 60
    assert energy == pytest.approx(estimated_energy_kwh(flow.sum() * 60 / 1000, DEMO))


def test_solved_heads_take_the_place_of_the_records() -> None:
    half = power_series_kw([50.0, 50.0], DEMO, head_m=[DEMO.head_m, DEMO.head_m / 2])
    assert half[1] == pytest.approx(half[0] / 2)


def test_an_unknown_head_is_missing_only_where_water_flows() -> None:
    unknown = power_series_kw([0.0, 1.0], Lift(float("nan"), 0.78, 0.93))
    assert unknown[0] == 0.0
    assert np.isnan(unknown[1])


# ---- published tariffs ------------------------------------------------------------------------


def published(name: str) -> Any:
    folder = os.environ.get("NIGHTWATER_DATA")
    if not folder:
        pytest.skip("NIGHTWATER_DATA is not set: the published tariffs are not here")
    return json.loads((Path(folder) / "tariff" / name).read_text())


def blocks_of(structure: list[dict[str, Any]]) -> tuple[tuple[tuple[float, float], ...], float]:
    """Blocks with their limits, and the price beyond them."""
    limited = tuple((float(b["max"]), float(b["rate"])) for b in structure if "max" in b)
    return limited, float(structure[-1]["rate"])


def months_with(schedule: list[list[int]], number: int) -> tuple[int, ...]:
    """Months of which every hour has a number; the schedules used here know no other."""
    assert all(len(set(hours)) == 1 for hours in schedule)
    return tuple(month for month, hours in enumerate(schedule, 1) if hours[0] == number)


def test_large_power_with_blocks_by_kilowatt() -> None:
    """URDB 539f6a23ec4f024411ec8beb, summer: 300 kWh/kW at 0.049, then 0.033; 16.30 and 14.90 a kW.

    By hand for 60,000 kWh and 150 kW: 45,000 × 0.049 + 15,000 × 0.033 + 100 × 16.3 + 50 × 14.9.
    """
    rate = json.loads(published("urdb_rate_539f6a23ec4f024411ec8beb.json"))["items"][0]
    periods = []
    for number, (energy, demand) in enumerate(
        zip(rate["energyratestructure"], rate["flatdemandstructure"][::-1], strict=True)
    ):
        kwh_blocks, per_kwh = blocks_of(energy)
        kw_blocks, per_kw = blocks_of(demand)
        months = months_with(rate["energyweekdayschedule"], number)
        periods.append(
            TariffPeriod(f"season {number}", months=months, per_kwh=per_kwh, per_kw=per_kw,
                         kwh_blocks=kwh_blocks, block_unit="kwh_per_kw", kw_blocks=kw_blocks)
        )  # fmt: skip
    money = MoneyRules(periods=tuple(periods))
    assert periods[0].months == (6, 7, 8, 9)
    by_hand = 45_000 * 0.049 + 15_000 * 0.033 + 100 * 16.3 + 50 * 14.9
    assert by_hand == 5075.0
    warm = Usage({"season 0": 60_000.0}, {"season 0": 150.0})
    assert bill(warm, money).money == pytest.approx(by_hand, rel=1e-9)
    winter = 45_000 * 0.042 + 15_000 * 0.029 + 100 * 13.5 + 50 * 12.1
    cold = Usage({"season 1": 60_000.0}, {"season 1": 150.0})
    assert bill(cold, money).money == pytest.approx(winter, rel=1e-9)


def test_tiers_of_energy_by_season() -> None:
    """Multi-tier reply, July: 20,000 kWh at 0.078891, then 0.06; 100 kW at 24.368, then 17.031.

    By hand for 30,000 kWh and 150 kW: 1,577.82 + 600 + 2,436.80 + 851.55 = 5,466.17.
    """
    rate = published("multi_tier_urdb_response.json")
    kw_blocks, per_kw = blocks_of(rate["demandratestructure"][1])
    periods = []
    for number in (1, 2):
        kwh_blocks, per_kwh = blocks_of(rate["energyratestructure"][number])
        months = months_with(rate["energyweekdayschedule"], number)
        periods.append(
            TariffPeriod(f"season {number}", months=months, per_kwh=per_kwh, per_kw=per_kw,
                         kwh_blocks=kwh_blocks, kw_blocks=kw_blocks)
        )  # fmt: skip
    money = MoneyRules(periods=tuple(periods))
    power = np.full(30 * 24 * 60, 0.0)
    power[:15] = 150.0
    power[15:] = (30_000 - 150 / 4) / ((len(power) - 15) / 60)
    start = datetime(2025, 7, 1, 6, tzinfo=UTC)  # midnight at the course
    (usage,) = usage_by_month(power, start, money, ZONE).values()
    assert usage.kwh["season 1"] == pytest.approx(30_000)
    assert bill(usage, money).money == pytest.approx(5466.17, rel=1e-6)
