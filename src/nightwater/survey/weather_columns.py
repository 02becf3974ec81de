"""Matching the columns of somebody's weather file with ours, and reading their units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.running_tables import WEATHER
from nightwater.units import UNITS, unit_named

TIME_TARGETS: Final[Mapping[str, str]] = {
    "date": "a calendar date",
    "time": "date and time (or the time beside a date) at the start of the hour",
    "time_end": "the same at the end of the hour",
    "year": "year",
    "month": "month, 1 to 12",
    "day": "day of the month",
    "day_of_year": "day of the year, 1 to 366",
    "year_day": "year and day of the year, as 2003-001",
    "hour": "hour at its start, 0 to 23 (or 100 to 2300)",
    "hour_end": "hour at its end, 1 to 24 (or 100 to 2400)",
    "minute": "minute",
    "station": "which station; written as station=NAME it keeps only those rows",
}
NUMBER_TARGETS: Final = tuple(
    column.name for column in WEATHER.columns if column.quantity is not None
)
INSIDE_UNIT: Final[Mapping[str, str]] = {
    "temperature": "C",
    "share": "pct",
    "speed": "m/s",
    "length": "m",
    "radiation": "MJ/m2",
    "irradiance": "W/m2",
    "depth": "mm",
}

_UNIT_WORDS: Final[Mapping[str, str]] = {
    "c": "C",
    "degc": "C",
    "celsius": "C",
    "f": "F",
    "degf": "F",
    "fahrenheit": "F",
    "%": "pct",
    "pct": "pct",
    "percent": "pct",
    "m/s": "m/s",
    "ms": "m/s",
    "mps": "m/s",
    "ms-1": "m/s",
    "mph": "mph",
    "mi/h": "mph",
    "km/h": "km/h",
    "kmh": "km/h",
    "kph": "km/h",
    "kt": "knot",
    "kts": "knot",
    "knot": "knot",
    "knots": "knot",
    "w/m2": "W/m2",
    "w/m^2": "W/m2",
    "wm2": "W/m2",
    "wm-2": "W/m2",
    "mj/m2": "MJ/m2",
    "mj/m^2": "MJ/m2",
    "mjm2": "MJ/m2",
    "mjm-2": "MJ/m2",
    "mj/m2/d": "MJ/m2",
    "mj/m2/day": "MJ/m2",
    "kwh/m2": "kWh/m2",
    "ly": "langley",
    "langley": "langley",
    "langleys": "langley",
    "langley/h": "langley/h",
    "ly/h": "langley/h",
    "mm": "mm",
    "in": "in",
    "inch": "in",
    "inches": "in",
    "0.1mm": "0.1mm",
    "m": "m",
    "ft": "ft",
}

# base names as they stand in many files, without case, spaces and marks
_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "tmax_c": ("tmax", "tempmax", "maxtemp", "maxairtemp", "maximumtemperature", "tdailymax"),
    "tmin_c": ("tmin", "tempmin", "mintemp", "minairtemp", "minimumtemperature", "tdailymin"),
    "temp_c": ("temp", "temperature", "airtemp", "airtemperature", "tair", "drybulb"),
    "rh_max_pct": ("rhmax", "maxrh", "rhdailymax", "humiditymax", "maxhumidity"),
    "rh_min_pct": ("rhmin", "minrh", "rhdailymin", "humiditymin", "minhumidity"),
    "rh_pct": ("rh", "humid", "humidity", "relativehumidity", "relhum", "rhum", "rhdailyavg"),
    "dew_c": ("dew", "dewp", "dewpoint", "tdew", "dewpointtemperature", "dewpt"),
    "wind_m_s": ("wind", "windspeed", "wndsp", "wspd", "windavg", "avgwind", "meanwind"),
    "wind_height_m": ("windheight", "anemometerheight"),
    "solar": ("solar", "solarradiation", "solarrad", "srad", "ghi", "globalradiation", "solarad"),
    "solar_mj_m2": ("solaraddaily",),
    "rain_mm": ("rain", "rainfall", "precip", "precipitation", "prcp", "ppt", "pdailycalc"),
    "date": ("date", "lstdate", "obsdate"),
    "time": ("time", "datetime", "timestamp", "timehour", "dateandtime"),
    "year": ("year", "yr"),
    "month": ("month", "mo"),
    "day": ("day", "dy"),
    "day_of_year": ("doy", "dayofyear", "julianday"),
    "year_day": ("yeardoy",),
    "hour": ("hour", "hr", "hrmn"),
    "minute": ("minute",),
    "station": ("station", "stationid", "wban", "site"),
}
_OURS_BY_WORD: Final = {word: ours for ours, words in _WORDS.items() for word in words}


@dataclass(frozen=True)
class ColumnMatch:
    """One of their columns and what we take it for.

    Attributes:
        theirs: the name in the file.
        ours: a column of the weather table, or one of `TIME_TARGETS`.
        unit: symbol of `units.UNITS` that the file itself states; None where it states
            none (then a person has to), or where no unit is needed.
    """

    theirs: str
    ours: str
    unit: str | None


def unit_from_words(words: str) -> str | None:
    """The unit that a file's own words name, or None."""
    plain = words.strip().strip("()[]")
    if plain in UNITS and UNITS[plain].quantity in INSIDE_UNIT:
        return plain
    return _UNIT_WORDS.get(re.sub(r"[\s°_]", "", plain.lower()).replace("²", "2"))


