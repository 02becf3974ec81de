"""The wind that a gauge observed while an audit ran: a proposal for the form, never more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import pandas as pd

from nightwater.desk.audit_kept import Audit
from nightwater.desk.course import Course
from nightwater.weather.air import wind_at_2_m_m_s

_STARTS_MIN: Final = (0, 15, 30, 45)  # hours start off the full UTC hour in some zones


@dataclass(frozen=True)
class ObservedWind:
    """Mean wind of the observed hour in which an audit began.

    Attributes:
        wind_m_s: at 2 m, where the height of the sensor is known, else as measured [m/s].
        start: when the hour begins, UTC.
        gauge: id of the gauge, None where the weather is the whole course's.
        at_2_m: whether the wind was brought to 2 m.
    """

    wind_m_s: float
    start: datetime
    gauge: str | None
    at_2_m: bool


def _hour_rows(course: Course, start: pd.Timestamp) -> pd.DataFrame:
    """Observed rows of the hour that starts at an instant and tell of wind."""
    written = start.strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = course.file.running("weather", step="hour", origin="observed", time=written)
    told: pd.DataFrame = rows[rows["wind_m_s"].notna()].sort_index()
    return told


def _sensor_height_m(course: Course, row: dict[Any, Any]) -> float:
    """Height of the wind's sensor by the row, else by its gauge; NaN where neither tells."""
    height, gauge = row["wind_height_m"], row["gauge"]
    if pd.isna(height) and gauge in course.ground.gauges.index:
        height = course.ground.gauges.at[gauge, "wind_height_m"]
    return float("nan") if pd.isna(height) else float(height)


def observed_wind(course: Course, audit: Audit) -> ObservedWind | None:
    """The wind of the observed hour in which an audit began.

    A forecast or a typical year is not taken. Of several gauges the first by id counts; the
    weather table knows no direction.

    Args:
        course: the course.
        audit: an audit whose time is known; without one there is nothing to look up.

    Returns:
        None where no gauge observed that hour's wind.
    """
    moment = audit.facts["time"]
    if moment is None:
        return None
    at = pd.Timestamp(str(moment)).tz_convert(UTC)
    for minutes in _STARTS_MIN:
        off = pd.Timedelta(minutes=minutes)
        start = (at - off).floor("h") + off
        for row in _hour_rows(course, start).to_dict("records"):
            near_ground = float(wind_at_2_m_m_s(row["wind_m_s"], _sensor_height_m(course, row)))
            known = not pd.isna(near_ground)
            gauge = row["gauge"] if isinstance(row["gauge"], str) else None
            wind = near_ground if known else float(row["wind_m_s"])
            return ObservedWind(wind, start.to_pydatetime(), gauge, known)
    return None
