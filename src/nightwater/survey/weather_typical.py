"""Typical-year files: TMY3, TMY2 and EPW, read by pvlib and brought to our hours.

Their months come from different years; all are set into one year, and their rows are
typical, not observed. An hour is labelled by its end in all three; pvlib leaves TMY3 so
and moves the other two to the start.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeAlias

import numpy as np
import pandas as pd
from pvlib import iotools

from nightwater.findings import Finding, UserError, note, warning
from nightwater.units import to_si
from nightwater.weather.air import Numbers, numbers
from nightwater.weather.columns import HOUR_COLUMNS
from nightwater.weather.sky import Place

HOUR: Final = pd.Timedelta(hours=1)
MAST_HEIGHT_M: Final = 10.0  # wind in these files is from airport masts, standard 10 m
TMY3_MISSING: Final = -9900.0
LEAST_WET_HOURS: Final = 30
MOST_RAIN_MM: Final = 3000.0  # of a year, before a header that says mm is doubted
HUNDREDTHS_INCH: Final = 0.9  # share of wet hours that are whole hundredths of an inch


@dataclass(frozen=True)
class TypicalYear:
    """A typical year: `weather` by UTC hour, where it was measured, and doubts."""

    weather: pd.DataFrame
    place: Place
    findings: tuple[Finding, ...]
    source_columns: Mapping[str, str]


def kind_of_typical(path: Path) -> str | None:
    """Which typical-year format a file has: "tmy3", "tmy2", "epw" or None.

    Raises:
        UserError: the file cannot be read.
    """
    try:
        with path.open(encoding="latin-1") as lines:
            head = [lines.readline(), lines.readline()]
    except OSError as trouble:
        raise UserError(f"{path} cannot be read: {trouble.strerror}.") from trouble
    if "Date (MM/DD/YYYY)" in head[1] and "Time (HH:MM)" in head[1]:
        return "tmy3"
    if head[0].startswith("LOCATION,"):
        return "epw"
    return "tmy2" if path.suffix.lower() == ".tm2" else None


def read_typical(path: Path, kind: str, year: int, units: Mapping[str, str]) -> TypicalYear:
    """A typical year set into one calendar year.

    Args:
        path: the file.
        kind: from `kind_of_typical`.
        year: the year that its months are set into; 29 February stays empty.
        units: {"rain_mm": symbol} where a person knows the unit of rain better than the
            header.

    Raises:
        UserError: pvlib cannot read the file, or a unit is said for another column.
    """
    if set(units) - {"rain_mm"}:
        raise UserError(f"{path.name}: the format fixes the units; only rain_mm's can be said.")
    read = {"tmy3": _tmy3, "tmy2": _tmy2, "epw": _epw}[kind]
    try:
        weather, meta, findings, source = read(path, year, units.get("rain_mm"))
    except (ValueError, KeyError, IndexError) as trouble:
        raise UserError(f"{path.name} is not a whole {kind.upper()} file: {trouble}.") from trouble
    place = Place(meta["latitude"], meta["longitude"], meta["altitude"])
    told = note(
        "weather-typical-year",
        path.name,
        f"A typical year: months of different years, all set into {year}.",
        "Use it to try a season out, not as last night's weather.",
    )
    weather = weather.assign(origin="typical")
    return TypicalYear(weather, place, (told, *findings), source)


_Read: TypeAlias = tuple[pd.DataFrame, dict[str, Any], list[Finding], Mapping[str, str]]


def _frame(data: pd.DataFrame, source: Mapping[str, str], index: pd.DatetimeIndex) -> pd.DataFrame:
    columns = {ours: numbers(data[theirs].to_numpy(dtype=float)) for theirs, ours in source.items()}
    frame = pd.DataFrame(columns, index=index.tz_convert("UTC").rename("time"))
    return frame.assign(wind_height_m=MAST_HEIGHT_M).reindex(columns=list(HOUR_COLUMNS))


def _in_year(index: pd.Index, year: int) -> pd.DatetimeIndex:
    return pd.DatetimeIndex([stamp.replace(year=year) for stamp in index])


def _without(values: Numbers, codes: float | tuple[float, ...]) -> Numbers:
    return numbers(np.where(np.isin(values, codes), np.nan, values))


def _tmy3(path: Path, year: int, rain_unit: str | None) -> _Read:
    data, meta = iotools.read_tmy3(path, map_variables=True)
    source = {
        "temp_air": "temp_c",
        "relative_humidity": "rh_pct",
        "temp_dew": "dew_c",
        "wind_speed": "wind_m_s",
        "ghi": "solar_w_m2",
        "Lprecip depth (mm)": "rain_mm",
    }
    # twice: the last label of the year is midnight of the next, and moves back into it
    ends = _in_year(data.index, year)
    weather = _frame(data, source, _in_year(ends - HOUR, year))
    weather = weather.where(weather > TMY3_MISSING)
    findings = _codes(path.name, data, source)
    rain, doubts = _tmy3_rain(
        path.name,
        weather["rain_mm"].to_numpy(),
        data["Lprecip quantity (hr)"].to_numpy(dtype=float),
        rain_unit,
    )
    return weather.assign(rain_mm=rain), meta, findings + doubts, source


def _codes(name: str, data: pd.DataFrame, source: Mapping[str, str]) -> list[Finding]:
    empty = {
        theirs: count
        for theirs in source
        if (count := int((data[theirs].to_numpy(dtype=float) <= TMY3_MISSING).sum()))
    }
    if not empty:
        return []
    told = ", ".join(f"{theirs} {count:,}" for theirs, count in empty.items())
    found = note(
        "weather-missing-code",
        name,
        f"-9900 or less, the format's code for a missing value, stands in: {told} hours.",
        "Nothing.",
    )
    return [found]


def _tmy3_rain(
    name: str, depth: Numbers, period_h: Numbers, unit: str | None
) -> tuple[Numbers, list[Finding]]:
    """Rain of TMY3 hours [mm]: sums over other periods left out, the unit looked into.

    The header says mm, yet files exist whose numbers are tenths of it. It shows: rain is
    gauged in hundredths of an inch, and 1, 2, 3 of them are 2.54, 5.08, 7.62 tenths of mm,
    written 3, 5, 8.
    """
    findings = []
    other = ~np.isnan(depth) & (period_h != 1)
    if other.any():
        depth = np.where(other, np.nan, depth)
        found = warning(
            "weather-rain-period",
            f"{name}:Lprecip quantity",
            f"Rain of {int(other.sum()):,} hours is a sum over another time than one hour; "
            "it was left out.",
            "Take rain from another source if you need it.",
        )
        findings.append(found)
    if unit is not None:
        return numbers(to_si(depth, unit)), findings
    wet = depth[depth > 0]
    in_tenths = len(wet) >= LEAST_WET_HOURS and _hundredths_of_inch(wet) >= HUNDREDTHS_INCH
    total = float(np.nansum(depth))
    if in_tenths:
        findings.append(_tenths(name, total))
        return numbers(to_si(depth, "0.1mm")), findings
    if total > MOST_RAIN_MM:
        findings.append(_too_much(name, total))
        return np.full(depth.shape, np.nan), findings
    return depth, findings


def _hundredths_of_inch(wet: Numbers) -> float:
    possible = np.round(2.54 * np.arange(1, 5000))
    return float(np.isin(wet, possible).mean())


def _tenths(name: str, total: float) -> Finding:
    return warning(
        "weather-rain-in-tenths",
        f"{name}:Lprecip depth",
        f"Rain adds to {total:,.0f} in the year under a header that says mm, and its numbers "
        "are whole hundredths of an inch written in tenths of mm; "
        f"they were read as tenths, {total / 10:,.0f} mm.",
        "Say the unit of rain_mm (mm or 0.1mm) if you know better.",
    )


def _too_much(name: str, total: float) -> Finding:
    return warning(
        "weather-rain-unit",
        f"{name}:Lprecip depth",
        f"Rain adds to {total:,.0f} mm in the year by the header's unit; it was left out.",
        "Say the unit of rain_mm (mm or 0.1mm).",
    )


def _tmy2(path: Path, year: int, rain_unit: str | None) -> _Read:
    del rain_unit  # the format has no rain
    data, meta = iotools.read_tmy2(path)
    source = {
        "DryBulb": "temp_c",
        "RHum": "rh_pct",
        "DewPoint": "dew_c",
        "Wspd": "wind_m_s",
        "GHI": "solar_w_m2",
    }
    weather = _frame(data, source, _in_year(data.index, year))
    # the format's codes for missing, before its tenths are taken
    weather = weather.assign(
        temp_c=_without(weather["temp_c"].to_numpy(), 9999) / 10,
        dew_c=_without(weather["dew_c"].to_numpy(), 9999) / 10,
        wind_m_s=_without(weather["wind_m_s"].to_numpy(), 999) / 10,
        rh_pct=_without(weather["rh_pct"].to_numpy(), 999),
        solar_w_m2=_without(weather["solar_w_m2"].to_numpy(), 9999),
    )
    return weather, meta, [], source


def _epw(path: Path, year: int, rain_unit: str | None) -> _Read:
    data, meta = iotools.read_epw(path, coerce_year=year)
    source = {
        "temp_air": "temp_c",
        "relative_humidity": "rh_pct",
        "temp_dew": "dew_c",
        "wind_speed": "wind_m_s",
        "ghi": "solar_w_m2",
        "liquid_precipitation_depth": "rain_mm",
    }
    weather = _frame(data, source, pd.DatetimeIndex(data.index))
    weather = weather.assign(
        temp_c=_without(weather["temp_c"].to_numpy(), 99.9),
        dew_c=_without(weather["dew_c"].to_numpy(), 99.9),
        rh_pct=_without(weather["rh_pct"].to_numpy(), 999),
        wind_m_s=_without(weather["wind_m_s"].to_numpy(), 999),
        solar_w_m2=_without(weather["solar_w_m2"].to_numpy(), (9999, 999999)),
        rain_mm=_without(weather["rain_mm"].to_numpy(), (99, 999)),
    )
    if rain_unit is not None:
        weather["rain_mm"] = to_si(weather["rain_mm"].to_numpy(), rain_unit)
    return weather, meta, [], source
