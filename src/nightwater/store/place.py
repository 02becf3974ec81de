"""Where the record's metres lie: the projected coordinate system of a course."""

from __future__ import annotations

from pyproj import CRS
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError

from nightwater.findings import UserError


def _utm_zone(latitude_deg: float, longitude_deg: float) -> str:
    point = AreaOfInterest(longitude_deg, latitude_deg, longitude_deg, latitude_deg)
    zones = query_utm_crs_info(datum_name="WGS 84", area_of_interest=point)
    if not zones:
        raise UserError(
            f"No UTM zone covers {latitude_deg:g}, {longitude_deg:g}. Give a projected metric "
            "coordinate system with --crs."
        )
    return f"{zones[0].auth_name}:{zones[0].code}"


def _is_metric(crs: CRS) -> bool:
    return crs.is_projected and all(axis.unit_conversion_factor == 1 for axis in crs.axis_info[:2])


def projected_crs(latitude_deg: float, longitude_deg: float, given: str | None) -> str:
    """The projected metric system of a course: as given, else the UTM zone of its place.

    Args:
        latitude_deg, longitude_deg: north and east positive.
        given: "EPSG:n", PROJ text or WKT, or None.

    Returns:
        "AUTHORITY:code" where there is one, else WKT.

    Raises:
        UserError: unknown, in degrees or in feet.
    """
    if given is None:
        return _utm_zone(latitude_deg, longitude_deg)
    try:
        crs = CRS.from_user_input(given)
    except CRSError:
        raise UserError(
            f"There is no coordinate system '{given}'. Write it like EPSG:32612."
        ) from None
    if not _is_metric(crs):
        raise UserError(
            f"The record is kept in metres, and {crs.name} is not a projected system in metres. "
            "Leave it away to use the UTM zone of the place."
        )
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else str(crs.to_wkt())
