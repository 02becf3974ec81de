"""Outlines that are not valid, repaired only where nobody could mean anything else."""

from __future__ import annotations

from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

REPAIRS_AGREE: Final = 0.01  # share of the area by which two ways of repair may differ


def fault_in_words(geometry: BaseGeometry) -> str:
    """Why a geometry is not valid, without the place."""
    return str(shapely.is_valid_reason(geometry)).partition("[")[0].strip().lower()


def _ground(geometry: BaseGeometry) -> BaseGeometry:
    parts = shapely.get_parts(geometry)
    ground: BaseGeometry = shapely.union_all(parts[shapely.get_dimensions(parts) == 2])
    return ground


def certain_repair(geometry: BaseGeometry) -> BaseGeometry | None:
    """A geometry with valid outlines, None where the repair is not certain.

    It is certain where two ways that share no method (`make_valid` and a buffer of no width)
    give the same ground but for `REPAIRS_AGREE` of it. Equal sizes are not enough: of a bow
    tie each way may keep another lobe. What has no outline is mended in the one way there is.
    """
    if shapely.is_valid(geometry):
        return geometry
    mended: BaseGeometry = shapely.make_valid(geometry)
    if shapely.get_dimensions(geometry) < 2:
        return mended
    other = shapely.buffer(geometry, 0)
    apart = shapely.area(shapely.symmetric_difference(_ground(mended), other))
    return mended if apart <= REPAIRS_AGREE * shapely.area(mended) else None
