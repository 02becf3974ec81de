"""What a planned night will draw and cost, before anybody approves it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.desk.course import Course
from nightwater.desk.nights import approved_between
from nightwater.ground.settings import MoneyRules
from nightwater.ledger.allowance import price_per_m3
from nightwater.ledger.pumping import lift_of, power_series_kw
from nightwater.ledger.tariff import Added, Month, Usage, added, together, usage_by_month
from nightwater.night.plan import Night
from nightwater.units import MINUTES_PER_HOUR

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class NightCost:
    """A night's power, energy and money.

    Attributes:
        power_kw: in each minute of the window; NaN where the pump's head is not known.
        energy_kwh: of the whole night.
        electricity: what it adds to the months' bills; None without a price or a head.
        demand_before_kw: the highest demand of this month's approved nights before it.
        water_money: its water at the sources' price.
        currency: sign printed before money.
    """

    power_kw: Numbers
    energy_kwh: float
    electricity: Added | None
    demand_before_kw: float
    water_money: float
    currency: str

    @property
    def money(self) -> float:
        """Electricity and water; NaN where nothing has a price."""
        power = self.electricity.money if self.electricity else 0.0
        known = self.electricity is not None or self.water_money > 0
        return power + self.water_money if known else math.nan


def _before(course: Course, night: Night, months: set[Month]) -> dict[Month, Usage]:
    """Usage of this night's months by the approved nights before it, as planned."""
    money, zone = course.settings.money, course.settings.site.timezone
    lift = lift_of(course.ground.pumps)
    found: dict[Month, Usage] = {}
    # The night before a month's first day runs on into it.
    first = date(*min(months, default=(night.night.year, night.night.month)), 1) - timedelta(days=1)
    for stored in approved_between(course, first, night.night):
        plan = stored.plan
        power = power_series_kw(plan.flow_l_s, lift)
        for month, usage in usage_by_month(power, plan.window.start, money, zone).items():
            if month in months:
                found[month] = together([found.get(month, Usage()), usage])
    return found


def _electricity(
    course: Course, night: Night, power_kw: Numbers, money: MoneyRules
) -> tuple[Added | None, float]:
    if np.isnan(power_kw).any() or not money.prices_energy:
        return None, math.nan
    zone = course.settings.site.timezone
    usage = usage_by_month(power_kw, night.window.start, money, zone)
    before = _before(course, night, set(usage))
    highest = max((one.highest_kw for one in before.values()), default=0.0)
    return added(usage, before, money), highest


def night_cost(course: Course, night: Night, head_m: ArrayLike | None = None) -> NightCost:
    """What a night draws and costs by the record's pumps and the settings under money.

    Args:
        course: record, prices and the approved nights of the same month.
        night: the plan, approved or not.
        head_m: total dynamic head in each minute where it was solved [m]; the record's where None.
    """
    money = course.settings.money
    power = power_series_kw(night.flow_l_s, lift_of(course.ground.pumps), head_m)
    electricity, highest = _electricity(course, night, power, money)
    return NightCost(
        power_kw=power,
        energy_kwh=float(power.sum()) / MINUTES_PER_HOUR,
        electricity=electricity,
        demand_before_kw=highest,
        water_money=night.volume_m3 * price_per_m3(course.ground.sources, money.water_per_m3),
        currency=money.currency,
    )


def cost_words(cost: NightCost) -> list[str]:
    """The figures as sentences: power and energy, then money as far as there is a price."""
    if math.isnan(cost.energy_kwh):
        return ["Power is not known: the record's pumps have neither head nor pressure."]
    highest = float(np.max(cost.power_kw, initial=0.0))
    told = [f"About {cost.energy_kwh:,.0f} kWh, {highest:,.0f} kW at the highest minute."]
    sign, power = cost.currency, cost.electricity
    if power is None:
        return told
    parts = [
        f"{kwh:,.0f} kWh {name or 'at the usual price'}"
        for name, kwh in power.kwh_by_period.items()
        if kwh > 0
    ]
    if len(parts) > 1 or any(power.kwh_by_period):
        told.append(f"By period: {', '.join(parts)}.")
    told.append(f"Energy {sign} {power.energy_money:,.2f}.")
    if power.demand_money > 0:
        told.append(
            f"Demand {sign} {power.demand_money:,.2f}: its highest quarter hour is "
            f"{power.highest_kw:,.0f} kW, before it the month's was {cost.demand_before_kw:,.0f} "
            "kW."
        )
    if cost.water_money > 0:
        told.append(f"Water {sign} {cost.water_money:,.2f}.")
    told.append(f"Together {sign} {cost.money:,.2f}.")
    return told


def cost_document(cost: NightCost) -> dict[str, Any]:
    """The figures as plain values."""
    power = cost.electricity
    return {
        "energy_kwh": cost.energy_kwh,
        "highest_minute_kw": float(np.max(cost.power_kw, initial=0.0)),
        "highest_demand_kw": power.highest_kw if power else None,
        "demand_before_kw": cost.demand_before_kw,
        "kwh_by_period": dict(power.kwh_by_period) if power else {},
        "energy_money": power.energy_money if power else None,
        "demand_money": power.demand_money if power else None,
        "water_money": cost.water_money,
        "money": cost.money,
        "currency": cost.currency,
    }
