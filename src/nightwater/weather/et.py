"""Reference evapotranspiration of days and hours, short and tall, with its assumptions.

The standard is ASCE-EWRI 2005, which for the short reference and whole days is FAO-56's
own equation. Hours can also be computed as FAO-56 prints them (0.34 by day and night).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final, Literal, TypeAlias

import numpy as np
import pandas as pd

from nightwater.weather import air, radiation
from nightwater.weather.air import Numbers, numbers
from nightwater.weather.columns import Step
from nightwater.weather.days import days_from_hours
from nightwater.weather.marks import Rows, Term, joined, mark_lists, marks_of
from nightwater.weather.penman import (
    FAO56_HOUR,
    SHORT_DAY,
    SHORT_HOUR,
    TALL_DAY,
    TALL_HOUR,
    Surface,
    surface_et_mm,
)
from nightwater.weather.terms import (
    day_radiation,
    day_vapour_pressure,
    hour_radiation,
    hour_vapour_pressure,
    known_column,
    sun_hours,
    wind_term,
)

Standard: TypeAlias = Literal["asce", "fao56"]


_ORDINAL_1970: Final = date(1970, 1, 1).toordinal()
CLOUDS_CARRIED_H: Final = 24  # how far a day's clouds may stand for the hours around it


def days_of_year(dates: Sequence[date] | pd.Index) -> Numbers:
    """Day of the year of each date, 1 on 1 January."""
    ordinals = np.fromiter((day.toordinal() for day in dates), dtype=np.int64, count=len(dates))
    days = (ordinals - _ORDINAL_1970).astype("datetime64[D]")
    first = days.astype("datetime64[Y]").astype("datetime64[D]")
    return numbers((days - first).astype(float) + 1)


def _deficit(saturated: Numbers, actual: Numbers) -> Term:
    # no air holds more vapour than saturation; ASCE-EWRI 2005 leaves such input open
    over = saturated < actual
    return Term(np.where(over, 0.0, saturated - actual), {"humidity-over-saturation": over})


def _result(
    weather: pd.DataFrame, eto: Numbers, etr: Numbers, marks: Mapping[str, Rows]
) -> pd.DataFrame:
    missing = {"temperature-missing": np.isnan(eto)}
    every = joined(marks_of(weather), missing, marks)
    frame = {"eto_mm": eto, "etr_mm": etr, "flags": mark_lists(every, len(weather))}
    return pd.DataFrame(frame, index=weather.index)


def daily_reference_et(
    weather: pd.DataFrame,
    *,
    latitude_deg: float,
    elevation_m: float,
    wind_height_m: float | None = None,
) -> pd.DataFrame:
    """Reference ET of whole days by the standardised Penman–Monteith equation.

    Ground heat is taken as zero over a day. A missing humidity, radiation or wind is
    replaced by its documented fallback and named in `flags`; so is a wind height that
    nobody stated. Clear-sky radiation is the simple rule from the elevation.

    Args:
        weather: one row per local date (index: datetime.date), columns tmax_c, tmin_c
            and any of rh_max_pct, rh_min_pct, rh_pct, dew_c, wind_m_s, wind_height_m,
            solar_mj_m2; a column `flags` (lists of names) is carried on.
        latitude_deg: north positive [°].
        elevation_m: height above the sea [m].
        wind_height_m: height of the wind sensor in rows that do not state it.

    Returns:
        Same index; eto_mm (short, clipped grass) and etr_mm (tall, alfalfa) [mm/d],
        flags (list of names, see `marks.MEANING_OF_MARK`). NaN where tmax or tmin is
        missing. Dew may make a winter day slightly negative.

    Reference: ASCE-EWRI 2005 equation 1 and table 1; FAO-56 equation 6.
    """
    tmax, tmin = known_column(weather, "tmax_c"), known_column(weather, "tmin_c")
    above = radiation.extraterrestrial_mj_m2(latitude_deg, days_of_year(weather.index))
    clear = radiation.clear_sky_mj_m2(above, elevation_m)
    vapour, wind = day_vapour_pressure(weather), wind_term(weather, wind_height_m)
    solar = day_radiation(weather, above, clear)
    clouds = radiation.cloudiness(solar.values, clear)
    dark = np.isnan(clouds) & ~np.isnan(solar.values)
    loss = radiation.net_long_wave_mj_m2(tmax, tmin, vapour.values, np.where(dark, 1.0, clouds))
    net = radiation.net_radiation_mj_m2(solar.values, loss)
    deficit = _deficit(air.mean_saturation_vapour_pressure_kpa(tmax, tmin), vapour.values)
    mean = (tmax + tmin) / 2
    eto, etr = (
        _surface(surface, mean, net, wind, deficit, elevation_m=elevation_m)
        for surface in (SHORT_DAY, TALL_DAY)
    )
    marks = joined(vapour.marks, deficit.marks, solar.marks, wind.marks)
    return _result(weather, eto, etr, joined(marks, {"cloud-assumed-clear": dark}))


def _surface(
    surface: Surface, air_c: Numbers, net: Numbers, wind: Term, deficit: Term, *, elevation_m: float
) -> Numbers:
    gamma = air.psychrometric_constant_kpa_c(air.air_pressure_kpa(elevation_m))
    slope = air.vapour_pressure_slope_kpa_c(air_c)
    return surface_et_mm(
        surface,
        net_radiation=net,
        temperature_c=air_c,
        wind_2_m_m_s=wind.values,
        deficit_kpa=deficit.values,
        slope_kpa_c=slope,
        gamma_kpa_c=gamma,
    )


def carried_clouds(solar: Numbers, clear: Numbers, height_rad: Numbers, least: float) -> Numbers:
    """Cloud factor of each hour; at night and under a low sun that of the day before.

    Args:
        solar, clear: measured and clear-sky radiation of consecutive hours [MJ/m²].
        height_rad: sun above the horizon at mid-hour [rad]; below 0.3 the ratio of the
            two says nothing.
        least: least ratio of the two that is used.

    Returns:
        Factor per hour; the first night takes that of the next day; NaN where no high
        sun lies within 24 hours.

    Reference: ASCE-EWRI 2005, equation 45 and the text after it.
    """
    factor = np.where(
        height_rad >= radiation.LOW_SUN_RAD, radiation.cloudiness(solar, clear, least), np.nan
    )
    carried = pd.Series(factor).ffill(limit=CLOUDS_CARRIED_H).bfill(limit=CLOUDS_CARRIED_H)
    return numbers(carried)


def hourly_reference_et(
    weather: pd.DataFrame,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    wind_height_m: float | None = None,
    standard: Standard = "asce",
) -> pd.DataFrame:
    """Reference ET of hours by the standardised Penman–Monteith equation.

    Ground heat is a share of net radiation; night is where net radiation is below zero.
    Fallbacks and flags as for days; humidity and radiation fall back on the extremes of
    the solar day, where 18 of its hours have a temperature.

    Args:
        weather: one row per hour, in order (index: zone-aware start of the hour), columns
            temp_c and any of rh_pct, dew_c, wind_m_s, wind_height_m, solar_w_m2.
        latitude_deg, longitude_deg: north and east positive [°].
        elevation_m: height above the sea [m].
        wind_height_m: height of the wind sensor in rows that do not state it.
        standard: "asce" (Cd 0.24 by day, 0.96 by night) or "fao56" (0.34 always, and no
            tall reference: etr_mm is NaN).

    Returns:
        Same index; eto_mm and etr_mm [mm/h], flags. NaN where the temperature, or all
        that a term could come from, is missing. Nights may be slightly negative.

    Reference: ASCE-EWRI 2005 equation 1, table 1 and equations 44 to 66; FAO-56
    equation 53.
    """
    temperature = known_column(weather, "temp_c")
    sun = sun_hours(pd.DatetimeIndex(weather.index), latitude_deg, longitude_deg)
    clear = radiation.clear_sky_mj_m2(sun.above_mj_m2, elevation_m)
    vapour, wind = hour_vapour_pressure(weather, sun), wind_term(weather, wind_height_m)
    solar = hour_radiation(weather, sun, clear)
    least = radiation.LEAST_CLEARNESS if standard == "asce" else 0.0
    clouds = carried_clouds(solar.values, clear, sun.height_rad, least)
    unknown = np.isnan(clouds)
    loss = radiation.net_long_wave_hour_mj_m2(
        temperature, vapour.values, np.where(unknown, 1.0, clouds)
    )
    net = radiation.net_radiation_mj_m2(solar.values, loss)
    deficit = _deficit(air.saturation_vapour_pressure_kpa(temperature), vapour.values)
    short = SHORT_HOUR if standard == "asce" else FAO56_HOUR
    eto = _surface(short, temperature, net, wind, deficit, elevation_m=elevation_m)
    etr = _surface(TALL_HOUR, temperature, net, wind, deficit, elevation_m=elevation_m)
    marks = joined(vapour.marks, deficit.marks, solar.marks, wind.marks)
    marks = joined(marks, {"cloud-assumed-clear": unknown})
    return _result(weather, eto, etr if standard == "asce" else np.full_like(etr, np.nan), marks)


def reference_et(
    weather: pd.DataFrame,
    step: Step,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    timezone: str,
    rows: Step | None = None,
    wind_height_m: float | None = None,
    standard: Standard = "asce",
) -> list[dict[str, object]]:
    """Reference ET as plain rows, for scripts.

    Args:
        weather: as `daily_reference_et` (step "day") or `hourly_reference_et` ("hour").
        step: what a row of `weather` covers.
        latitude_deg, longitude_deg, elevation_m, wind_height_m, standard: as there; days
            do not use the longitude and are the same in both standards.
        timezone: IANA name of the local time in which hours make days.
        rows: what a row of the answer covers, if not `step`; days of hourly weather are
            computed from its local days, as the night's need does.

    Returns:
        One row each: "date" (ISO date) or "time" (ISO UTC instant of the hour's start),
        "eto_mm" and "etr_mm" (a number, or None where unknown), "flags" (list of names).

    Raises:
        ValueError: hours are wanted of daily weather.
    """
    if step == "day" and rows == "hour":
        raise ValueError("daily weather has no hours")
    if (rows or step) == "day":
        days = weather if step == "day" else days_from_hours(weather, timezone)
        result = daily_reference_et(
            days, latitude_deg=latitude_deg, elevation_m=elevation_m, wind_height_m=wind_height_m
        )
        return _plain_rows(result, "date", [day.isoformat() for day in result.index])
    result = hourly_reference_et(
        weather,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        wind_height_m=wind_height_m,
        standard=standard,
    )
    times = pd.DatetimeIndex(result.index).tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
    return _plain_rows(result, "time", list(times))


def _plain_rows(result: pd.DataFrame, key: str, labels: list[str]) -> list[dict[str, object]]:
    eto, etr = (
        [None if np.isnan(value) else float(value) for value in result[name]]
        for name in ("eto_mm", "etr_mm")
    )
    return [
        {key: label, "eto_mm": short, "etr_mm": tall, "flags": flags}
        for label, short, tall, flags in zip(labels, eto, etr, result["flags"], strict=True)
    ]
