"""Which columns of the weather table a day has and which an hour has."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

Step: TypeAlias = Literal["day", "hour"]

DAY_COLUMNS: Final = (
    "tmax_c",
    "tmin_c",
    "rh_max_pct",
    "rh_min_pct",
    "dew_c",
    "wind_m_s",
    "wind_height_m",
    "solar_mj_m2",
    "rain_mm",
)
HOUR_COLUMNS: Final = (
    "temp_c",
    "rh_pct",
    "dew_c",
    "wind_m_s",
    "wind_height_m",
    "solar_w_m2",
    "rain_mm",
)


def columns_of(step: Step) -> tuple[str, ...]:
    """The contract's columns of a step, in order, without date or time."""
    return DAY_COLUMNS if step == "day" else HOUR_COLUMNS
