"""The hours a night may use, and the hours of single area kinds."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from nightwater.findings import UserError
from nightwater.ground.settings import NightRules, Site
from nightwater.night.plan import Window
from nightwater.units import SECONDS_PER_MINUTE
from nightwater.weather.sun import sun_times

NOON_HOUR: Final = 12  # a clock time before noon belongs to the morning after
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_LONGEST: Final = timedelta(hours=23)


def clock_time(text: str, setting: str) -> time:
    """A clock time as a person writes it, HH:MM.

    Raises:
        UserError: not a clock time.
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise UserError(f"{setting} is '{text}', not a clock time. Write it like 21:30.")
    return time(int(match.group(1)), int(match.group(2)))


def clock_instant(night: date, clock: time, timezone: str) -> datetime:
    """The instant of a clock time in a night: from noon on in the evening, else next morning."""
    day = night if clock.hour >= NOON_HOUR else night + timedelta(days=1)
    return datetime.combine(day, clock, ZoneInfo(timezone)).astimezone(UTC)


def _sun(night: date, site: Site) -> tuple[datetime, datetime]:
    """Sunset of the night's date and sunrise of the next."""
    place = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg}
    sunset = sun_times(night, timezone=site.timezone, **place)[1]
    sunrise = sun_times(night + timedelta(days=1), timezone=site.timezone, **place)[0]
    if sunset is None or sunrise is None:
        raise UserError(
            f"The sun does not set and rise on {night} at this latitude. "
            "Set the hours with night.start and night.end."
        )
    return sunset.astimezone(UTC), sunrise.astimezone(UTC)


def _whole_minute_after(moment: datetime) -> datetime:
    whole = moment.replace(second=0, microsecond=0)
    return whole if whole == moment else whole + timedelta(minutes=1)


def _computed(
    night: date, site: Site, rules: NightRules
) -> tuple[datetime | None, datetime | None]:
    """Start and end by the sun with the rules' margins, each only where no clock time is set."""
    if rules.start and rules.end:
        return None, None
    sunset, sunrise = _sun(night, site)
    start = _whole_minute_after(sunset + timedelta(minutes=rules.after_sunset_min))
    end = (sunrise - timedelta(minutes=rules.before_sunrise_min)).replace(second=0, microsecond=0)
    return (None if rules.start else start), (None if rules.end else end)


def night_window(night: date, site: Site, rules: NightRules) -> Window:
    """The hours a night may use: set clock times, else sunset and sunrise with their margins.

    Returns:
        Whole minutes in the course's own time zone.

    Raises:
        UserError: a clock time is wrong, the sun gives none, or the night has no minute.
    """
    by_sun = _computed(night, site, rules)
    set_times = [
        clock_instant(night, clock_time(text, setting), site.timezone) if text else None
        for text, setting in ((rules.start, "night.start"), (rules.end, "night.end"))
    ]
    start, end = (chosen or sun for chosen, sun in zip(set_times, by_sun, strict=True))
    assert start is not None  # set, or by the sun
    assert end is not None
    if not timedelta(0) < end - start <= _LONGEST:
        raise UserError(
            f"The night of {night} would run from {start:%H:%M} to {end:%H:%M} UTC, which is no "
            "night. Look at night.start, night.end and the margins at sunset and sunrise."
        )
    zone = ZoneInfo(site.timezone)
    return Window(start.astimezone(zone), end.astimezone(zone))


def kind_window_min(
    kind: str, night: date, site: Site, rules: NightRules, window: Window
) -> tuple[int, int]:
    """Earliest start and latest end of an area kind, in minutes from the night's start.

    Raises:
        UserError: a clock time is wrong.
    """
    texts = rules.kind_windows.get(kind, ("", ""))
    limits = []
    for text, otherwise in zip(texts, (0, window.minutes), strict=True):
        if not text:
            limits.append(otherwise)
            continue
        setting = f"night.kind_windows of {kind}"
        moment = clock_instant(night, clock_time(text, setting), site.timezone)
        minute = int((moment - window.start).total_seconds() // SECONDS_PER_MINUTE)
        limits.append(min(max(minute, 0), window.minutes))
    return limits[0], limits[1]


def clock_minute(text: str, window: Window) -> float:
    """Minutes from the night's start to the time at which the clock shows what is meant.

    Of all days the one that lies nearest to the night's middle.

    Raises:
        UserError: not a time "HH:MM".
    """
    try:
        hour, minute = (int(part) for part in text.split(":"))
        wanted = timedelta(hours=hour, minutes=minute)
    except ValueError:
        raise UserError(
            f"'{text}' is not a time of day. Write hours and minutes, like 22:47."
        ) from None
    if not (0 <= hour <= 23 and 0 <= minute <= 59):
        raise UserError(f"'{text}' is not a time of day. Write hours and minutes, like 22:47.")
    start = window.start
    midnight = datetime.combine(start.date(), datetime.min.time(), start.tzinfo)
    days = [midnight + timedelta(days=day) + wanted for day in (-1, 0, 1, 2)]
    passed = [(day.astimezone(UTC) - start.astimezone(UTC)).total_seconds() for day in days]
    minutes = [seconds / SECONDS_PER_MINUTE for seconds in passed]
    return min(minutes, key=lambda minute: abs(minute - window.minutes / 2))
