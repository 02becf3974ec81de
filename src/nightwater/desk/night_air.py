"""The air of a night's hours: what is lost in it, and where it drifts the water."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.course import Course
from nightwater.desk.needing import stored_weather
from nightwater.findings import Finding, note
from nightwater.ground.settings import COMPASS
from nightwater.night.window import night_window
from nightwater.spray.losses import loss_findings, lost_share
from nightwater.spray.wind import Wind
from nightwater.weather.air import wind_at_2_m_m_s

RULE: Final = "night"  # of `spray.losses`
LEAST_COVERED: Final = 0.75  # of the night's hours that must tell their wind; our choice
_HOUR: Final = pd.Timedelta(hours=1)
_HEIGHT_M: Final = 2.0

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class NightAir:
    """What the air of a night does to the water.

    Attributes:
        wind_m_s: mean wind of the night's hours at 2 m; NaN where it does not count.
        lost_share: of the flow that evaporates or drifts off before it lands, 0 to 1.
        wind: that bends the patterns; None in still air, or where no direction is known.
        reason: why nothing counts although the settings ask for it; empty otherwise.
        findings: what counts, and doubts of it.
    """

    wind_m_s: float = np.nan
    lost_share: float = 0.0
    wind: Wind | None = None
    reason: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def counts(self) -> bool:
        """Whether the air changes anything."""
        return bool(np.isfinite(self.wind_m_s))

    @property
    def key(self) -> str:
        """Equal for airs that do the same."""
        return f"{self.wind.key if self.wind else ''} {self.lost_share!r}"


STILL: Final = NightAir()


def _night_hours(course: Course, night: date) -> tuple[pd.DataFrame, int]:
    """Weather of the hours of a night that tell their wind, and how many hours it has."""
    window = night_window(night, course.settings.site, course.settings.night)
    first = pd.Timestamp(window.start).tz_convert("UTC").floor("h")
    last = pd.Timestamp(window.end).tz_convert("UTC").ceil("h")
    rows = stored_weather(course, "hour")
    times = pd.to_datetime(rows["time"], utc=True)
    told = rows["wind_m_s"].notna() & (rows["origin"] != "typical")
    inside = (times >= first) & (times < last)
    return rows[(told & inside).to_numpy(dtype=bool)], round((last - first) / _HOUR)


def _at_2_m(course: Course, rows: pd.DataFrame) -> Numbers:
    """Wind at 2 m; as measured where the sensor's height is not known."""
    of_gauge = course.ground.gauges["wind_height_m"].astype(float)
    height = rows["wind_height_m"].astype(float).fillna(rows["gauge"].map(of_gauge).astype(float))
    wind = rows["wind_m_s"].to_numpy(dtype=float)
    near = wind_at_2_m_m_s(wind, height.to_numpy(dtype=float))
    return np.where(np.isnan(near), wind, near)


def _ignored(reason: str) -> NightAir:
    told = note(
        "night-air-unknown",
        "weather:*",
        f"The settings ask for the night's wind, and it does not count: {reason}",
        "Add weather by the hour with wind_m_s, or set minutes.night_wind to off.",
    )
    return NightAir(reason=reason, findings=(told,))


def _drifting(course: Course, speed_m_s: float) -> Wind | None:
    towards = course.settings.minutes.night_wind_from
    if towards not in COMPASS or speed_m_s <= 0:
        return None
    return Wind(round(speed_m_s, 1), 360.0 / len(COMPASS) * COMPASS.index(towards), _HEIGHT_M)


def night_air(course: Course, night: date) -> NightAir:
    """What the air of a night does to the water, by the settings and the weather of its hours.

    The loss is the mean of the hours' losses, by the rule for nights; the pattern bends in their
    mean wind, from the direction that the settings tell, as the weather table has none.

    Args:
        course: the course.
        night: the night.

    Returns:
        The air; still, with a reason, where the weather tells too little.

    Raises:
        UserError: the hours of the night are set wrong.
    """
    if course.settings.minutes.night_wind == "off":
        return STILL
    rows, hours = _night_hours(course, night)
    if len(rows) < LEAST_COVERED * hours:
        return _ignored(f"the weather tells the wind of {len(rows)} of the {hours} hours.")
    speeds = _at_2_m(course, rows)
    lost, speed = float(lost_share(RULE, speeds).mean()), float(speeds.mean())
    if np.isnan(lost):
        return _ignored(f"in a wind of {speeds.max():.1f} m/s nothing tells what is lost.")
    wind = _drifting(course, speed)
    bent = (
        "patterns drift with it"
        if wind is not None
        else "patterns are those of still air, as nothing tells where it comes from"
    )
    told = note(
        "night-air-counts",
        "weather:*",
        f"The night's wind counts: {speed:.1f} m/s at 2 m on the mean of {len(rows)} hours; "
        f"{lost:.0%} of the water is lost, {bent}.",
        "Set minutes.night_wind to off to plan for still air.",
    )
    doubts = loss_findings(RULE, float(speeds.max()))
    return NightAir(speed, lost, wind, findings=(told, *doubts))
