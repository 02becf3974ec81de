"""What is wrong with a weather series: impossible values taken out, doubts told."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, note, warning
from nightwater.ground.running_tables import WEATHER
from nightwater.weather.air import Numbers
from nightwater.weather.columns import Step, columns_of
from nightwater.weather.marks import Rows
from nightwater.weather.places import counted, row_name, several
from nightwater.weather.sky import OFFSET_W_M2, Place, check_sky
from nightwater.weather.suspects import check_levels, check_rain, check_stuck
from nightwater.weather.terms import known_column

DEW_OVER_AIR_C: Final = 1.0  # sensors of humidity and temperature differ by as much
STEP_LENGTH: Final = {"day": pd.Timedelta(days=1), "hour": pd.Timedelta(hours=1)}
_FALLBACK: Final = {
    "tmax_c": "such days have no reference ET",
    "tmin_c": "such days have no reference ET",
    "temp_c": "such hours have no reference ET",
    "humidity": "the highest humidity, or else the lowest temperature, stands in for it",
    "wind_m_s": "2 m/s is assumed",
    "solar_mj_m2": "it is estimated from the temperature range",
    "solar_w_m2": "it is estimated from the temperature range",
    "rain_mm": "no rain is known then",
}
_FIX_RANGE: Final = "Check the sensor and the column's unit."


def check_weather(
    weather: pd.DataFrame,
    step: Step,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Check a weather series; nothing is filled, only what cannot be is taken out.

    Args:
        weather: columns of the weather table; index datetime.date (step "day") or the
            zone-aware start of the hour ("hour").
        step: what a row covers.
        latitude_deg, longitude_deg: north and east positive [°].
        elevation_m: height above the sea [m].

    Returns:
        The series in order, without duplicate rows, impossible values NaN; and the
        findings, none of severity error, since a value taken out is marked again on
        every result that had to do without it.
    """
    place = Place(latitude_deg, longitude_deg, elevation_m)
    if step == "hour":
        weather = weather.set_axis(pd.DatetimeIndex(weather.index).tz_convert("UTC"))
    ordered, findings = _in_order(weather)
    if ordered.empty:
        return ordered, findings
    ranged, more = _in_range(ordered, step)
    agreeing, contradictions = _agreeing(ranged, step)
    cleaned, sky = check_sky(agreeing, step, place)
    findings += more + contradictions + sky
    findings += check_stuck(cleaned, step) + check_levels(cleaned, step)
    findings += check_rain(cleaned, step)
    findings += _gaps(cleaned.index, step) + _missing(cleaned, step) + _height(cleaned)
    return cleaned, findings


