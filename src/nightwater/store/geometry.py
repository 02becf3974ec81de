"""Geometry as GeoPackage holds it: a header with an envelope, then WKB."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.findings import UserError

_MAGIC: Final = b"GP"
_LITTLE_ENDIAN_XY: Final = 0b0000_0011  # little-endian header, envelope of x and y
_LITTLE_ENDIAN_EMPTY: Final = 0b0001_0001  # empty geometry, no envelope
_ENVELOPE_BYTES: Final = (0, 32, 48, 48, 64)
_DAMAGED: Final = (
    "A geometry in the course file is not GeoPackage binary. Restore a backup of the file."
)


def to_blob(geometry: BaseGeometry | None, srs_id: int) -> bytes | None:
    """A geometry as GeoPackage binary, OGC 12-128r18 clause 2.1.3; None stays None."""
    if geometry is None:
        return None
    wkb: bytes = shapely.to_wkb(geometry, byte_order=1)
    if geometry.is_empty:
        return _MAGIC + struct.pack("<BBi", 0, _LITTLE_ENDIAN_EMPTY, srs_id) + wkb
    left, bottom, right, top = geometry.bounds
    header = struct.pack("<BBi4d", 0, _LITTLE_ENDIAN_XY, srs_id, left, right, bottom, top)
    return _MAGIC + header + wkb


def _wkb(blob: bytes | None) -> bytes | None:
    if blob is None:
        return None
    envelope = (blob[3] >> 1) & 0b111 if len(blob) > 8 else len(_ENVELOPE_BYTES)
    if blob[:2] != _MAGIC or envelope >= len(_ENVELOPE_BYTES):
        raise UserError(_DAMAGED)
    return blob[8 + _ENVELOPE_BYTES[envelope] :]


def from_blobs(blobs: Sequence[bytes | None]) -> list[Any]:
    """Geometries from GeoPackage binary, all at once; None stays None.

    Raises:
        UserError: not GeoPackage binary.
    """
    wkb = np.array([_wkb(blob) for blob in blobs], dtype=object)
    try:
        return list(shapely.from_wkb(wkb))
    except shapely.errors.ShapelyError as trouble:
        raise UserError(_DAMAGED) from trouble
