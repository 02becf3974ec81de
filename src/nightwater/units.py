"""SI inside, US or metric at the edge: every conversion factor of the project.

Factors are exact where the definition is exact: the inch is 25.4 mm and the US
gallon 231 cubic inches (NIST Special Publication 811, 2008, appendix B).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError

SECONDS_PER_MINUTE: Final = 60.0
SECONDS_PER_HOUR: Final = 3600.0
MINUTES_PER_HOUR: Final = 60.0
M_PER_FT: Final = 0.3048
M_PER_US_SURVEY_FT: Final = 1200.0 / 3937.0
MM_PER_INCH: Final = 25.4
L_PER_GALLON: Final = 3.785411784
M2_PER_ACRE: Final = 4046.8564224
KPA_PER_PSI: Final = 6.894757293168361
L_PER_ACRE_FT: Final = 43560.0 * 28.316846592
KPA_PER_M_WATER: Final = 9.80665  # water of 1,000 kg/m³ under standard gravity
W_PER_HORSEPOWER: Final = 745.6998715822702


@dataclass(frozen=True)
class Unit:
    """A unit a person may write: si = value * factor + offset."""

    symbol: str
    quantity: str
    factor: float
    offset: float = 0.0


_UNITS: Final = (
    Unit("m", "length", 1.0),
    Unit("km", "length", 1000.0),
    Unit("cm", "length", 0.01),
    Unit("ft", "length", M_PER_FT),
    Unit("us-ft", "length", M_PER_US_SURVEY_FT),
    Unit("yd", "length", 3 * M_PER_FT),
    Unit("mile", "length", 5280 * M_PER_FT),
    Unit("mm", "depth", 1.0),
    Unit("in", "depth", MM_PER_INCH),
    Unit("0.1mm", "depth", 0.1),
    Unit("m2", "area", 1.0),
    Unit("ha", "area", 10000.0),
    Unit("ft2", "area", M_PER_FT**2),
    Unit("acre", "area", M2_PER_ACRE),
    Unit("L/s", "flow", 1.0),
    Unit("L/min", "flow", 1 / 60),
    Unit("m3/h", "flow", 1 / 3.6),
    Unit("gpm", "flow", L_PER_GALLON / 60),
    Unit("m3", "volume", 1.0),
    Unit("L", "volume", 0.001),
    Unit("gal", "volume", L_PER_GALLON / 1000),
    Unit("kgal", "volume", L_PER_GALLON),
    Unit("Mgal", "volume", 1000 * L_PER_GALLON),
    Unit("acre-ft", "volume", L_PER_ACRE_FT / 1000),
    Unit("kPa", "pressure", 1.0),
    Unit("bar", "pressure", 100.0),
    Unit("psi", "pressure", KPA_PER_PSI),
    Unit("m-water", "pressure", KPA_PER_M_WATER),
    Unit("mm/h", "rate", 1.0),
    Unit("in/h", "rate", MM_PER_INCH),
    Unit("C", "temperature", 1.0),
    Unit("F", "temperature", 5 / 9, -160 / 9),
    Unit("m/s", "speed", 1.0),
    Unit("km/h", "speed", 1 / 3.6),
    Unit("mph", "speed", 5280 * M_PER_FT / SECONDS_PER_HOUR),
    Unit("knot", "speed", 1852 / SECONDS_PER_HOUR),
    Unit("ft/s", "speed", M_PER_FT),
    Unit("MJ/m2", "radiation", 1.0),
    Unit("langley", "radiation", 0.04184),
    Unit("kWh/m2", "radiation", 3.6),
    Unit("W/m2", "irradiance", 1.0),
    Unit("langley/h", "irradiance", 41840 / SECONDS_PER_HOUR),
    Unit("deg", "angle", 1.0),
    Unit("pct", "share", 1.0),
    Unit("fraction", "share", 100.0),
    Unit("min", "duration", 1.0),
    Unit("h", "duration", MINUTES_PER_HOUR),
    Unit("s", "duration", 1 / SECONDS_PER_MINUTE),
    Unit("kW", "power", 1.0),
    Unit("hp", "power", W_PER_HORSEPOWER / 1000),
)
UNITS: Final[Mapping[str, Unit]] = {unit.symbol: unit for unit in _UNITS}


def unit_named(symbol: str) -> Unit:
    """The unit a person wrote.

    Raises:
        UserError: no such unit; the message names the nearest known one.
    """
    if symbol in UNITS:
        return UNITS[symbol]
    near = get_close_matches(symbol, UNITS, 1, 0.4)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    raise UserError(f"There is no unit '{symbol}'.{hint} Known units: {', '.join(UNITS)}.")


def to_si(value: ArrayLike, symbol: str) -> NDArray[np.float64]:
    """A value in the given unit, in the project's inside unit of its quantity.

    Args:
        value: number or array in `symbol`, any shape; NaN stays NaN.
        symbol: a key of `UNITS`.

    Raises:
        UserError: no such unit.
    """
    unit = unit_named(symbol)
    return np.asarray(value, dtype=float) * unit.factor + unit.offset


def from_si(value: ArrayLike, symbol: str) -> NDArray[np.float64]:
    """The inverse of `to_si`, same shape and NaN rule."""
    unit = unit_named(symbol)
    return (np.asarray(value, dtype=float) - unit.offset) / unit.factor


class UnitSystem(StrEnum):
    """What a person reads at the edge."""

    US = "us"
    METRIC = "metric"


# inside-unit suffix of a name -> (US unit, metric unit, digits US, digits metric)
_SHOWN: Final[Mapping[str, tuple[str, str, int, int]]] = {
    "m": ("ft", "m", 0, 1),
    "mm": ("in", "mm", 2, 1),
    "m2": ("acre", "ha", 2, 2),
    "l_s": ("gpm", "L/s", 0, 1),
    "m3": ("gal", "m3", 0, 1),
    "kpa": ("psi", "bar", 0, 1),
    "mm_h": ("in/h", "mm/h", 2, 1),
    "c": ("F", "C", 0, 1),
    "m_s": ("ft/s", "m/s", 1, 1),
}


def shown(value: float | None, suffix: str, system: UnitSystem) -> str:
    """A number as a person reads it, with its unit; an en dash where it is missing.

    Args:
        value: in the inside unit named by `suffix`.
        suffix: the unit suffix of our names, for instance "l_s" or "mm".
        system: US or metric.

    Raises:
        KeyError: a suffix this table does not hold, which is a bug.
    """
    us, metric, us_digits, metric_digits = _SHOWN[suffix]
    if value is None or np.isnan(value):
        return "–"
    symbol, digits = (us, us_digits) if system is UnitSystem.US else (metric, metric_digits)
    return f"{float(from_si(value, symbol)):,.{digits}f} {symbol}"


@dataclass(frozen=True)
class ReadColumn:
    """A column of one of our tables as a reader meets it.

    Attributes:
        name: with the reader's unit at its end, for instance "need_in" for "need_mm".
        symbol: the reader's unit, or "" for what is the same to every reader.
        digits: after the point, where it is shown.
    """

    name: str
    symbol: str = ""
    digits: int = 3

    def value(self, inside: Any) -> Any:
        """A number of the inside unit in the reader's; anything else as it is."""
        if not self.symbol or not isinstance(inside, (int, float)) or isinstance(inside, bool):
            return inside
        return round(float(from_si(inside, self.symbol)), 6)


def read_column(name: str, system: UnitSystem) -> ReadColumn:
    """How a column named by our rule, unit last, is read; its unit is never guessed.

    Args:
        name: a column such as "used_m3"; the longest known suffix counts.
        system: US or metric.
    """
    known = [suffix for suffix in _SHOWN if name.endswith(f"_{suffix}")]
    if not known:
        return ReadColumn(name)
    suffix = max(known, key=len)
    us, metric, us_digits, metric_digits = _SHOWN[suffix]
    symbol, digits = (us, us_digits) if system is UnitSystem.US else (metric, metric_digits)
    ending = symbol.lower().replace("/", "_")
    return ReadColumn(f"{name.removesuffix(suffix)}{ending}", symbol, digits)


def read_row(row: Mapping[str, Any], system: UnitSystem) -> dict[str, Any]:
    """A row of one of our tables with names and numbers in a reader's units."""
    columns = [(name, read_column(name, system)) for name in row]
    return {column.name: column.value(row[name]) for name, column in columns}
