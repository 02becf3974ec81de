"""Weather that may be right but hardly is: stuck sensors, odd levels, cloudbursts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, warning
from nightwater.ground.columns import Column
from nightwater.ground.running_tables import WEATHER
from nightwater.weather.columns import Step
from nightwater.weather.marks import Rows
from nightwater.weather.places import counted, row_name, several
from nightwater.weather.terms import known_column

# steps with one and the same value before a sensor counts as stuck; common practice,
# no source; chosen so that the real years in the tests stay quiet
STUCK_STEPS: Final[Mapping[Step, Mapping[str, int]]] = {
    "day": {"tmax_c": 6, "tmin_c": 6, "dew_c": 6, "wind_m_s": 10, "solar_mj_m2": 5},
    "hour": {"temp_c": 18, "dew_c": 30, "wind_m_s": 24, "solar_w_m2": 5},
}
CALM_STEPS: Final[Mapping[Step, int]] = {"day": 5, "hour": 72}  # of no wind at all
HEAVY_RAIN_MM: Final[Mapping[Step, float]] = {"day": 250.0, "hour": 75.0}
LEVELS: Final[Mapping[str, tuple[float, float]]] = {  # plausible means of a long series
    "tmax_c": (-15, 43),
    "tmin_c": (-25, 33),
    "temp_c": (-20, 38),
    "dew_c": (-30, 28),
    "wind_m_s": (0.1, 12),
    "rh_pct": (5, 99),
    "rh_max_pct": (15, 100.5),
    "rh_min_pct": (3, 97),
}
LEAST_ROWS_FOR_LEVEL: Final[Mapping[Step, int]] = {"day": 10, "hour": 240}
MOST_RAIN_MM_YEAR: Final = 5000.0


def runs_of_equal(values: pd.Series) -> tuple[pd.Series, pd.Series]:
    """Number of the run that each row belongs to, and the length of that run."""
    run = (values.ne(values.shift()) | values.isna()).cumsum()
    return run, run.groupby(run).transform("size")


def check_stuck(weather: pd.DataFrame, step: Step) -> list[Finding]:
    """Sensors that repeat one value longer than weather does; zero radiation and rain are free.

    Values are kept: the person decides.
    """
    findings = []
    for name, limit in STUCK_STEPS[step].items():
        if name not in weather:
            continue
        values = pd.Series(known_column(weather, name))
        _, length = runs_of_equal(values)
        least = pd.Series(limit, index=values.index)
        if name == "wind_m_s":
            least = least.where(values != 0, CALM_STEPS[step])
        stuck = (length >= least) & values.notna()
        if name.startswith("solar"):
            stuck &= values != 0
        if stuck.any():
            findings.append(_stuck(name, values, stuck.to_numpy(), length, weather.index))
    return findings


def _stuck(
    name: str, values: pd.Series, stuck: Rows, length: pd.Series, index: pd.Index
) -> Finding:
    longest = int(np.argmax(length.where(stuck, 0).to_numpy()))
    return warning(
        "weather-sensor-stuck",
        f"weather:{name}",
        f"{name} repeats {values[longest]:g} for {several(int(length[longest]), 'row')} from "
        f"{row_name(index[longest])}; {several(int(stuck.sum()), 'row')} in all.",
        "Check the sensor and its cable; leave the values out if it was stuck. "
        "They are used as they are.",
    )


def check_levels(weather: pd.DataFrame, step: Step) -> list[Finding]:
    """Long-term means outside any golf climate: most often a unit that was not declared."""
    bounds: Mapping[str, Column] = WEATHER.by_name
    findings = []
    for name, (low, high) in LEVELS.items():
        values = known_column(weather, name)
        if np.count_nonzero(~np.isnan(values)) < LEAST_ROWS_FOR_LEVEL[step]:
            continue
        mean = float(np.nanmean(values))
        if low <= mean <= high:
            continue
        found = warning(
            "weather-level-odd",
            f"weather:{name}",
            f"The mean of {name} is {mean:.1f}, outside {low:g} to {high:g}.",
            f"Check the unit of the column: {bounds[name].quantity} may be in another one.",
        )
        findings.append(found)
    return findings


def check_rain(weather: pd.DataFrame, step: Step) -> list[Finding]:
    """Cloudbursts, and a year's rain that no golf climate has."""
    rain = known_column(weather, "rain_mm")
    findings = []
    heavy = rain > HEAVY_RAIN_MM[step]
    if heavy.any():
        found = warning(
            "weather-rain-heavy",
            "weather:rain_mm",
            f"More than {HEAVY_RAIN_MM[step]:g} mm fell in {counted(heavy, weather.index, step)}, "
            f"at most {np.nanmax(rain):.1f} mm.",
            "Check the gauge and the unit (mm, in, tenths of mm); the values are used.",
        )
        findings.append(found)
    rows = np.count_nonzero(~np.isnan(rain))
    years = rows / (365 if step == "day" else 8760)
    if years > 0.25 and np.nansum(rain) / years > MOST_RAIN_MM_YEAR:
        found = warning(
            "weather-level-odd",
            "weather:rain_mm",
            f"Rain comes to {np.nansum(rain) / years:,.0f} mm a year.",
            "Check the unit of the column (mm, in, tenths of mm).",
        )
        findings.append(found)
    return findings
