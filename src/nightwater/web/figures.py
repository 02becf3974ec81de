"""Numbers as a page shows them: with unit, and with how they are known."""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.ledger.known import Evidence as Evidence
from nightwater.units import UnitSystem, from_si, shown

_PRINTED: Final = {"m3": "m³", "m2": "m²", "ft2": "ft²", "C": "°C", "F": "°F"}
# inside suffix -> (US unit, metric unit), for numbers shown with enough digits to redo a sum
_FINE: Final = {
    "mm": ("in", "mm"),
    "mm_h": ("in/h", "mm/h"),
    "l_s": ("gpm", "L/s"),
    "m": ("ft", "m"),
    "kpa": ("psi", "bar"),
    "m2": ("ft2", "m2"),
}
_DIGITS: Final = 4
_NOTHING: Final = 1e-9  # what sums leave over in floating point


def _printed(text: str) -> str:
    number, _, symbol = text.partition(" ")
    return f"{number} {_PRINTED.get(symbol, symbol)}" if symbol else number


def quantity(value: float | None, suffix: str, units: UnitSystem) -> str:
    """A number with its unit, an en dash where it is missing. See `units.shown`."""
    return _printed(shown(value, suffix, units))


def fine(value: float | None, suffix: str, units: UnitSystem) -> str:
    """A number with its unit to four significant digits, so that a sum can be redone."""
    if value is None or math.isnan(value):
        return "–"
    symbol = _FINE[suffix][0 if units is UnitSystem.US else 1]
    return _printed(f"{plain(float(from_si(value, symbol)))} {symbol}")


def plain(value: float | None) -> str:
    """A pure number to four significant digits, never in powers of ten; rounding's rest is 0."""
    if value is None or math.isnan(value):
        return "–"
    if abs(value) < _NOTHING:
        return "0"
    decimals = max(0, _DIGITS - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def minutes(value: float | None) -> str:
    """Minutes of run time."""
    return "–" if value is None or math.isnan(value) else f"{value:,.0f} min"


def signed_minutes(value: float | None) -> str:
    """A change of run time with its sign, for instance "−12 min"."""
    if value is None or math.isnan(value):
        return "–"
    whole = round(value)
    return f"{'+' if whole > 0 else '−' if whole < 0 else ''}{abs(whole):,} min"


def signed_water(litres: float | None, units: UnitSystem) -> str:
    """A change of water with its sign."""
    if litres is None or math.isnan(litres):
        return "–"
    text = quantity(abs(litres) / 1000, "m3", units)
    return text if litres == 0 else f"{'+' if litres > 0 else '−'}{text}"


def percent(share: float | None) -> str:
    """A share of one as a percentage."""
    return "–" if share is None or math.isnan(share) else f"{100 * share:.1f} %"


def text_or(value: Any, otherwise: str = "–") -> str:
    """A text of the record, or a stand-in where it is missing."""
    return otherwise if value is None or pd.isna(value) or value == "" else str(value)


def day(night: date) -> str:
    """A date as people say it, for instance "Thu 10 July 2025"."""
    return f"{night:%a} {night.day} {night:%B %Y}"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun, for instance "1 station", "1,944 stations"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def clock(moment: datetime, timezone: str) -> str:
    """Local clock time, HH:MM."""
    return moment.astimezone(ZoneInfo(timezone)).strftime("%H:%M")


def local_moment(moment: datetime | None, timezone: str) -> str:
    """Local date and clock time."""
    if moment is None:
        return "–"
    local = moment.astimezone(ZoneInfo(timezone))
    return f"{local.day} {local:%b %Y}, {local:%H:%M}"
