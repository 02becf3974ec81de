"""What electricity costs: energy by period and block, and the month's highest demand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.ground.settings import WEEKDAYS, MoneyRules, TariffPeriod
from nightwater.units import MINUTES_PER_HOUR

OTHERWISE: Final = ""  # the time outside all periods
Month = tuple[int, int]  # year and month of the local calendar
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Usage:
    """What was drawn in one month.

    Attributes:
        kwh: energy by period; `OTHERWISE` for the time outside all.
        kw: highest demand by period.
    """

    kwh: Mapping[str, float] = field(default_factory=dict)
    kw: Mapping[str, float] = field(default_factory=dict)

    @property
    def highest_kw(self) -> float:
        """The month's highest demand at any time."""
        return max(self.kw.values(), default=0.0)


@dataclass(frozen=True)
class Line:
    """One period of a bill.

    Attributes:
        period: its name; `OTHERWISE` for the rest, and for demand at any time.
        kwh, kw: energy, and highest demand.
        energy_money, demand_money: what each costs.
    """

    period: str
    kwh: float
    kw: float
    energy_money: float
    demand_money: float


@dataclass(frozen=True)
class Bill:
    """A month's bill for energy and demand; fixed charges and taxes are not in it."""

    lines: tuple[Line, ...]

    @property
    def energy_money(self) -> float:
        """For all kilowatt-hours."""
        return sum(line.energy_money for line in self.lines)

    @property
    def demand_money(self) -> float:
        """For the highest kilowatts."""
        return sum(line.demand_money for line in self.lines)

    @property
    def money(self) -> float:
        """All of it."""
        return self.energy_money + self.demand_money


def _minute_of(clock: str) -> int:
    hours, minutes = clock.split(":")
    return int(hours) * 60 + int(minutes)


def _holds(period: TariffPeriod, moment: datetime) -> bool:
    """Whether a local moment lies in a period."""
    if period.months and moment.month not in period.months:
        return False
    if period.weekdays and WEEKDAYS[moment.weekday()] not in period.weekdays:
        return False
    start, end = _minute_of(period.start), _minute_of(period.end)
    minute = moment.hour * 60 + moment.minute
    return start <= minute < end if start < end else minute >= start or minute < end


def period_of(moment: datetime, money: MoneyRules) -> str:
    """Name of the first period that holds a local moment; `OTHERWISE` where none does."""
    return next((p.name for p in money.periods if _holds(p, moment)), OTHERWISE)


def usage_by_month(
    power_kw: ArrayLike, start: datetime, money: MoneyRules, timezone: str
) -> dict[Month, Usage]:
    """Energy and highest demand of each month, from power minute by minute.

    Demand is the mean over `money.demand_min` minutes of the clock; minutes outside the series
    count as nothing. Each such span belongs to the period of its first minute.

    Args:
        power_kw: power drawn in each minute [kW], shape (minutes,).
        start: instant of the first minute, zone-aware.
        money: the tariff.
        timezone: IANA name of the course's local time.
    """
    power, zone = np.asarray(power_kw, dtype=float), ZoneInfo(timezone)
    span, first = money.demand_min, start.astimezone(UTC).replace(second=0, microsecond=0)
    lead = first.minute % span
    count = -(-(lead + len(power)) // span)
    padded = np.zeros(count * span)
    padded[lead : lead + len(power)] = power
    means = padded.reshape(count, span).mean(axis=1)
    begin = first - timedelta(minutes=lead)
    found: dict[Month, tuple[dict[str, float], dict[str, float]]] = {}
    for place, kw in enumerate(means.tolist()):
        moment = (begin + timedelta(minutes=place * span)).astimezone(zone)
        name = period_of(moment, money)
        kwh, peaks = found.setdefault((moment.year, moment.month), ({}, {}))
        kwh[name] = kwh.get(name, 0.0) + kw * span / MINUTES_PER_HOUR
        peaks[name] = max(peaks.get(name, 0.0), kw)
    return {month: Usage(kwh, peaks) for month, (kwh, peaks) in found.items()}


def together(usages: Iterable[Usage]) -> Usage:
    """Several usages of one month: energies added, the highest demand of each period kept."""
    kwh: dict[str, float] = {}
    kw: dict[str, float] = {}
    for usage in usages:
        for name, amount in usage.kwh.items():
            kwh[name] = kwh.get(name, 0.0) + amount
        for name, peak in usage.kw.items():
            kw[name] = max(kw.get(name, 0.0), peak)
    return Usage(kwh, kw)


def in_blocks(
    amount: float, blocks: Sequence[tuple[float, float]], price: float, stretch: float = 1.0
) -> float:
    """Money for an amount whose first parts have prices of their own.

    Args:
        amount: what was drawn.
        blocks: (up to, price), limits rising.
        price: beyond the last block.
        stretch: what the limits are multiplied by.
    """
    money, below = 0.0, 0.0
    for limit, block_price in blocks:
        upper = limit * stretch
        money += block_price * max(0.0, min(amount, upper) - below)
        below = upper
    return money + price * max(0.0, amount - below)


def bill(usage: Usage, money: MoneyRules) -> Bill:
    """What a month costs.

    Demand at any time has `demand_per_kw`; a period's own demand is charged besides.
    """
    highest = usage.highest_kw
    otherwise = Line(
        OTHERWISE,
        usage.kwh.get(OTHERWISE, 0.0),
        highest,
        usage.kwh.get(OTHERWISE, 0.0) * money.energy_per_kwh,
        highest * money.demand_per_kw,
    )
    lines = [otherwise]
    for period in money.periods:
        kwh, kw = usage.kwh.get(period.name, 0.0), usage.kw.get(period.name, 0.0)
        stretch = highest if period.block_unit == "kwh_per_kw" else 1.0
        energy = in_blocks(kwh, period.kwh_blocks, period.per_kwh, stretch)
        lines.append(Line(period.name, kwh, kw, energy, in_blocks(kw, period.kw_blocks,
                                                                  period.per_kw)))  # fmt: skip
    return Bill(tuple(lines))


@dataclass(frozen=True)
class Added:
    """What one night adds to its months' bills.

    Attributes:
        kwh: energy of the night; highest_kw: its highest demand.
        energy_money, demand_money: what the bills are higher for it, energy and demand apart.
        kwh_by_period: energy of the night by period.
    """

    kwh: float
    highest_kw: float
    energy_money: float
    demand_money: float
    kwh_by_period: Mapping[str, float]

    @property
    def money(self) -> float:
        """All that it adds."""
        return self.energy_money + self.demand_money


def added(night: Mapping[Month, Usage], before: Mapping[Month, Usage], money: MoneyRules) -> Added:
    """The months' bills with a night, less the bills without it.

    So the costs of all nights of a month add up to its bill, in whatever order they came: a night
    pays for demand only as far as it is higher than every night before it.

    Args:
        night: usage of the night by month.
        before: usage of the months without it.
        money: the tariff.
    """
    energy = demand = 0.0
    for month, usage in night.items():
        old = before.get(month, Usage())
        less, more = bill(old, money), bill(together([old, usage]), money)
        energy += more.energy_money - less.energy_money
        demand += more.demand_money - less.demand_money
    whole = together(night.values())
    return Added(sum(whole.kwh.values()), whole.highest_kw, energy, demand, whole.kwh)