def _parted(name: str) -> tuple[str, str | None]:
    """The base word of a header cell and the unit that stands in it."""
    bracketed = re.match(r"^(.*?)[\s_]*[(\[](.+?)[)\]]\s*$", name)
    if bracketed:
        return _word(bracketed[1]), unit_from_words(bracketed[2])
    pieces = re.split(r"[\s_]+", name.strip())
    for start in range(1, len(pieces)):
        unit = unit_from_words("".join(pieces[start:])) or unit_from_words("/".join(pieces[start:]))
        if unit is not None:
            return _word("".join(pieces[:start])), unit
    return _word(name), None


def fixed_value(theirs: str) -> tuple[float, str] | None:
    """The number and unit of a value that stands in for a column, such as "3 m"."""
    written = re.fullmatch(r"([-+]?\d+(?:\.\d+)?) (\S+)", theirs)
    return (float(written[1]), written[2]) if written and written[2] in UNITS else None


def _word(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.lower())


def _guess(name: str) -> tuple[str, str | None] | None:
    if name in NUMBER_TARGETS:
        return name, INSIDE_UNIT[str(WEATHER.by_name[name].quantity)]
    if name in TIME_TARGETS:
        return name, None
    base, unit = _parted(name)
    if base in _OURS_BY_WORD:
        return _OURS_BY_WORD[base], unit
    return (_OURS_BY_WORD[_word(name)], None) if _word(name) in _OURS_BY_WORD else None


def _stated_unit(name: str) -> str | None:
    guess = _guess(name)
    return guess[1] if guess else _parted(name)[1]


def guess_columns(header: Sequence[str]) -> tuple[ColumnMatch, ...]:
    """What each column of a weather file most likely is, for a person to confirm.

    Args:
        header: the names in the file.

    Returns:
        A match for each column that is known by its name; of two for the same thing the
        first. A unit only where the name states it; it is never guessed from numbers.
    """
    guesses = [(name, guess) for name in header if (guess := _guess(name)) is not None]
    ours_found = {ours for _, (ours, _) in guesses}
    hourly = bool({"time", "time_end", "hour", "hour_end"} & ours_found)
    matches: dict[str, ColumnMatch] = {}
    for theirs, (guessed, unit) in guesses:
        ours = guessed
        if guessed == "solar":
            ours = "solar_w_m2" if hourly else "solar_mj_m2"
        matches.setdefault(ours, ColumnMatch(theirs, ours, unit))
    return tuple(matches.values())


def _nearest(name: str, known: Sequence[str]) -> str:
    near = get_close_matches(name, known, 1, 0.4)
    return f" Did you mean '{near[0]}'?" if near else ""


def _check_said(
    header: Sequence[str], columns: Mapping[str, str], units: Mapping[str, str]
) -> None:
    targets = (*NUMBER_TARGETS, *TIME_TARGETS, "")
    for theirs, ours in columns.items():
        if theirs not in header and fixed_value(theirs) is None:
            raise UserError(
                f"The file has no column '{theirs}'.{_nearest(theirs, header)} "
                f"Its columns: {', '.join(header)}."
            )
        if ours.split("=")[0] not in targets:
            raise UserError(
                f"'{ours}' is no column of the weather table.{_nearest(ours, targets)} "
                f"Known: {', '.join(targets[:-1])}."
            )
    for name, symbol in units.items():
        if name not in header and name not in targets:
            raise UserError(
                f"A unit is said for '{name}', which is no column of the file."
                f"{_nearest(name, [*header, *targets])}"
            )
        unit_named(symbol)


def match_columns(
    header: Sequence[str],
    columns: Mapping[str, str],
    units: Mapping[str, str],
    stated: Mapping[str, str],
) -> tuple[ColumnMatch, ...]:
    """The columns to read: what a person said first, else the guess, with their units.

    Args:
        header: the names in the file.
        columns: their name to ours; "" leaves a column out; a fixed value such as "3 m" may
            stand for a column.
        units: symbol of `units.UNITS` by their name or ours.
        stated: units that the file states beside its header, by their name.

    Raises:
        UserError: an unknown name, a unit of another quantity, or columns whose unit
            nobody states (all of them in one message).
    """
    _check_said(header, columns, units)
    said = {ours.split("=")[0] for ours in columns.values()}
    guessed = [m for m in guess_columns(header) if m.theirs not in columns and m.ours not in said]
    chosen = [ColumnMatch(t, o, _stated_unit(t)) for t, o in columns.items() if o]
    matches, without = [], []
    for match in (*chosen, *guessed):
        fixed = fixed_value(match.theirs) if match.theirs not in header else None
        known = fixed[1] if fixed else match.unit or stated.get(match.theirs)
        unit = units.get(match.theirs, units.get(match.ours, known))
        if match.ours in NUMBER_TARGETS and unit is None:
            without.append(match)
        elif match.ours in NUMBER_TARGETS:
            _check_quantity(match, str(unit))
        matches.append(ColumnMatch(match.theirs, match.ours, unit))
    if without:
        raise UserError(_units_wanted(without))
    return tuple(matches)


def _units_wanted(without: Sequence[ColumnMatch]) -> str:
    asked = "; ".join(
        f"'{match.theirs}' ({match.ours}: {', '.join(units_for(match.ours))})" for match in without
    )
    return f"Nobody states the unit of {asked}. Say each unit, or leave the column out."


def units_for(ours: str) -> list[str]:
    """The symbols in which a column of ours may come."""
    quantity = WEATHER.by_name[ours].quantity
    sun = ("radiation", "irradiance")
    fitting = sun if quantity in sun else (quantity,)
    return [unit.symbol for unit in UNITS.values() if unit.quantity in fitting]


def _check_quantity(match: ColumnMatch, symbol: str) -> None:
    if symbol not in units_for(match.ours):
        raise UserError(
            f"'{match.theirs}' ({match.ours}) cannot be in '{symbol}', which is a "
            f"{unit_named(symbol).quantity}; it may be in {', '.join(units_for(match.ours))}."
        )
