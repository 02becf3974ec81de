"""Sunrise and sunset against `astral`, a test-only library, and where there are none."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from astral import Observer
from astral.sun import sun as astral_sun
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.weather.sun import solar_noons, sun_events, sun_times

ZONES = [
    ("America/Denver", 39.2, -105.0),
    ("America/New_York", 36.1, -79.95),
    ("Europe/Lisbon", 38.7, -9.3),
    ("Asia/Kolkata", 28.6, 77.2),
    ("Australia/Adelaide", -34.9, 138.6),
    ("America/Argentina/Ushuaia", -54.8, -68.3),
    ("Europe/Oslo", 59.9, 10.8),
    ("Pacific/Auckland", -36.8, 174.8),
]
YEAR = [date(2025, 1, 1) + timedelta(days=step) for step in range(0, 365, 13)]


def seconds_apart(one: datetime | None, other: datetime) -> float:
    assert one is not None
    return abs((one - other).total_seconds())


@pytest.mark.parametrize(("zone", "latitude", "longitude"), ZONES)
def test_a_year_agrees_with_astral_within_a_minute(
    zone: str, latitude: float, longitude: float
) -> None:
    for day in YEAR:
        rise, down = sun_times(day, latitude_deg=latitude, longitude_deg=longitude, timezone=zone)
        assert rise is not None
        theirs = astral_sun(Observer(latitude, longitude), day, tzinfo=rise.tzinfo)
        assert seconds_apart(rise, theirs["sunrise"]) < 60
        assert seconds_apart(down, theirs["sunset"]) < 60


@settings(max_examples=150, deadline=None)
@given(
    latitude=st.floats(-60, 60),
    longitude=st.floats(-89, 89),
    step=st.integers(0, 3650),
)
def test_any_place_between_60_s_and_60_n(latitude: float, longitude: float, step: int) -> None:
    """In the zone of the place's own meridian, so that both mean the same local day."""
    day = date(2020, 1, 1) + timedelta(days=step)
    hours = round(longitude / 15)
    zone = f"UTC{'-' if hours < 0 else '+'}{abs(hours):02d}:00"
    rise, down = sun_times(day, latitude_deg=latitude, longitude_deg=longitude, timezone=zone)
    assert rise is not None
    theirs = astral_sun(Observer(latitude, longitude), day, tzinfo=rise.tzinfo)
    assert seconds_apart(rise, theirs["sunrise"]) < 60
    assert seconds_apart(down, theirs["sunset"]) < 60


def test_times_are_aware_and_on_the_local_date() -> None:
    rise, down = sun_times(
        date(2025, 7, 10), latitude_deg=39.2, longitude_deg=-112, timezone="America/Denver"
    )
    assert rise is not None
    assert down is not None
    assert rise.date() == down.date() == date(2025, 7, 10)
    assert rise.utcoffset() == timedelta(hours=-6)
    assert rise < down
    assert rise.microsecond == 0


def test_the_day_that_clocks_change_keeps_its_sun() -> None:
    before, after = (
        sun_times(day, latitude_deg=39.2, longitude_deg=-105, timezone="America/Denver")
        for day in (date(2025, 3, 8), date(2025, 3, 9))
    )
    assert before[0] is not None
    assert after[0] is not None
    elapsed = after[0].astimezone(UTC) - before[0].astimezone(UTC)
    assert abs(elapsed - timedelta(hours=24)) < timedelta(minutes=3)
    assert after[0].utcoffset() == timedelta(hours=-6)


@pytest.mark.parametrize("day", [date(2025, 6, 21), date(2025, 12, 21)])
def test_no_sunrise_beyond_the_polar_circle(day: date) -> None:
    assert sun_times(day, latitude_deg=70.7, longitude_deg=25.8, timezone="Europe/Oslo") == (
        None,
        None,
    )


def test_zones_far_from_their_meridian_keep_the_local_date() -> None:
    """UTC+14 on a meridian of UTC-10: the noon nearest to local noon is taken."""
    rise, down = sun_times(
        date(2025, 7, 10), latitude_deg=1.9, longitude_deg=-157.4, timezone="Pacific/Kiritimati"
    )
    assert rise is not None
    assert down is not None
    assert rise.date() == down.date() == date(2025, 7, 10)
    assert 6 <= rise.hour <= 7


def test_arrays_of_days_and_places() -> None:
    noons = np.arange("2025-01-01T19", "2026-01-01T19", 24, dtype="datetime64[h]")
    near = noons.astype("datetime64[s]")
    latitudes = np.array([[-30.0], [39.0], [72.0]])
    rise, down = sun_events(near, latitudes, -112.0)
    assert rise.shape == down.shape == (3, 365)
    length = (down - rise) / np.timedelta64(1, "h")
    assert (length[:2] > 9).all()
    assert np.isnat(rise[2]).sum() > 100
    assert (np.isnat(rise) == np.isnat(down)).all()
    # more light in the north than in the south over June, and the other way in December
    assert length[1, 170] > length[0, 170]
    assert length[1, 355] < length[0, 355]


def test_solar_noon_lies_between_sunrise_and_sunset() -> None:
    near = np.array(["2025-02-11T19:00:00", "2025-11-03T19:00:00"], "datetime64[s]")
    noon = solar_noons(near, -105.0)
    # the equation of time: 14.2 min late in February, 16.4 min early in November
    expected = np.array(["2025-02-11T19:14:12", "2025-11-03T18:43:34"], "datetime64[s]")
    assert np.abs((noon - expected).astype(float)).max() < 20


def test_unknown_zone_is_the_users_mistake() -> None:
    with pytest.raises(UserError, match="no time zone 'Mars/Base'"):
        sun_times(date(2025, 1, 1), latitude_deg=0, longitude_deg=0, timezone="Mars/Base")
