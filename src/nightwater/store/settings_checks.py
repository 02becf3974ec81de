"""What settings may be, before they are saved."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from zoneinfo import available_timezones

from nightwater.findings import UserError
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.pair_rules import pair_rules_from
from nightwater.ground.settings import (
    HOURS_OF_FIX,
    METHODS_OF_MINUTES,
    FixRules,
    MinuteRules,
    MoneyRules,
    NeedRules,
    NightRules,
    RecordRules,
    Settings,
    Site,
)
from nightwater.ground.tables import GRASSES, WATERED_KINDS
from nightwater.soil.coefficients import KC_TABLES
from nightwater.soil.need import METHODS, REFERENCES
from nightwater.spray.uniformity import MULTIPLIERS

_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


def _between(name: str, value: float, lowest: float, highest: float) -> Iterator[str]:
    if not lowest <= value <= highest:
        yield f"'{name}' is {value:g}; it must lie between {lowest:g} and {highest:g}."


def _one_of(name: str, value: str, choices: tuple[str, ...]) -> Iterator[str]:
    if value not in choices:
        yield f"'{name}' is '{value}'; it must be one of {', '.join(choices)}."


def _clock(name: str, value: str | None) -> Iterator[str]:
    if value is not None and not _CLOCK.fullmatch(value):
        yield f"'{name}' is '{value}'; write a clock time like 21:30."


def _site(site: Site) -> Iterator[str]:
    yield from _between("site.latitude_deg", site.latitude_deg, -90, 90)
    yield from _between("site.longitude_deg", site.longitude_deg, -180, 180)
    yield from _between("site.elevation_m", site.elevation_m, -450, 6000)
    if site.timezone not in available_timezones():
        yield f"'site.timezone' is '{site.timezone}'; use an IANA name such as America/Denver."


def _need(need: NeedRules) -> Iterator[str]:
    yield from _one_of("need.method", need.method, METHODS)
    yield from _one_of("need.reference", need.reference, tuple(REFERENCES))
    yield from _one_of("need.kc_table", need.kc_table, tuple(KC_TABLES))
    yield from _between("need.et_share", need.et_share, 0, 2)
    yield from _between("need.opening_depletion_mm", need.opening_depletion_mm, 0, 500)
    if need.account_start is not None:
        try:
            date.fromisoformat(need.account_start)
        except ValueError:
            yield f"'need.account_start' is '{need.account_start}'; write a date like 2026-04-01."
    for grass, months in need.kc_by_month.items():
        yield from _one_of("need.kc_by_month", grass, GRASSES)
        if len(months) != 12:
            yield f"'need.kc_by_month.{grass}' has {len(months)} numbers; 12 are wanted."
        for coefficient in months:
            yield from _between(f"need.kc_by_month.{grass}", coefficient, 0, 1.5)


def _minutes(minutes: MinuteRules) -> Iterator[str]:
    rules = tuple(MULTIPLIERS)
    yield from _one_of("minutes.run_time_multiplier", minutes.run_time_multiplier, rules)
    yield from _one_of("minutes.method", minutes.method, METHODS_OF_MINUTES)
    for name, most in (("shortage_worth", 1000), ("excess_cost", 1000), ("wettest_share", 20)):
        for kind, value in getattr(minutes, name).items():
            yield from _one_of(f"minutes.{name}", kind, WATERED_KINDS)
            least = 0.0 if name == "excess_cost" else 1.0
            yield from _between(f"minutes.{name}.{kind}", value, least, most)
    yield from _between("minutes.reach_from", minutes.reach_from, 0, 1)
    yield from _between("minutes.reach_full", minutes.reach_full, minutes.reach_from, 2)
    yield from _between("minutes.least_turns", minutes.least_turns, 0, 20)
    yield from _between("minutes.default_rotation_s", minutes.default_rotation_s, 1, 900)
    yield from _between("minutes.least_need_mm", minutes.least_need_mm, 0, 50)


def _fixes(fixes: FixRules) -> Iterator[str]:
    yield from _between("fixes.least_lack_share", fixes.least_lack_share, 0.01, 1)
    yield from _between("fixes.least_m2", fixes.least_m2, 1, 10_000)
    yield from _between("fixes.gap_reach", fixes.gap_reach, 0.05, 1)
    yield from _between("fixes.season_nights", fixes.season_nights, 1, 366)
    for cause, hours in fixes.hours.items():
        yield from _one_of("fixes.hours", cause, tuple(HOURS_OF_FIX))
        yield from _between(f"fixes.hours.{cause}", hours, 0.01, 1000)


def _night(night: NightRules) -> Iterator[str]:
    yield from _clock("night.start", night.start)
    yield from _clock("night.end", night.end)
    yield from _between("night.after_sunset_min", night.after_sunset_min, -120, 240)
    yield from _between("night.before_sunrise_min", night.before_sunrise_min, -120, 240)
    yield from _between("night.pump_use", night.pump_use, 0.05, 1)
    yield from _between("night.loop_margin", night.loop_margin, 0.05, 1)
    yield from _between("night.max_velocity_m_s", night.max_velocity_m_s, 0.3, 4)
    yield from _between("night.max_heads_on", night.max_heads_on, 1, 500)
    for kind, window in night.kind_windows.items():
        yield from _one_of("night.kind_windows", kind, WATERED_KINDS)
        for clock in window:
            yield from _clock(f"night.kind_windows.{kind}", clock or None)
    for kind in night.priority:
        yield from _one_of("night.priority", kind, WATERED_KINDS)
    if len(set(night.priority)) < len(night.priority):
        yield "'night.priority' names a kind twice."


def _record(record: RecordRules) -> Iterator[str]:
    for read, rules in ((number_rules_from, record.numbers), (pair_rules_from, record.pairs)):
        try:
            read(rules)
        except UserError as faults:
            yield str(faults)


def _money(money: MoneyRules) -> Iterator[str]:
    yield from _between("money.energy_per_kwh", money.energy_per_kwh, 0, 1000)
    yield from _between("money.water_per_m3", money.water_per_m3, 0, 1000)


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
