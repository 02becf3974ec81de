"""The inputs of the reference ET from what a station measured, best source first.

The order of preference is FAO-56's: vapour pressure from dew point, then both extremes of
humidity, then the highest, then the mean, then the lowest temperature (pages 36 to 39 and
58); solar radiation measured, then from the temperature range (pages 59 to 62); wind
measured, then 2 m/s (page 63).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from nightwater.units import SECONDS_PER_HOUR
from nightwater.weather import air, radiation
from nightwater.weather.air import Numbers
from nightwater.weather.marks import Term, first_known

DEFAULT_WIND_M_S: Final = 2.0
DEFAULT_WIND_HEIGHT_M: Final = 2.0
LEAST_HOURS_FOR_RANGE: Final = 18  # of a day, before its extremes stand for the day


@dataclass(frozen=True)
class SunHours:
    """Where the sun stood in every hour of a series.

    Attributes:
        day_of_year: of the place's solar date.
        solar_date: whole solar days since 1970, which groups hours of one day.
        height_rad: angle above the horizon at the middle of the hour.
        above_mj_m2: radiation of the hour on top of the atmosphere [MJ/m²].
    """

    day_of_year: Numbers
    solar_date: Numbers
    height_rad: Numbers
    above_mj_m2: Numbers


def known_column(weather: pd.DataFrame, name: str) -> Numbers:
    """A column as numbers; all NaN where the frame does not have it."""
    if name not in weather:
        return np.full(len(weather), np.nan)
    return weather[name].to_numpy(dtype=float, na_value=np.nan)


def day_vapour_pressure(weather: pd.DataFrame) -> Term:
    """Actual vapour pressure of each day [kPa], with marks where it was not observed."""
    tmax, tmin = known_column(weather, "tmax_c"), known_column(weather, "tmin_c")
    highest, lowest = known_column(weather, "rh_max_pct"), known_column(weather, "rh_min_pct")
    at_dawn = air.saturation_vapour_pressure_kpa(tmin)
    mean = air.mean_saturation_vapour_pressure_kpa(tmax, tmin)
    return first_known(
        [
            (None, air.saturation_vapour_pressure_kpa(known_column(weather, "dew_c"))),
            (None, air.vapour_pressure_from_humidity_kpa(tmax, tmin, highest, lowest)),
            ("humidity-from-rh-max", at_dawn * highest / 100),
            ("humidity-from-rh-mean", mean * known_column(weather, "rh_pct") / 100),
            ("humidity-from-tmin", at_dawn),
        ]
    )


def day_radiation(weather: pd.DataFrame, above: Numbers, clear_sky: Numbers) -> Term:
    """Solar radiation of each day [MJ/m²], with marks where it was not observed."""
    spread = known_column(weather, "tmax_c") - known_column(weather, "tmin_c")
    estimate = radiation.radiation_from_range_mj_m2(above, spread, clear_sky)
    return first_known(
        [
            (None, known_column(weather, "solar_mj_m2")),
            ("radiation-from-temperature", estimate),
        ]
    )


def wind_term(weather: pd.DataFrame, wind_height_m: float | None) -> Term:
    """Wind at 2 m of each row [m/s], with marks for an assumed height or wind.

    Args:
        weather: columns wind_m_s and, where it is stated, wind_height_m.
        wind_height_m: height of the sensor in rows that do not state it, or None.
    """
    stated = known_column(weather, "wind_height_m")
    if wind_height_m is not None:
        stated = np.where(np.isnan(stated), wind_height_m, stated)
    wind = known_column(weather, "wind_m_s")
    return first_known(
        [
            (None, air.wind_at_2_m_m_s(wind, stated)),
            ("wind-height-assumed", air.wind_at_2_m_m_s(wind, DEFAULT_WIND_HEIGHT_M)),
            ("wind-assumed", np.full(len(weather), DEFAULT_WIND_M_S)),
        ]
    )


def sun_hours(index: pd.DatetimeIndex, latitude_deg: float, longitude_deg: float) -> SunHours:
    """Where the sun stood in every hour that starts at a UTC instant of the index."""
    utc = index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]")
    middle = utc + np.timedelta64(1800, "s")
    solar = middle + np.timedelta64(round(longitude_deg * 240), "s")
    dates = solar.astype("datetime64[D]")
    first = dates.astype("datetime64[Y]").astype("datetime64[D]")
    day_of_year = (dates - first).astype(float) + 1
    hour = (middle - middle.astype("datetime64[D]")).astype(float) / 3600
    angle = radiation.hour_angle_rad(hour, longitude_deg, day_of_year)
    return SunHours(
        day_of_year,
        dates.astype(float),
        radiation.sun_height_rad(latitude_deg, angle, day_of_year),
        radiation.extraterrestrial_hour_mj_m2(latitude_deg, angle, day_of_year),
    )


def _day_extremes(temperature: Numbers, sun: SunHours) -> tuple[Numbers, Numbers]:
    by_date = pd.Series(temperature).groupby(sun.solar_date)
    enough = by_date.transform("count").to_numpy() >= LEAST_HOURS_FOR_RANGE
    highest = np.where(enough, by_date.transform("max").to_numpy(), np.nan)
    return highest, np.where(enough, by_date.transform("min").to_numpy(), np.nan)


def hour_vapour_pressure(weather: pd.DataFrame, sun: SunHours) -> Term:
    """Actual vapour pressure of each hour [kPa], with marks where it was not observed."""
    temperature = known_column(weather, "temp_c")
    saturated = air.saturation_vapour_pressure_kpa(temperature)
    _, lowest = _day_extremes(temperature, sun)
    return first_known(
        [
            (None, air.saturation_vapour_pressure_kpa(known_column(weather, "dew_c"))),
            (None, saturated * known_column(weather, "rh_pct") / 100),
            ("humidity-from-tmin", air.saturation_vapour_pressure_kpa(lowest)),
        ]
    )


def hour_radiation(weather: pd.DataFrame, sun: SunHours, clear_sky: Numbers) -> Term:
    """Solar radiation of each hour [MJ/m²], with marks where it was not observed.

    Without a measurement, the day's temperature range gives the day's share of the
    radiation on top of the atmosphere, and every hour gets that share.
    """
    measured = known_column(weather, "solar_w_m2") * SECONDS_PER_HOUR / 1e6
    highest, lowest = _day_extremes(known_column(weather, "temp_c"), sun)
    estimate = radiation.radiation_from_range_mj_m2(sun.above_mj_m2, highest - lowest, clear_sky)
    return first_known([(None, measured), ("radiation-from-temperature", estimate)])
