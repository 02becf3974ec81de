"""Which minutes of the night each station may use, before holds take some away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.ground.settings import Settings
from nightwater.night.plan import StationSum, Window
from nightwater.night.window import clock_instant, clock_time, kind_window_min
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

Span = tuple[int, int]  # first minute, and the minute before which all must have ended
GREEN: Final = "green"


@dataclass(frozen=True)
class NightHours:
    """A night, its hours and the rules that narrow them.

    Attributes:
        settings: the course's rules.
        night: date of the evening.
        window: the whole night.
        weather: rows of the weather table; None where nobody looked.
    """

    settings: Settings
    night: date
    window: Window
    weather: pd.DataFrame | None = None

    @property
    def usable(self) -> Span:
        """The night without its rescue slot."""
        return 0, max(self.window.minutes - self.settings.night.rescue_min, 0)

    def clock_min(self, text: str, setting: str, otherwise: int) -> int:
        """A clock time in minutes from the night's start, kept inside the night."""
        if not text:
            return otherwise
        moment = clock_instant(self.night, clock_time(text, setting), self.settings.site.timezone)
        minute = int((moment - self.window.start).total_seconds() // SECONDS_PER_MINUTE)
        return min(max(minute, 0), self.window.minutes)


def _both(one: Span, other: Span) -> Span:
    return max(one[0], other[0]), min(one[1], other[1])


def _greens_span(hours: NightHours) -> Span:
    first, last = hours.usable
    within, rule = hours.settings.night.greens_within_min, hours.settings.night.greens
    if rule == "late":
        return max(last - within, first), last
    return (first, min(first + within, last)) if rule == "first" else (first, last)


def _kind_span(kind: str, hours: NightHours) -> Span:
    rules = hours.settings.night
    span = kind_window_min(kind, hours.night, hours.settings.site, rules, hours.window)
    span = _both(span, hours.usable)
    return _both(span, _greens_span(hours)) if kind == GREEN else span


def _area_span(area: str, hours: NightHours) -> Span:
    start, end = hours.settings.night.area_windows[area]
    setting, minutes = f"night.area_windows of {area}", hours.window.minutes
    return hours.clock_min(start, setting, 0), hours.clock_min(end, setting, minutes)


def run_by_min(hours: NightHours) -> dict[str, int]:
    """Subjects that must have run tonight by a clock time: minutes from the night's start."""
    return {
        subject: hours.clock_min(clock, f"night.run_by of {subject}", hours.window.minutes)
        for subject, (night, clock, _) in hours.settings.night.run_by.items()
        if date.fromisoformat(night) == hours.night
    }


def station_spans(
    sums: Sequence[StationSum], subjects: Mapping[str, set[str]], hours: NightHours
) -> dict[str, Span]:
    """The minutes that kind, areas, rescue slot and what must run by leave each station.

    Args:
        sums: of the stations that ask.
        subjects: every name a station goes by, as for holds.
        hours: the night.

    Raises:
        UserError: a clock time is wrong.
    """
    kinds = {kind: _kind_span(kind, hours) for kind in {item.kind for item in sums}}
    areas = {f"areas:{area}": _area_span(area, hours) for area in hours.settings.night.area_windows}
    run_by = {subject: (0, minute) for subject, minute in run_by_min(hours).items()}
    spans = {}
    for item in sums:
        span, names = kinds[item.kind], subjects.get(item.station, set())
        for subject, own in (*areas.items(), *run_by.items()):
            if subject in names:
                span = _both(span, own)
        spans[item.station] = (span[0], max(span))
    return spans


def _hour_rows(weather: pd.DataFrame, window: Window) -> list[tuple[int, Any]]:
    """First minute and wind of each hour; what was observed before what was forecast."""
    hours = weather[(weather["step"] == "hour") & weather["wind_m_s"].notna()]
    hours = hours.assign(seen=(hours["origin"] == "observed").to_numpy())
    hours = hours.sort_values("seen", kind="stable")
    starts = pd.to_datetime(hours["time"], utc=True) - pd.Timestamp(window.start)
    minutes = (starts.dt.total_seconds() // SECONDS_PER_MINUTE).astype(int)
    return list(zip(minutes.tolist(), hours["wind_m_s"].tolist(), strict=True))


def calm_span(hours: NightHours) -> Span | None:
    """The longest calm stretch of the usable night; None without wind by the hour.

    A minute of an hour that no row covers counts as calm.
    """
    if hours.weather is None or hours.weather.empty:
        return None
    first, last = hours.usable
    wind = np.full(hours.window.minutes, np.nan)
    for start, value in _hour_rows(hours.weather, hours.window):
        wind[max(start, 0) : max(start + int(MINUTES_PER_HOUR), 0)] = value
    if np.isnan(wind[first:last]).all():
        return None
    windy = np.flatnonzero(wind[first:last] > hours.settings.night.calm_m_s)
    edges = np.concatenate([[-1], windy, [last - first]])
    longest = int(np.argmax(np.diff(edges)))
    return first + int(edges[longest]) + 1, first + int(edges[longest + 1])
