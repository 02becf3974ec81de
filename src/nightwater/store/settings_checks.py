"""What settings may be, before they are saved."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import date
from itertools import pairwise
from typing import Final
from zoneinfo import available_timezones

from nightwater.findings import UserError
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.pair_rules import pair_rules_from
from nightwater.ground.settings import (
    BLOCK_UNITS,
    COMPASS,
    GREENS_HOURS,
    HOURS_OF_FIX,
    METHODS_OF_MINUTES,
    NIGHT_WINDS,
    SECTIONS,
    WEEKDAYS,
    FixRules,
    MinuteRules,
    MoneyRules,
    NeedRules,
    NightRules,
    RecordRules,
    Settings,
    Site,
    TariffPeriod,
    range_of,
)
from nightwater.ground.tables import GRASSES, WATERED_KINDS
from nightwater.soil.coefficients import KC_TABLES
from nightwater.soil.need import METHODS, REFERENCES
from nightwater.spray.uniformity import MULTIPLIERS
from nightwater.units import UnitSystem

# The words a setting may be, as the package that understands them lists them.
CHOICES: Final[Mapping[str, tuple[str, ...]]] = {
    "site.units": tuple(UnitSystem),
    "need.method": METHODS,
    "need.reference": tuple(REFERENCES),
    "need.kc_table": tuple(KC_TABLES),
    "night.greens": GREENS_HOURS,
    "minutes.method": METHODS_OF_MINUTES,
    "minutes.run_time_multiplier": tuple(MULTIPLIERS),
    "minutes.night_wind": NIGHT_WINDS,
    "minutes.night_wind_from": ("unknown", *COMPASS),
}
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


def _between(name: str, value: float, lowest: float, highest: float) -> Iterator[str]:
    if not lowest <= value <= highest:
        yield f"'{name}' is {value:g}; it must lie between {lowest:g} and {highest:g}."


def _one_of(name: str, value: str, choices: tuple[str, ...]) -> Iterator[str]:
    if value not in choices:
        yield f"'{name}' is '{value}'; it must be one of {', '.join(choices)}."


def _declared(settings: Settings) -> Iterator[str]:
    """What the declarations themselves say: ranges, and words of which one is meant."""
    for section, cls in SECTIONS.items():
        values = getattr(settings, section)
        for declared in fields(cls):
            name, value = f"{section}.{declared.name}", getattr(values, declared.name)
            limits = range_of(declared)
            if limits is not None:
                yield from _between(name, value, limits.least, limits.most)
            if name in CHOICES:
                yield from _one_of(name, value, CHOICES[name])


def _clock(name: str, value: str | None) -> Iterator[str]:
    if value is not None and not _CLOCK.fullmatch(value):
        yield f"'{name}' is '{value}'; write a clock time like 21:30."


def _site(site: Site) -> Iterator[str]:
    if site.timezone not in available_timezones():
        yield f"'site.timezone' is '{site.timezone}'; use an IANA name such as America/Denver."


def _day(name: str, text: str) -> Iterator[str]:
    try:
        date.fromisoformat(text)
    except ValueError:
        yield f"'{name}' is '{text}'; write a date like 2026-04-01."


def _need(need: NeedRules) -> Iterator[str]:
    if need.account_start is not None:
        yield from _day("need.account_start", need.account_start)
    for grass, months in need.kc_by_month.items():
        yield from _one_of("need.kc_by_month", grass, GRASSES)
        if len(months) != 12:
            yield f"'need.kc_by_month.{grass}' has {len(months)} numbers; 12 are wanted."
        for coefficient in months:
            yield from _between(f"need.kc_by_month.{grass}", coefficient, 0, 1.5)


def _minutes(minutes: MinuteRules) -> Iterator[str]:
    for name, least, most in (
        ("shortage_worth", 1, 1000),
        ("excess_cost", 0, 1000),
        ("wettest_share", 1, 20),
    ):
        for kind, value in getattr(minutes, name).items():
            yield from _one_of(f"minutes.{name}", kind, WATERED_KINDS)
            yield from _between(f"minutes.{name}.{kind}", value, least, most)


def _fixes(fixes: FixRules) -> Iterator[str]:
    for cause, hours in fixes.hours.items():
        yield from _one_of("fixes.hours", cause, tuple(HOURS_OF_FIX))
        yield from _between(f"fixes.hours.{cause}", hours, 0.01, 1000)


def _night(night: NightRules) -> Iterator[str]:
    yield from _clock("night.start", night.start)
    yield from _clock("night.end", night.end)
    for kind, window in night.kind_windows.items():
        yield from _one_of("night.kind_windows", kind, WATERED_KINDS)
        for clock in window:
            yield from _clock(f"night.kind_windows.{kind}", clock or None)
    for area, window in night.area_windows.items():
        for clock in window:
            yield from _clock(f"night.area_windows.{area}", clock or None)
    for subject, (day, clock, _) in night.run_by.items():
        yield from _clock(f"night.run_by.{subject}", clock)
        yield from _day(f"night.run_by.{subject}", day)
    for kind in night.wind_kinds:
        yield from _one_of("night.wind_kinds", kind, WATERED_KINDS)
    for kind in night.priority:
        yield from _one_of("night.priority", kind, WATERED_KINDS)
    if len(set(night.priority)) < len(night.priority):
        yield "'night.priority' names a kind twice."


_MOST_PRICE: Final = 10_000.0


def _blocks(name: str, blocks: tuple[tuple[float, float], ...]) -> Iterator[str]:
    limits = [limit for limit, _ in blocks]
    if any(high <= low for low, high in pairwise([0.0, *limits])):
        yield f"'{name}' needs limits above 0 that rise, like [[300, 0.049], [600, 0.041]]."
    for _, price in blocks:
        yield from _between(name, price, 0, _MOST_PRICE)


def _period(period: TariffPeriod) -> Iterator[str]:
    name = f"money.periods.{period.name}"
    for part, clock in (("start", period.start), ("end", period.end)):
        if clock != "24:00":
            yield from _clock(f"{name}.{part}", clock)
    if period.start in (period.end, "24:00"):
        yield f"'{name}' lasts no minute; a whole day is from 00:00 to 24:00."
    for month in period.months:
        yield from _between(f"{name}.months", month, 1, 12)
    for day in period.weekdays:
        yield from _one_of(f"{name}.weekdays", day, WEEKDAYS)
    yield from _one_of(f"{name}.block_unit", period.block_unit, BLOCK_UNITS)
    yield from _between(f"{name}.per_kwh", period.per_kwh, 0, _MOST_PRICE)
    yield from _between(f"{name}.per_kw", period.per_kw, 0, _MOST_PRICE)
    yield from _blocks(f"{name}.kwh_blocks", period.kwh_blocks)
    yield from _blocks(f"{name}.kw_blocks", period.kw_blocks)


def _money(money: MoneyRules) -> Iterator[str]:
    names = [period.name for period in money.periods]
    if len(set(names)) < len(names) or "" in names:
        yield "'money.periods' needs a name of its own for each period."
    if 60 % money.demand_min:
        yield f"'money.demand_min' is {money.demand_min}; it must part the hour evenly, like 15."
    for period in money.periods:
        yield from _period(period)


def _record(record: RecordRules) -> Iterator[str]:
    for read, rules in ((number_rules_from, record.numbers), (pair_rules_from, record.pairs)):
        try:
            read(rules)
        except UserError as faults:
            yield str(faults)


def settings_faults(settings: Settings) -> list[str]:
    """Every reason why these settings may not be saved, one sentence each."""
    return [
        *_site(settings.site),
        *_record(settings.record),
        *_need(settings.need),
        *_minutes(settings.minutes),
        *_fixes(settings.fixes),
        *_night(settings.night),
        *_money(settings.money),
        *_declared(settings),
        *_clock("first_tee", settings.first_tee),
    ]


def check_settings(settings: Settings) -> None:
    """Refuse settings with which no night could be planned.

    Raises:
        UserError: with every fault.
    """
    faults = settings_faults(settings)
    if faults:
        raise UserError(f"These settings cannot be saved: {' '.join(faults)}")
