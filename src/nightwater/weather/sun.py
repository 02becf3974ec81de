"""Sunrise and sunset, by the equations of the NOAA solar calculator (after Meeus 1998)."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.weather.air import Numbers, numbers
from nightwater.weather.zones import zone_named

Instants: TypeAlias = NDArray[np.datetime64]

HORIZON_DEG: Final = 90.833  # zenith angle: refraction 34' and half the sun's disc 16'
_J2000: Final = np.datetime64("2000-01-01T12:00:00", "s")
_PASSES: Final = 3  # each moves sunrise to the declination of its own instant


def _sun_place(instants: Instants) -> tuple[Numbers, Numbers]:
    """Declination [rad] and equation of time [min] at UTC instants."""
    century = (instants - _J2000).astype(float) / 86400 / 36525
    mean_longitude = np.radians((280.46646 + century * (36000.76983 + 0.0003032 * century)) % 360)
    anomaly = np.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    eccentricity = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    centre = (
        np.sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century))
        + np.sin(2 * anomaly) * (0.019993 - 0.000101 * century)
        + np.sin(3 * anomaly) * 0.000289
    )
    node = np.radians(125.04 - 1934.136 * century)
    longitude = mean_longitude + np.radians(centre - 0.00569 - 0.00478 * np.sin(node))
    obliquity = np.radians(23.439291 - 0.013004 * century + 0.00256 * np.cos(node))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    tilt = np.tan(obliquity / 2) ** 2
    equation = (
        tilt * np.sin(2 * mean_longitude)
        - 2 * eccentricity * np.sin(anomaly)
        + 4 * eccentricity * tilt * np.sin(anomaly) * np.cos(2 * mean_longitude)
        - 0.5 * tilt**2 * np.sin(4 * mean_longitude)
        - 1.25 * eccentricity**2 * np.sin(2 * anomaly)
    )
    return declination, 4 * np.degrees(equation)


def _shifted(instants: Instants, minutes: Numbers) -> Instants:
    seconds = np.where(np.isnan(minutes), 0, np.round(minutes * 60)).astype("timedelta64[s]")
    return np.where(np.isnan(minutes), np.datetime64("NaT"), instants + seconds)


def solar_noons(near: Instants, longitude_deg: ArrayLike) -> Instants:
    """The solar noon closest to each UTC instant, to the second.

    Args:
        near: UTC instants (datetime64[s]), any shape.
        longitude_deg: east positive [°]; it broadcasts with `near`.
    """
    noon = near
    for _ in range(2):
        _, equation = _sun_place(noon)
        of_day = (noon - noon.astype("datetime64[D]")).astype(float) / 60
        late = of_day + 4 * numbers(longitude_deg) + equation - 720
        noon = _shifted(noon, -((late + 720) % 1440 - 720))
    return noon


def sun_events(
    near: Instants, latitude_deg: ArrayLike, longitude_deg: ArrayLike
) -> tuple[Instants, Instants]:
    """Sunrise before and sunset after the solar noon closest to each UTC instant.

    The upper edge of the sun on a flat sea-level horizon, with a refraction of 34'.

    Args:
        near: UTC instants (datetime64[s]) at about local noon, any shape.
        latitude_deg, longitude_deg: north and east positive [°]; all broadcast.

    Returns:
        UTC instants (datetime64[s]) in the broadcast shape; NaT where the sun does not
        cross the horizon that day.

    Reference: NOAA Global Monitoring Laboratory, solar calculation details, after
    J. Meeus, Astronomical Algorithms (2nd edition 1998), chapters 25 and 28.
    """
    noon = solar_noons(near, longitude_deg)
    latitude = np.radians(numbers(latitude_deg))
    noon, latitude = np.broadcast_arrays(noon, latitude)
    events = []
    for side in (-1, 1):
        event = noon
        for _ in range(_PASSES):
            declination, _ = _sun_place(np.where(np.isnat(event), noon, event))
            cosine = np.cos(np.radians(HORIZON_DEG)) / (np.cos(latitude) * np.cos(declination))
            cosine = cosine - np.tan(latitude) * np.tan(declination)
            angle = np.arccos(np.where(np.abs(cosine) <= 1, cosine, np.nan))
            event = _shifted(noon, side * 4 * np.degrees(angle))
        events.append(event)
    return events[0], events[1]


def sun_times(
    day: date, *, latitude_deg: float, longitude_deg: float, timezone: str
) -> tuple[datetime | None, datetime | None]:
    """Sunrise and sunset of one local date, to the second.

    Args:
        day: the local calendar date.
        latitude_deg, longitude_deg: north and east positive [°].
        timezone: IANA name of the local time.

    Returns:
        Two datetimes in that zone, or (None, None) where the sun does not rise and set.

    Reference: `sun_events`; within one minute of it between 60° S and 60° N, since air
    and horizon differ from the standard ones.
    """
    zone = zone_named(timezone)
    noon = datetime.combine(day, time(12), zone).astimezone(UTC).replace(tzinfo=None)
    rise, down = sun_events(np.array(noon, "datetime64[s]"), latitude_deg, longitude_deg)
    if np.isnat(rise) or np.isnat(down):
        return None, None
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    start, end = (
        (epoch + timedelta(seconds=int(instant.astype("int64")))).astimezone(zone)
        for instant in (rise, down)
    )
    return start, end
