"""The invented weather of Sarnholt Valley, 1 April to 10 July 2025, and a forecast."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.demo.place import LATITUDE_DEG, chance
from nightwater.weather.radiation import extraterrestrial_mj_m2

FIRST_DAY: Final = date(2025, 4, 1)
LAST_DAY: Final = date(2025, 7, 10)
LAST_FORECAST: Final = date(2025, 7, 15)
WIND_HEIGHT_M: Final = 2.0
NORMALS: Final = pd.DataFrame(
    {
        "tmax_c": [4, 7, 13, 17, 22.5, 28.5, 33, 31.5, 26, 18.5, 10, 4.5],
        "tmin_c": [-8, -5.5, -1, 2.5, 7.5, 12, 16.5, 15.5, 10, 3.5, -2.5, -7],
        "dew_c": [-9.1, -6.5, -3.2, 0.5, 5.0, 8.1, 12.3, 11.8, 6.5, 0.9, -4.1, -8.1],
        "wind_m_s": [1.6, 1.9, 2.4, 2.7, 2.6, 2.4, 2.1, 1.9, 1.9, 1.8, 1.7, 1.5],
        "sun_share": [0.55, 0.60, 0.65, 0.68, 0.72, 0.80, 0.80, 0.80, 0.80, 0.74, 0.60, 0.53],
        "rain_mm": [20, 20, 26, 30, 32, 17, 18, 22, 25, 27, 24, 22],
        "eto_mm": [0.93, 1.45, 2.62, 3.71, 4.96, 6.31, 6.65, 5.72, 4.25, 2.58, 1.34, 0.84],
    },
    index=pd.Index(range(1, 13), name="month"),
)  # dew point chosen so that the months give the stated ETo
_RAIN_DAYS: Final = {4: 7, 5: 7, 6: 4}  # July stays dry until the night that is planned
_FIXED: Final = {
    date(2025, 7, 9): {
        "tmax_c": 29.7, "tmin_c": 15.3, "dew_c": 12.7, "wind_m_s": 1.7, "sun_share": 0.66
    },
    date(2025, 7, 10): {
        "tmax_c": 33.8, "tmin_c": 17.0, "dew_c": 12.4, "wind_m_s": 2.1, "sun_share": 0.81
    },
}  # fmt: skip


def solar_mj_m2(days: list[date], sun_share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Solar radiation from the share of sunshine (FAO-56 equation 35) [MJ/m²]."""
    number = np.array([day.timetuple().tm_yday for day in days])
    above = extraterrestrial_mj_m2(LATITUDE_DEG, number)
    return np.asarray((0.25 + 0.50 * sun_share) * above)


def _base(days: list[date], column: str) -> NDArray[np.float64]:
    """Normals between mid-months, lifted so that each month keeps its mean."""
    normal = NORMALS[column].to_numpy(dtype=float)
    middle = np.array([date(2025, month, 15).toordinal() for month in range(1, 13)])
    year = [date(2025, 1, 1) + timedelta(days=number) for number in range(365)]
    smooth = np.interp([day.toordinal() for day in year], middle, normal)
    month = np.array([day.month for day in year])
    lift = {number: normal[number - 1] - smooth[month == number].mean() for number in range(1, 13)}
    return np.array([smooth[day.timetuple().tm_yday - 1] + lift[day.month] for day in days])


def _spells(days: list[date], spread: float, random: np.random.Generator) -> NDArray[np.float64]:
    """Warm and cool spells of a few days, whose mean over each month is nil."""
    found = np.zeros(len(days))
    for place, shock in enumerate(random.normal(0.0, spread, len(days))):
        found[place] = (0.6 * found[place - 1] if place else 0.0) + 0.8 * shock
    month = np.array([day.month for day in days])
    for number in np.unique(month):
        found[month == number] -= found[month == number].mean()
    return found


def _rain(days: list[date], random: np.random.Generator) -> NDArray[np.float64]:
    """A few showers a month that add to its normal; none in July."""
    rain = np.zeros(len(days))
    for month, count in _RAIN_DAYS.items():
        places = [place for place, day in enumerate(days) if day.month == month and day.day < 28]
        chosen = random.choice(places, count, replace=False)
        shares = random.dirichlet(np.full(count, 2.0))
        rain[chosen] = shares * float(NORMALS["rain_mm"].loc[month])
    return np.round(rain, 1)


def _drawn(days: list[date]) -> pd.DataFrame:
    random = chance("weather")
    warm, sunny = _spells(days, 2.4, random), _spells(days, 0.10, random)
    breeze = _spells(days, 0.35, random)
    drawn = pd.DataFrame(index=pd.Index(days, name="date"))
    drawn["tmax_c"] = _base(days, "tmax_c") + warm + 6.0 * sunny
    drawn["tmin_c"] = _base(days, "tmin_c") + 0.7 * warm
    drawn["dew_c"] = np.minimum(_base(days, "dew_c") + 0.4 * warm, drawn["tmin_c"] - 0.3)
    drawn["wind_m_s"] = np.clip(_base(days, "wind_m_s") + breeze, 0.8, None)
    drawn["sun_share"] = np.clip(_base(days, "sun_share") + sunny, 0.15, 0.97)
    drawn["rain_mm"] = _rain(days, random)
    for day, values in _FIXED.items():
        drawn.loc[day, list(values)] = list(values.values())
    return drawn


def weather_table() -> pd.DataFrame:
    """Daily weather in the columns of our CSV contract, index date, observed days first."""
    count = (LAST_FORECAST - FIRST_DAY).days + 1
    days = [FIRST_DAY + timedelta(days=number) for number in range(count)]
    drawn = _drawn(days)
    share = drawn["sun_share"].to_numpy(dtype=float)
    columns: dict[str, Any] = {
        "tmax_c": drawn["tmax_c"].round(1),
        "tmin_c": drawn["tmin_c"].round(1),
        "dew_c": drawn["dew_c"].round(1),
        "wind_m_s": drawn["wind_m_s"].round(2),
        "wind_height_m": WIND_HEIGHT_M,
        "solar_mj_m2": np.round(solar_mj_m2(days, share), 2),
        "rain_mm": drawn["rain_mm"],
    }
    return pd.DataFrame(columns, index=drawn.index)
