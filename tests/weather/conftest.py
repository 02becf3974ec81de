"""Small invented weather: a fair July in Vellenby's climate, by the day and by the hour."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from nightwater.weather import radiation, terms
from nightwater.weather.sky import Place

PLACE = Place(39.2, -112.0, 1400.0)


@pytest.fixture
def place() -> Place:
    return PLACE


@pytest.fixture
def days_of() -> Callable[..., pd.DataFrame]:
    """Days from 1 July 2025, each column a number or a list."""

    def build(rows: int = 10, **columns: object) -> pd.DataFrame:
        wave = np.sin(np.arange(rows) * 1.7)
        start = date(2025, 7, 1)
        index = pd.Index([start + timedelta(days=day) for day in range(rows)], name="date")
        above = radiation.extraterrestrial_mj_m2(PLACE.latitude_deg, 182 + np.arange(rows))
        fair = {
            "tmax_c": 31 + 2 * wave,
            "tmin_c": 14 + 1.5 * wave,
            "rh_max_pct": 72 - 5 * wave,
            "rh_min_pct": 24 - 3 * wave,
            "dew_c": 8 + wave,
            "wind_m_s": 2.4 + 0.8 * wave,
            "wind_height_m": 2.0,
            "solar_mj_m2": above * (0.66 + 0.05 * wave),
            "rain_mm": 0.0,
        }
        return pd.DataFrame(fair | columns, index=index)

    return build


@pytest.fixture
def hours_of() -> Callable[..., pd.DataFrame]:
    """Whole UTC-7 days of hours from 1 July 2025, each column a number or a list."""

    def build(days: int = 6, **columns: object) -> pd.DataFrame:
        index = pd.date_range("2025-07-01T07:00Z", periods=24 * days, freq="h", name="time")
        sun = terms.sun_hours(index, PLACE.latitude_deg, PLACE.longitude_deg)
        clear = radiation.clear_sky_mj_m2(sun.above_mj_m2, PLACE.elevation_m) * 1e6 / 3600
        hour = np.arange(24 * days) % 24
        wave = np.sin((hour - 9) / 24 * 2 * np.pi)
        drift = np.sin(np.arange(24 * days) * 0.37)
        fair = {
            "temp_c": 22 + 8 * wave + 0.3 * drift,
            "rh_pct": 45 - 25 * wave,
            "dew_c": 8 + 0.5 * drift,
            "wind_m_s": 2.2 + 0.9 * drift,
            "wind_height_m": 2.0,
            "solar_w_m2": 0.92 * clear,
            "rain_mm": 0.0,
        }
        return pd.DataFrame(fair | columns, index=index)

    return build
