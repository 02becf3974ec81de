"""The projected metric system of a course."""

from __future__ import annotations

from pyproj import CRS
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError

from nightwater.findings import UserError


def projected_crs(latitude_deg: float, longitude_deg: float, given: str | None) -> str:
    """The system a course's record is kept in: the given one, else the WGS 84 UTM zone.

    Returns:
        "EPSG:n" where the system has a code, else its WKT.

    Raises:
        UserError: the given system is unknown, not projected, or not in metres.
    """
    if given is not None:
        return _checked(given)
    spot = AreaOfInterest(longitude_deg, latitude_deg, longitude_deg, latitude_deg)
    zones = query_utm_crs_info(datum_name="WGS 84", area_of_interest=spot)
    if not zones:
        raise UserError("No UTM zone covers that place. Give a projected system with --crs.")
    return f"EPSG:{zones[0].code}"


def _checked(given: str) -> str:
    try:
        crs = CRS.from_user_input(given)
    except CRSError:
        raise UserError(
            f"'{given}' is not a known coordinate system. Write it like EPSG:32612."
        ) from None
    metric = crs.is_projected and all(
        abs(a.unit_conversion_factor - 1) < 1e-12 for a in crs.axis_info[:2]
    )
    if not metric:
        raise UserError(
            f"{given} ({crs.name}) is not a projected system in metres, which the record needs. "
            "Leave --crs away to get the UTM zone; files in feet are converted when surveyed."
        )
    code = crs.to_epsg()
    return f"EPSG:{code}" if code else crs.to_wkt()