def _in_order(weather: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    findings = []
    if not weather.index.is_monotonic_increasing:
        found = note(
            "weather-out-of-order",
            "weather:time",
            "The rows were not in the order of time; they were sorted.",
            "Nothing.",
        )
        findings.append(found)
        weather = weather.sort_index(kind="stable")
    again = np.asarray(weather.index.duplicated())
    if not again.any():
        return weather, findings
    return weather[~again], findings + _doubled(weather, again)


def _doubled(weather: pd.DataFrame, again: Rows) -> list[Finding]:
    values = [column for column in weather if column != "flags"]
    same = weather[values].reset_index().duplicated().to_numpy()
    fix = "Look into the file; remove the wrong rows."
    findings = []
    if (again & same).any():
        told = counted(again & same, weather.index, "time")
        message = f"{told} stand twice with the same values; one was kept."
        findings.append(note("weather-row-twice", "weather:time", message, fix))
    if (again & ~same).any():
        told = counted(again & ~same, weather.index, "time")
        message = f"{told} stand more than once with other values; the first was kept."
        findings.append(warning("weather-rows-contradict", "weather:time", message, fix))
    return findings


def _in_range(weather: pd.DataFrame, step: Step) -> tuple[pd.DataFrame, list[Finding]]:
    findings, cleaned = [], {}
    for name in (*columns_of(step), "rh_pct"):
        column = WEATHER.by_name[name]
        if name not in weather or column.lowest is None or column.highest is None:
            continue
        values = known_column(weather, name)
        lowest = OFFSET_W_M2 if name == "solar_w_m2" else column.lowest
        out = (values < lowest) | (values > column.highest)
        if out.any():
            findings.append(_out_of_range(name, values, out, weather.index))
        cleaned[name] = np.where(out, np.nan, values)
    return weather.assign(**cleaned), findings


def _out_of_range(name: str, values: Numbers, out: Rows, index: pd.Index) -> Finding:
    column = WEATHER.by_name[name]
    first = int(np.flatnonzero(out)[0])
    share = out.sum() / np.count_nonzero(~np.isnan(values))
    many = " So many point at another unit." if share > 0.1 and out.sum() > 2 else ""
    return warning(
        "weather-out-of-range",
        f"weather:{name}",
        f"{several(int(out.sum()), 'value')} of {name} outside {column.lowest:g} to "
        f"{column.highest:g} taken out, the first {values[first]:g} at "
        f"{row_name(index[first])}.{many}",
        _FIX_RANGE,
    )


def _agreeing(weather: pd.DataFrame, step: Step) -> tuple[pd.DataFrame, list[Finding]]:
    """Values that contradict each other in one row: both go, or the dew point alone."""
    tmax, tmin = known_column(weather, "tmax_c"), known_column(weather, "tmin_c")
    rules = [
        (("tmax_c", "tmin_c"), tmax < tmin, "the highest temperature is below the lowest"),
        (
            ("rh_max_pct", "rh_min_pct"),
            known_column(weather, "rh_max_pct") < known_column(weather, "rh_min_pct"),
            "the highest humidity is below the lowest",
        ),
        (
            ("dew_c",),
            known_column(weather, "dew_c")
            > (tmax if step == "day" else known_column(weather, "temp_c")) + DEW_OVER_AIR_C,
            "the dew point is more than 1 °C above the air",
        ),
    ]
    findings: list[Finding] = []
    cleaned: dict[str, Numbers] = {}
    for names, wrong, what in rules:
        if not wrong.any():
            continue
        told = counted(wrong, weather.index, step)
        found = warning(
            "weather-contradicts-itself",
            f"weather:{names[0]}",
            f"In {told} {what}; {' and '.join(names)} taken out there.",
            "Check the sensors and whether two columns were exchanged.",
        )
        findings.append(found)
        cleaned |= {name: np.where(wrong, np.nan, known_column(weather, name)) for name in names}
    return weather.assign(**cleaned), findings


def _gaps(index: pd.Index, step: Step) -> list[Finding]:
    times = pd.DatetimeIndex(pd.to_datetime(index, utc=True))
    between = times[1:] - times[:-1]
    gap: list[int] = np.flatnonzero(between > STEP_LENGTH[step]).tolist()
    if not gap:
        return []
    missing = [int(between[at] / STEP_LENGTH[step]) - 1 for at in gap]
    told = [
        f"{several(count, step)} after {row_name(index[at])}"
        for at, count in zip(gap[:5], missing[:5], strict=True)
    ]
    more = f" and {len(gap) - 5} more gaps" if len(gap) > 5 else ""
    found = warning(
        "weather-gap",
        f"weather:{row_name(index[gap[0]])}",
        f"{several(sum(missing), step)} missing in {several(len(gap), 'gap')}: "
        f"{', '.join(told)}{more}.",
        "Add the missing rows if you have them. One hour in spring is the change of clocks: "
        "check that the file's time zone was given.",
    )
    return [found]


def _missing(weather: pd.DataFrame, step: Step) -> list[Finding]:
    """What a fallback will stand in for; a humidity of either kind is enough."""
    known = {name: ~np.isnan(known_column(weather, name)) for name in columns_of(step)}
    if step == "day":
        humidity = known["dew_c"] | (known["rh_max_pct"] & known["rh_min_pct"])
    else:
        humidity = known["dew_c"] | known["rh_pct"]
    groups = {name: known[name] for name in _FALLBACK if name in known} | {"humidity": humidity}
    findings = []
    for name, there in groups.items():
        empty = int((~there).sum())
        if not empty:
            continue
        told = f"is missing in {empty:,} of {len(weather):,} rows"
        if empty == len(weather):
            told = "is missing altogether"
        found = note(
            "weather-missing",
            f"weather:{name}",
            f"{name} {told}; {_FALLBACK[name]}.",
            "Add the column or the sensor; every result that does without it says so.",
        )
        findings.append(found)
    return findings


def _height(weather: pd.DataFrame) -> list[Finding]:
    wind = ~np.isnan(known_column(weather, "wind_m_s"))
    unstated = wind & np.isnan(known_column(weather, "wind_height_m"))
    if not unstated.any():
        return []
    found = warning(
        "weather-wind-height-unstated",
        "weather:wind_height_m",
        f"Nobody states the height of the wind sensor in {several(int(unstated.sum()), 'row')}; "
        "2 m is assumed. Wind at 10 m taken as wind at 2 m puts ETo some 10 % too high.",
        "State the height in metres (column wind_height_m).",
    )
    return [found]
