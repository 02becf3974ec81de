"""The hours of a night: by the sun or the clock, across changes of clocks, and of single kinds."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.settings import NightRules, Site
from nightwater.night.window import clock_instant, clock_time, kind_window_min, night_window
from nightwater.weather.sun import sun_times

JULY = date(2025, 7, 10)
SITE = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", "EPSG:32613")
CLOCK = NightRules(start="21:00", end="05:00")
SUN = NightRules()


def local(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2025, 7, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


def test_set_hours_are_kept() -> None:
    window = night_window(JULY, SITE, CLOCK)
    assert (window.start, window.end) == (local(10, 21), local(11, 5))
    assert window.minutes == 480


def test_hours_come_in_the_clock_of_the_course() -> None:
    window = night_window(JULY, SITE, CLOCK)
    assert window.start.isoformat() == "2025-07-10T21:00:00-06:00"
    assert window.end.utcoffset() == timedelta(hours=-6)


def test_a_night_may_begin_after_midnight() -> None:
    window = night_window(JULY, SITE, NightRules(start="00:30", end="05:00"))
    assert window.start == local(11, 0, 30)
    assert window.minutes == 270


def test_the_sun_gives_the_hours_where_none_are_set() -> None:
    window = night_window(JULY, SITE, SUN)
    place = {"latitude_deg": 39.2, "longitude_deg": -105.0, "timezone": "America/Denver"}
    sunset, sunrise = sun_times(JULY, **place)[1], sun_times(JULY + timedelta(days=1), **place)[0]
    assert sunset is not None
    assert sunrise is not None
    assert timedelta(0) <= window.start - (sunset + timedelta(minutes=30)) < timedelta(minutes=1)
    assert timedelta(0) <= (sunrise - timedelta(minutes=30)) - window.end < timedelta(minutes=1)


def test_one_end_by_clock_and_the_other_by_the_sun() -> None:
    by_sun = night_window(JULY, SITE, SUN)
    window = night_window(JULY, SITE, NightRules(start="22:15"))
    assert window.start == local(10, 22, 15)
    assert window.end == by_sun.end


def test_margins_move_the_ends() -> None:
    tight = night_window(JULY, SITE, NightRules(after_sunset_min=60, before_sunrise_min=90))
    usual = night_window(JULY, SITE, SUN)
    assert tight.start - usual.start == timedelta(minutes=30)
    assert usual.end - tight.end == timedelta(minutes=60)


@given(st.dates(date(2024, 1, 1), date(2030, 12, 31)), st.floats(-55, 55), st.floats(-180, 180))
def test_every_night_is_whole_minutes_and_aware(
    night: date, latitude: float, longitude: float
) -> None:
    site = Site("x", latitude, longitude, 0.0, "UTC", "EPSG:32613")
    window = night_window(night, site, NightRules(after_sunset_min=0, before_sunrise_min=0))
    for instant in (window.start, window.end):
        assert instant.tzinfo is not None
        assert (instant.second, instant.microsecond) == (0, 0)
    assert 5 * 60 < window.minutes < 20 * 60


# Changes of clocks: Denver springs forward on 9 March and falls back on 2 November 2025.


@pytest.mark.parametrize(
    ("night", "minutes"),
    [
        (date(2025, 3, 7), 480),
        (date(2025, 3, 8), 420),
        (date(2025, 3, 9), 480),
        (date(2025, 10, 31), 480),
        (date(2025, 11, 1), 540),
        (date(2025, 11, 2), 480),
    ],
)
def test_a_night_across_a_change_of_clocks_is_an_hour_off(night: date, minutes: int) -> None:
    window = night_window(night, SITE, CLOCK)
    assert window.minutes == minutes
    assert (window.end.astimezone(UTC) - window.start.astimezone(UTC)).seconds == minutes * 60


def test_a_clock_time_that_does_not_exist_is_moved_on() -> None:
    """02:30 on 9 March is not on any clock; it counts as 03:30, the hour that came instead."""
    instant = clock_instant(date(2025, 3, 8), clock_time("02:30", "x"), "America/Denver")
    assert instant == datetime(2025, 3, 9, 9, 30, tzinfo=UTC)


def test_a_clock_time_that_comes_twice_is_the_first() -> None:
    instant = clock_instant(date(2025, 11, 1), clock_time("01:30", "x"), "America/Denver")
    assert instant == datetime(2025, 11, 2, 7, 30, tzinfo=UTC)


def test_hours_of_a_kind_across_a_change_of_clocks() -> None:
    rules = NightRules(start="21:00", end="05:00", kind_windows={"green": ("03:00", "")})
    for night, start_min in ((date(2025, 3, 8), 300), (JULY, 360), (date(2025, 11, 1), 420)):
        window = night_window(night, SITE, rules)
        found = kind_window_min("green", night, SITE, rules, window)
        assert found == (start_min, window.minutes)


# Hours of kinds


@pytest.mark.parametrize(
    ("hours", "minutes"),
    [
        (("03:00", ""), (360, 480)),
        (("", "23:00"), (0, 120)),
        (("22:00", "04:30"), (60, 450)),
        (("20:00", "06:00"), (0, 480)),
        (("", ""), (0, 480)),
    ],
)
def test_hours_of_a_kind(hours: tuple[str, str], minutes: tuple[int, int]) -> None:
    rules = NightRules(start="21:00", end="05:00", kind_windows={"green": hours})
    window = night_window(JULY, SITE, rules)
    assert kind_window_min("green", JULY, SITE, rules, window) == minutes
    assert kind_window_min("rough", JULY, SITE, rules, window) == (0, 480)


# What a person can get wrong


@pytest.mark.parametrize("text", ["9pm", "24:00", "21", "21:60", "", "21:00:00", "-1:00"])
def test_what_is_no_clock_time_is_refused_with_its_setting(text: str) -> None:
    with pytest.raises(UserError, match=r"night\.start is '.*', not a clock time"):
        clock_time(text, "night.start")


@pytest.mark.parametrize(("text", "hour"), [("7:05", 7), (" 21:05 ", 21), ("00:05", 0)])
def test_clock_times_as_people_write_them(text: str, hour: int) -> None:
    assert (clock_time(text, "x").hour, clock_time(text, "x").minute) == (hour, 5)


@pytest.mark.parametrize(
    ("start", "end"),
    [("21:00", "21:00"), ("23:00", "22:00"), ("04:00", "02:00"), ("05:00", "23:00")],
)
def test_hours_that_are_no_night_are_refused(start: str, end: str) -> None:
    with pytest.raises(UserError, match="which is no night"):
        night_window(JULY, SITE, NightRules(start=start, end=end))


def test_midnight_sun_asks_for_set_hours() -> None:
    north = Site("North", 70.0, 25.0, 10.0, "Europe/Oslo", "EPSG:32635")
    with pytest.raises(UserError, match=r"night\.start and night\.end"):
        night_window(date(2025, 6, 21), north, SUN)
    assert night_window(date(2025, 6, 21), north, CLOCK).minutes == 480


def test_margins_that_eat_the_night_are_refused() -> None:
    with pytest.raises(UserError, match="margins"):
        night_window(JULY, SITE, NightRules(after_sunset_min=400, before_sunrise_min=400))
