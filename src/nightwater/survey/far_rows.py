"""Rows that lie elsewhere on the globe: swapped axes, a wrong sign, a wrong system."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Geod, Transformer

from nightwater.findings import Finding, UserError, error

FAR_M: Final = 50_000.0
NEAR_M: Final = 20_000.0  # no course is so large
LONGITUDES: Final = 180.0
LATITUDES: Final = 90.0
_MOSTLY: Final = 0.5
_GLOBE: Final = Geod(ellps="WGS84")
Numbers: TypeAlias = NDArray[np.float64]
_WAYS: Final[Mapping[str, tuple[bool, int, int]]] = {  # swapped, sign of x, sign of y, in order
    "{axes} swapped": (True, 1, 1),
    "the longitude's sign turned": (False, -1, 1),
    "the latitude's sign turned": (False, 1, -1),
    "both signs turned": (False, -1, -1),
    "{axes} swapped and the longitude's sign turned": (True, -1, 1),
    "{axes} swapped and the latitude's sign turned": (True, 1, -1),
}


@dataclass(frozen=True)
class Elsewhere:
    """Which rows (by their place in the file) lie far from the course, and the finding of it."""

    rows: frozenset[int]
    findings: tuple[Finding, ...]


def in_degrees(crs: CRS) -> bool:
    """Whether a system measures in degrees of longitude and latitude."""
    return crs.is_geographic and all("degree" in axis.unit_name for axis in crs.axis_info[:2])


def outside_degrees(geometry: Any) -> bool:
    """Whether a geometry has a longitude beyond ±180 or a latitude beyond ±90 degrees."""
    points = np.abs(shapely.get_coordinates(geometry))
    return bool((points > (LONGITUDES, LATITUDES)).any())


def _degree_hint(across: float, up: float) -> str:
    if abs(across) <= LATITUDES and abs(up) <= LONGITUDES:
        return "Latitude and longitude look swapped; name the columns rightly or swap them."
    if max(abs(across), abs(up)) > 2 * LONGITUDES:
        return "They look like metres or feet; say their system, with columns named x and y."
    return "Count longitudes from -180 to 180 and latitudes from -90 to 90."


def check_degrees(shapes: Sequence[Any], source: CRS, name: str) -> None:
    """Refuse a file most of whose rows have degrees that no globe has.

    Raises:
        UserError: with the first such place.
    """
    known = [shape for shape in shapes if shape is not None and not shapely.is_empty(shape)]
    outside = [shape for shape in known if in_degrees(source) and outside_degrees(shape)]
    if len(outside) <= _MOSTLY * len(known):
        return
    across, up = shapely.get_coordinates(outside[0])[0]
    raise UserError(
        f"{name}: {len(outside)} of {len(known)} rows lie at degrees that do not exist, the first "
        f"at longitude {across:g}, latitude {up:g}. {_degree_hint(across, up)}"
    )


def _first_points(shapes: Sequence[Any]) -> tuple[NDArray[np.intp], Numbers]:
    """Place in the file and first point of each shape that has one."""
    spots = np.array([*shapes, None], dtype=object)
    points, rows = shapely.get_coordinates(spots, return_index=True)
    rows, first = np.unique(rows, return_index=True)
    points = points[first]
    sound = np.isfinite(points).all(axis=1)
    return rows[sound], points[sound]


def _distance_m(points: Numbers, to_degrees: Transformer, near: tuple[float, float]) -> Numbers:
    """Distance [m] of points in the file's system from a latitude and longitude, NaN: nowhere."""
    lon, lat = (np.asarray(c, float) for c in to_degrees.transform(points[:, 0], points[:, 1]))
    there = np.isfinite(lon) & np.isfinite(lat) & (np.abs(lat) <= LATITUDES)
    far = np.full(len(points), np.nan)
    there_lon, there_lat = lon[there], lat[there]
    home = np.full(len(there_lon), near[1]), np.full(len(there_lon), near[0])
    far[there] = _GLOBE.inv(there_lon, there_lat, *home)[2]
    return far


def _hint(points: Numbers, source: CRS, near: tuple[float, float]) -> str:
    """What would bring most of the points to the course, in a sentence; "" for nothing."""
    to_degrees = Transformer.from_crs(source, "EPSG:4326", always_xy=True)
    axes = "latitude and longitude" if source.is_geographic else "east and north"
    for words, (swapped, east, north) in _WAYS.items():
        if not source.is_geographic and not (swapped and east == north == 1):
            continue
        turned = points[:, ::-1] if swapped else points
        away = _distance_m(turned * (east, north), to_degrees, near)
        close = away <= NEAR_M
        if close.mean() > _MOSTLY:
            done = words.format(axes=axes)
            return f" With {done} they would lie {np.median(away[close]) / 1000:,.1f} km from it."
    return ""


def elsewhere(
    shapes: Sequence[Any], source: CRS, near: tuple[float, float], name: str
) -> Elsewhere:
    """Rows that lie more than 50 km from the course, and what may have gone wrong.

    Swapped axes and wrong signs are tried out and told where they would bring the rows
    within 20 km; nothing is applied.

    Args:
        shapes: one geometry or None for each row, in the file's system.
        source: that system.
        near: latitude and longitude of the course [degrees].
        name: the file's name, for messages.
    """
    rows, points = _first_points(shapes)
    to_degrees = Transformer.from_crs(source, "EPSG:4326", always_xy=True)
    away = _distance_m(points, to_degrees, near)
    far = away > FAR_M
    if not far.any():
        return Elsewhere(frozenset(), ())
    hint = _hint(points[far], source, near)
    found = error(
        "far-from-course",
        f"file:{name}",
        f"{name}: {int(far.sum())} of {len(points)} rows lie {np.median(away[far]) / 1000:,.0f} km "
        f"from the course; more than {FAR_M / 1000:.0f} km is doubtful.{hint}",
        "Check the order of the coordinates, their signs and the system; accept doubtful rows "
        "with --with-doubtful.",
    )
    return Elsewhere(frozenset(int(row) for row in rows[far]), (found,))
