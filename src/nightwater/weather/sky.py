"""Measured solar radiation against what the sun can give: at night, at noon, by the clock."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, note, warning
from nightwater.units import SECONDS_PER_HOUR
from nightwater.weather import radiation
from nightwater.weather.air import Numbers, numbers
from nightwater.weather.columns import Step
from nightwater.weather.et import days_of_year
from nightwater.weather.marks import Rows
from nightwater.weather.places import counted, row_name
from nightwater.weather.terms import SunHours, known_column, sun_hours

# thresholds set on the real years in the tests: the share of days that a sound sensor
# puts over the simple clear-sky line stays under 5 %, its 95th percentile over 0.9
OVER_CLEAR_SKY: Final = 1.05
SHARE_OVER: Final = 0.05
LEAST_DAYS_OVER: Final = 3
LOW_PERCENTILE: Final = 0.7
LEAST_DAYS_LOW: Final = 60
IMPOSSIBLE: Final = 1.05  # times the radiation on top of the atmosphere
IMPOSSIBLE_EXTRA_W_M2: Final = 5.0
OFFSET_W_M2: Final = -25.0  # a thermopile's offset at night; below it is a fault
CLOCK_OFF_H: Final = 0.55
CLEAR_DAY: Final = 0.8
LEAST_CLEAR_DAYS: Final = 4
WHOLE_DAY_H: Final = 24


@dataclass(frozen=True)
class Place:
    """Where the station stands: degrees (north and east positive) and metres."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float


def check_sky(
    weather: pd.DataFrame, step: Step, place: Place
) -> tuple[pd.DataFrame, list[Finding]]:
    """Radiation that cannot be becomes NaN; what is only doubtful is told and kept.

    Args:
        weather: rows in order, without duplicates.
        step: what a row covers.
        place: where the station stands.

    Returns:
        The frame with impossible radiation removed, and the findings.
    """
    name = "solar_mj_m2" if step == "day" else "solar_w_m2"
    if name not in weather or not weather[name].notna().any():
        return weather, []
    solar = known_column(weather, name)
    if step == "day":
        above = radiation.extraterrestrial_mj_m2(place.latitude_deg, days_of_year(weather.index))
        solar, findings = _possible(solar, IMPOSSIBLE * above, weather.index, "day")
        ratio = _ratio(solar, radiation.clear_sky_mj_m2(above, place.elevation_m))
        findings += _levels(ratio, np.asarray([day.year for day in weather.index]))
    else:
        solar, findings = _hours(solar, pd.DatetimeIndex(weather.index), place)
    return weather.assign(**{name: solar}), findings


def _ratio(solar: Numbers, clear: Numbers) -> Numbers:
    return numbers(solar / np.where(clear > 0, clear, np.nan))


def _possible(
    solar: Numbers, limit: Numbers, index: pd.Index, noun: str
) -> tuple[Numbers, list[Finding]]:
    over = solar > limit
    if not over.any():
        return solar, []
    worst = int(np.nanargmax(np.where(over, solar - limit, np.nan)))
    found = warning(
        "weather-radiation-impossible",
        f"weather:{row_name(index[worst])}",
        f"Solar radiation is above that on top of the atmosphere in {counted(over, index, noun)}; "
        "it was taken out.",
        "Check the unit, the time zone and the sensor.",
    )
    return np.where(over, np.nan, solar), [found]


def _offsets(solar: Numbers, index: pd.Index) -> tuple[Numbers, list[Finding]]:
    below = (solar < 0) & (solar >= OFFSET_W_M2)
    if not below.any():
        return solar, []
    found = note(
        "weather-radiation-offset",
        "weather:solar_w_m2",
        f"Solar radiation is slightly below 0 in {counted(below, index, 'hour')}, lowest "
        f"{solar[below].min():.1f} W/m²: a sensor's offset; 0 was taken.",
        "Nothing; below -25 W/m² it would be a fault.",
    )
    return np.where(below, 0.0, solar), [found]


