"""Reference ET of 18 real years of days against the independent library `refet`."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import refet

from benchmarks._timing import middle_s
from nightwater.survey.weather_files import read_weather
from nightwater.weather.et import daily_reference_et

FILE = Path("weather") / "AZMET_Maricopa_RefET_daily_2003_2020.csv"
LATITUDE_DEG, ELEVATION_M, WIND_HEIGHT_M = 33.069, 361.0, 3.0
UNITS = {
    "Srad": "MJ/m2",
    "Tmax": "C",
    "Tmin": "C",
    "Tdew": "C",
    "RHmax": "pct",
    "RHmin": "pct",
    "Wndsp": "m/s",
    "Rain": "mm",
}
RUNS = 21


def ours(days: pd.DataFrame) -> pd.DataFrame:
    return daily_reference_et(
        days,
        latitude_deg=LATITUDE_DEG,
        elevation_m=ELEVATION_M,
        wind_height_m=WIND_HEIGHT_M,
    )


def theirs(days: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    dates = pd.DatetimeIndex(pd.to_datetime(pd.Series(days.index)))
    reference = refet.Daily(
        tmin=days["tmin_c"].to_numpy(),
        tmax=days["tmax_c"].to_numpy(),
        tdew=days["dew_c"].to_numpy(),
        rs=days["solar_mj_m2"].to_numpy(),
        uz=days["wind_m_s"].to_numpy(),
        zw=WIND_HEIGHT_M,
        elev=ELEVATION_M,
        lat=LATITUDE_DEG,
        doy=dates.day_of_year.to_numpy(),
        method="asce",
    )
    return reference.eto(), reference.etr()


def main() -> None:
    folder = os.environ.get("NIGHTWATER_DATA")
    if folder is None:
        print("skipped: set NIGHTWATER_DATA to the folder of real files")
        return
    days = read_weather(Path(folder) / FILE, units=UNITS, timezone="America/Phoenix").weather
    result, (eto, etr) = ours(days), theirs(days)
    apart_mm = max(
        np.abs(result["eto_mm"].to_numpy() - eto).max(),
        np.abs(result["etr_mm"].to_numpy() - etr).max(),
    )
    own, other = middle_s(lambda: ours(days), RUNS), middle_s(lambda: theirs(days), RUNS)
    print(f"days                        {len(days):,}")
    print(f"time, ours / refet          {own / other:.2f}   ({own * 1000:.1f} ms; flags included)")
    print(f"largest difference          {apart_mm:.5f} mm/day, short and tall")


if __name__ == "__main__":
    main()
