"""What a planned night draws and costs, on the demo's kind of settings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, datetime
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from nightwater.desk import costing
from nightwater.desk.costing import cost_document, cost_words, night_cost
from nightwater.ground.settings import MoneyRules, Settings, Site, TariffPeriod
from nightwater.night.plan import Bound, Night, Window

ZONE = ZoneInfo("America/Denver")
OFF = TariffPeriod("off peak", "22:00", "06:00", per_kwh=0.05)
MONEY = MoneyRules(energy_per_kwh=0.1, demand_per_kw=8.0, water_per_m3=0.5, periods=(OFF,))
PUMP_KW = 50.0 * 100.0 * 9.80665 / 1000 / 0.75 / 0.9  # 50 L/s at 100 m


def night_of(day: date, flow_l_s: float, minutes: int = 240) -> Night:
    start = datetime(day.year, day.month, day.day, 21, tzinfo=ZONE)
    window = Window(start, datetime(day.year, day.month, day.day + 1, 5, tzinfo=ZONE))
    flow = [flow_l_s] * minutes + [0.0] * (480 - minutes)
    bound = Bound(0, "nothing")
    return Night(day, window, (), (), tuple(flow), bound, minutes, (), (), 100.0)


@dataclass
class Kept:
    """A course of one pump, with approved nights."""

    money: MoneyRules
    approved: list[Night]
    head_m: float = 100.0

    def __post_init__(self) -> None:
        pumps = {"capacity_l_s": [50.0], "head_m": [self.head_m], "set_pressure_kpa": [math.nan]}
        pumps |= {"pump_efficiency": [0.75], "motor_efficiency": [0.9]}
        sources = pd.DataFrame({"price_per_m3": pd.Series([], dtype=float)})
        self.ground = SimpleNamespace(pumps=pd.DataFrame(pumps), sources=sources)
        site = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", "EPSG:32613")
        self.settings = Settings(site, money=self.money)


@pytest.fixture
def cost_of(monkeypatch: pytest.MonkeyPatch) -> Any:
    def between(course: Kept, first: date, before: date) -> list[Any]:
        known = [night for night in course.approved if first <= night.night < before]
        return [SimpleNamespace(plan=night) for night in known]

    monkeypatch.setattr(costing, "approved_between", between)

    def make(night: Night, approved: Any = (), money: MoneyRules = MONEY, **more: Any) -> Any:
        head_m = more.pop("solved_m", None)
        return night_cost(Kept(money, list(approved), **more), night, head_m)  # type: ignore[arg-type]

    return make


TONIGHT = night_of(date(2025, 7, 10), 50.0)


def test_power_follows_the_duty_and_the_efficiencies(cost_of: Any) -> None:
    cost = cost_of(TONIGHT)
    assert cost.power_kw.max() == pytest.approx(PUMP_KW)
    assert cost.power_kw[240:].sum() == 0
    assert cost.energy_kwh == pytest.approx(4 * PUMP_KW)


def test_energy_is_priced_by_the_clock_and_demand_by_its_highest_quarter(cost_of: Any) -> None:
    cost = cost_of(TONIGHT)
    assert cost.electricity.kwh_by_period[""] == pytest.approx(PUMP_KW)  # 21:00 to 22:00
    assert cost.electricity.kwh_by_period["off peak"] == pytest.approx(3 * PUMP_KW)
    assert cost.electricity.energy_money == pytest.approx(PUMP_KW * (0.1 + 3 * 0.05))
    assert cost.electricity.demand_money == pytest.approx(PUMP_KW * 8.0)
    assert cost.water_money == pytest.approx(50 * 240 * 60 / 1000 * 0.5)
    assert cost.money == pytest.approx(cost.electricity.money + cost.water_money)


def test_a_higher_night_before_has_paid_the_months_demand(cost_of: Any) -> None:
    before = [night_of(date(2025, 7, 3), 80.0), night_of(date(2025, 7, 4), 20.0)]
    cost = cost_of(TONIGHT, before)
    assert cost.electricity.demand_money == 0.0
    assert cost.demand_before_kw == pytest.approx(PUMP_KW * 80 / 50)


def test_another_months_demand_does_not_count(cost_of: Any) -> None:
    cost = cost_of(TONIGHT, [night_of(date(2025, 6, 20), 80.0)])
    assert cost.electricity.demand_money == pytest.approx(PUMP_KW * 8.0)
    assert cost.demand_before_kw == 0.0


def test_a_night_of_june_that_runs_on_into_july_counts_there(cost_of: Any) -> None:
    june = night_of(date(2025, 6, 29), 80.0)
    window = Window(june.window.start.replace(day=30), june.window.end.replace(month=7, day=1))
    june = replace(june, night=date(2025, 6, 30), window=window)
    cost = cost_of(night_of(date(2025, 7, 10), 50.0), [june])
    assert cost.demand_before_kw == pytest.approx(PUMP_KW * 80 / 50)


def test_later_nights_do_not_count(cost_of: Any) -> None:
    cost = cost_of(TONIGHT, [night_of(date(2025, 7, 12), 80.0), TONIGHT])
    assert cost.electricity.demand_money == pytest.approx(PUMP_KW * 8.0)


def test_solved_heads_change_the_power(cost_of: Any) -> None:
    cost = cost_of(TONIGHT, solved_m=np.full(480, 50.0))
    assert cost.energy_kwh == pytest.approx(2 * PUMP_KW)


def test_without_a_price_there_is_power_but_no_money(cost_of: Any) -> None:
    cost = cost_of(TONIGHT, money=MoneyRules())
    assert cost.electricity is None
    assert math.isnan(cost.money)
    assert cost_words(cost) == [
        f"About {4 * PUMP_KW:,.0f} kWh, {PUMP_KW:,.0f} kW at the highest minute."
    ]


def test_without_a_head_nothing_is_made_up(cost_of: Any) -> None:
    cost = cost_of(TONIGHT, head_m=math.nan)
    assert cost.electricity is None
    assert math.isnan(cost.energy_kwh)
    assert "not known" in cost_words(cost)[0]


def test_the_words_name_energy_demand_water_and_their_sum(cost_of: Any) -> None:
    words = " ".join(cost_words(cost_of(TONIGHT)))
    for part in ("kWh at the usual price", "kWh off peak", "Energy $", "Demand $", "Water $"):
        assert part in words
    assert f"Together $ {cost_of(TONIGHT).money:,.2f}." in words


def test_the_document_holds_the_same_figures(cost_of: Any) -> None:
    cost = cost_of(TONIGHT)
    document = cost_document(cost)
    assert document["money"] == cost.money
    assert document["highest_minute_kw"] == pytest.approx(PUMP_KW)
    assert sum(document["kwh_by_period"].values()) == pytest.approx(document["energy_kwh"])
    assert cost_document(cost_of(TONIGHT, money=MoneyRules()))["energy_money"] is None
