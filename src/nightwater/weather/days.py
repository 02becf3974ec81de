"""From hours to local days: extremes, means and sums, and which days are not whole."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.units import SECONDS_PER_HOUR
from nightwater.weather import air
from nightwater.weather.air import Numbers, numbers
from nightwater.weather.marks import Rows, mark_lists
from nightwater.weather.terms import LEAST_HOURS_FOR_RANGE, known_column
from nightwater.weather.zones import zone_named

LONGEST_FILLED_H: Final = 2  # a gap up to this long is drawn straight between its neighbours


def _hour_grid(index: pd.DatetimeIndex, timezone: str) -> pd.DatetimeIndex:
    """Every hour of each local day in which the index has a row, as UTC starts."""
    zone = zone_named(timezone)
    local = index.tz_convert(zone)
    first = pd.Timestamp(local.min().date()).tz_localize(zone, nonexistent="shift_forward")
    after = pd.Timestamp(local.max().date()) + pd.Timedelta(days=1)
    last = after.tz_localize(zone, nonexistent="shift_forward")
    # hours start where the series has them, also in zones off by half an hour
    offset = pd.Timedelta(minutes=int(index.min().minute))
    start = (first.tz_convert("UTC") - offset).ceil("h") + offset
    grid = pd.date_range(start, last.tz_convert("UTC"), freq="h", inclusive="left")
    return grid[np.isin(_local_days(grid, timezone), _local_days(index, timezone))]


def _local_days(index: pd.DatetimeIndex, timezone: str) -> NDArray[np.datetime64]:
    local = index.tz_convert(zone_named(timezone)).tz_localize(None)
    return np.asarray(local.to_numpy().astype("datetime64[D]"))


def _filled(values: Numbers) -> tuple[Numbers, Rows]:
    """Values with short gaps drawn straight, and which were filled."""
    series = pd.Series(values)
    known = series.notna()
    run = known.cumsum()
    length = (~known).groupby(run).transform("sum")
    short = ~known & (length <= LONGEST_FILLED_H)
    drawn = series.interpolate(limit_area="inside")
    filled = (short & drawn.notna()).to_numpy()
    return numbers(np.where(filled, drawn, series)), filled


def _vapour_pressure(hours: pd.DataFrame) -> Numbers:
    from_dew = air.saturation_vapour_pressure_kpa(known_column(hours, "dew_c"))
    saturated = air.saturation_vapour_pressure_kpa(known_column(hours, "temp_c"))
    from_rh = saturated * known_column(hours, "rh_pct") / 100
    return numbers(np.where(np.isnan(from_dew), from_rh, from_dew))


def _hour_values(hours: pd.DataFrame) -> tuple[pd.DataFrame, Rows]:
    """What days are made of, short gaps filled; and the hours in which any was filled."""
    sources = {
        "temp": known_column(hours, "temp_c"),
        "rh": known_column(hours, "rh_pct"),
        "vapour": _vapour_pressure(hours),
        "wind": known_column(hours, "wind_m_s"),
        "solar": known_column(hours, "solar_w_m2"),
    }
    drawn = {name: _filled(values) for name, values in sources.items()}
    filled: Rows = np.logical_or.reduce([where for _, where in drawn.values()])
    values = pd.DataFrame({name: values for name, (values, _) in drawn.items()})
    return values.assign(
        rain=known_column(hours, "rain_mm"), height=known_column(hours, "wind_height_m")
    ), filled


def _day_columns(values: pd.DataFrame, dates: pd.Index) -> pd.DataFrame:
    by_day = values.groupby(dates)
    size, count = by_day.size(), by_day.count()
    enough = count.ge(LEAST_HOURS_FOR_RANGE)
    highest, lowest = by_day.max().where(enough), by_day.min().where(enough)
    mean = by_day.mean().where(enough)
    whole_solar = count["solar"].eq(size)
    joules = by_day["solar"].sum() * SECONDS_PER_HOUR / 1e6
    return pd.DataFrame(
        {
            "tmax_c": highest["temp"],
            "tmin_c": lowest["temp"],
            "rh_max_pct": highest["rh"],
            "rh_min_pct": lowest["rh"],
            "dew_c": air.dew_point_c(mean["vapour"]),
            "wind_m_s": mean["wind"],
            "wind_height_m": by_day["height"].first(),
            "solar_mj_m2": joules.where(whole_solar),
            "rain_mm": by_day["rain"].sum(min_count=1),
        }
    )


def _per_day(rows: Rows, dates: pd.Index) -> Rows:
    return pd.Series(rows).groupby(dates).any().to_numpy(dtype=bool)


def days_from_hours(weather: pd.DataFrame, timezone: str) -> pd.DataFrame:
    """Days of local time from hours of UTC.

    Highest and lowest are those of hourly means, a little inside the true extremes. The
    dew point is that of the mean vapour pressure (ASCE-EWRI 2005 prefers this for a
    day). Gaps of one or two hours are drawn straight between their neighbours; with
    longer ones, extremes and means stand on at least 18 hours, solar radiation is
    missing, and rain is what fell in the hours that are there. The day that the clocks
    change has 23 or 25 hours.

    Args:
        weather: index zone-aware start of the hour, columns of the hourly contract; any
            may be missing.
        timezone: IANA name of the local time, or "UTC-07:00".

    Raises:
        UserError: no such time zone.

    Returns:
        One row per local date (index: datetime.date, named "date"), the columns of the
        daily contract, `hours` (hours with a temperature, before filling) and `flags`
        (hours-filled, hours-missing, rain-incomplete). Missing stays NaN.
    """
    index = pd.DatetimeIndex(weather.index)
    if index.empty:
        return pd.DataFrame(index=pd.Index([], name="date", dtype=object))
    grid = _hour_grid(index.tz_convert("UTC"), timezone)
    hours = weather[~index.duplicated()].reindex(grid)
    dates = pd.Index(_local_days(grid, timezone).astype(object), name="date")
    values, filled = _hour_values(hours)
    days = _day_columns(values, dates)
    rain_known = known_column(hours, "rain_mm")
    no_rain = np.isnan(rain_known) & ~np.isnan(rain_known).all()
    marks = {
        "hours-missing": _per_day(values["temp"].isna().to_numpy(), dates),
        "hours-filled": _per_day(filled, dates),
        "rain-incomplete": _per_day(no_rain, dates) & days["rain_mm"].notna().to_numpy(),
    }
    observed = hours["temp_c"].groupby(dates).count() if "temp_c" in hours else 0
    days["hours"] = observed
    days["flags"] = pd.Series(mark_lists(marks, len(days)), index=days.index, dtype=object)
    if "origin" in hours:
        days["origin"] = hours["origin"].groupby(dates).first()
    return days