def _hours(solar: Numbers, index: pd.DatetimeIndex, place: Place) -> tuple[Numbers, list[Finding]]:
    sun = sun_hours(index, place.latitude_deg, place.longitude_deg)
    above = sun.above_mj_m2
    # the neighbours allow for labels that are off by up to an hour, which is told apart
    beside = np.maximum.reduce([above, np.roll(above, 1), np.roll(above, -1)])
    limit = IMPOSSIBLE * beside * 1e6 / SECONDS_PER_HOUR + IMPOSSIBLE_EXTRA_W_M2
    solar, findings = _offsets(solar, index)
    days = _solar_days(solar, index, place, sun)
    # level and clock are read off the values as they came: a clock that is off makes
    # hours impossible, and without them it could not be told
    findings += _clock(days) + _levels(days["ratio"].to_numpy(), days["year"].to_numpy())
    solar, impossible = _possible(solar, limit, index, "hour")
    return solar, findings + impossible


def _solar_days(
    solar: Numbers, index: pd.DatetimeIndex, place: Place, sun: SunHours
) -> pd.DataFrame:
    """Per whole solar day: year, month, ratio to a clear sky, and its centre [h from noon]."""
    hours = pd.DataFrame(
        {
            "solar": solar * SECONDS_PER_HOUR / 1e6,
            "clear": radiation.clear_sky_mj_m2(sun.above_mj_m2, place.elevation_m),
            "moment": solar * SECONDS_PER_HOUR / 1e6 * _solar_hour(index, place, sun.day_of_year),
            "year": index.year,
            "month": index.month,
        }
    ).groupby(sun.solar_date)
    totals, label = hours[["solar", "clear", "moment"]].sum(), hours[["year", "month"]].first()
    ratio = _ratio(totals["solar"].to_numpy(), totals["clear"].to_numpy())
    whole = hours["solar"].count().eq(WHOLE_DAY_H).to_numpy()
    centre = _ratio(totals["moment"].to_numpy(), totals["solar"].to_numpy())
    return label.assign(ratio=np.where(whole, ratio, np.nan), centre=centre)


def _solar_hour(index: pd.DatetimeIndex, place: Place, day_of_year: Numbers) -> Numbers:
    """Solar time from noon at the middle of each hour [h]."""
    hour = numbers(index.hour) + numbers(index.minute) / 60 + 0.5
    return radiation.hour_angle_rad(hour, place.longitude_deg, day_of_year) * 12 / np.pi


def _levels(ratio: Numbers, years: np.ndarray[tuple[int], np.dtype[np.int64]]) -> list[Finding]:
    """Sensor level against the clear sky, a year at a time, since sensors drift."""
    findings = []
    for year in np.unique(years).tolist():
        known = ratio[(years == year) & ~np.isnan(ratio)]
        over = known > OVER_CLEAR_SKY
        if over.sum() >= LEAST_DAYS_OVER and over.mean() > SHARE_OVER:
            findings.append(_over_clear_sky(year, over, known))
        elif len(known) >= LEAST_DAYS_LOW and np.percentile(known, 95) < LOW_PERCENTILE:
            findings.append(_low(year, known))
    return findings


def _over_clear_sky(year: int, over: Rows, known: Numbers) -> Finding:
    return warning(
        "weather-radiation-over-clear-sky",
        f"weather:{year}",
        f"Solar radiation is more than 5 % over a clear sky on {int(over.sum())} of {len(known)} "
        f"days of {year}; its 95th percentile is {np.percentile(known, 95):.2f} of a clear sky.",
        "Check the sensor's calibration and level, and the unit; the values are used as they are.",
    )


def _low(year: int, known: Numbers) -> Finding:
    return warning(
        "weather-radiation-low",
        f"weather:{year}",
        f"The clearest days of {year} reach {np.percentile(known, 95):.2f} of a clear sky.",
        "Check the unit, shade and dirt on the sensor; the values are used as they are.",
    )


def _clock(days: pd.DataFrame) -> list[Finding]:
    """Where the middle of clear days lies off solar noon, by month."""
    by_month = days[days["ratio"] > CLEAR_DAY].groupby(["year", "month"])["centre"]
    middle = by_month.median()[by_month.count() >= LEAST_CLEAR_DAYS]
    off = middle[middle.abs() > CLOCK_OFF_H]
    if off.empty:
        return []
    names = [f"{year}-{month:02d}" for year, month in off.index.tolist()]
    pairs = zip(names[:12], off.tolist(), strict=False)
    months = ", ".join(f"{name} {hours:+.1f} h" for name, hours in pairs)
    found = warning(
        "weather-clock-off",
        "weather:time",
        f"On clear days the radiation is not centred on solar noon: {months}.",
        "Check the time zone, daylight saving and whether the times label the start or the "
        "end of the hour.",
    )
    return [found]
