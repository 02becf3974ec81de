"""Make an empty course file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

from timezonefinder import TimezoneFinder

from nightwater.findings import UserError
from nightwater.ground.settings import Settings, Site
from nightwater.store.course_file import CourseFile
from nightwater.store.place import projected_crs
from nightwater.units import UnitSystem


@dataclass(frozen=True)
class NewCourse:
    """What a person says of a new course.

    Attributes:
        path: where the file goes; it must not exist.
        name: what the course is called.
        near: "LAT,LON" in degrees, north and east positive.
        elevation_m: metres above the sea.
        timezone: IANA name, or None to find it from the place.
        crs: projected metric system, or None for the UTM zone.
        units: what people read.
    """

    path: Path
    name: str
    near: str
    elevation_m: float
    timezone: str | None
    crs: str | None
    units: UnitSystem


def place(near: str) -> tuple[float, float]:
    """Latitude and longitude [deg] as a person writes them, "LAT,LON".

    Raises:
        UserError: not two numbers, or not on the globe.
    """
    try:
        latitude, longitude = (float(part) for part in near.split(","))
    except ValueError:
        raise UserError(
            f"'{near}' is not a place. Write latitude,longitude in degrees, like 39.2,-112.0."
        ) from None
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise UserError(
            f"'{near}' is not on the globe. Latitude is -90 to 90, longitude -180 to 180; "
            "write latitude first."
        )
    return latitude, longitude


def local_timezone(latitude_deg: float, longitude_deg: float, given: str | None) -> str:
    """The IANA timezone a course lives by.

    Raises:
        UserError: the given name is unknown, or the place has none.
    """
    if given is not None:
        if given not in available_timezones():
            raise UserError(
                f"There is no timezone '{given}'. Use an IANA name such as America/Denver."
            )
        return ZoneInfo(given).key
    found = TimezoneFinder().timezone_at(lat=latitude_deg, lng=longitude_deg)
    if found is None:
        raise UserError("No timezone is known for that place. Give one with --timezone.")
    return found


def create_course(wish: NewCourse) -> Site:
    """Make the file and give back its site.

    Raises:
        UserError: the file exists, the folder does not, or the place is wrong.
    """
    latitude, longitude = place(wish.near)
    site = Site(
        name=wish.name,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=wish.elevation_m,
        timezone=local_timezone(latitude, longitude, wish.timezone),
        crs=projected_crs(latitude, longitude, wish.crs),
        units=wish.units,
    )
    CourseFile.create(wish.path, Settings(site)).close()
    return site
