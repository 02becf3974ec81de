"""Geometry as the GeoPackage standard stores it (OGC 12-128r17, clause 2.1.3)."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

MAGIC: Final = b"GP"
_ENVELOPE_BYTES: Final = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_LITTLE_ENDIAN: Final = 0b0001
_XY_ENVELOPE: Final = 0b0010
_EMPTY: Final = 0b10000


def blob_from_hex(wkb_hex: str | None, srs_id: int) -> bytes | None:
    """A geometry blob with its header, from WKB in hex; None stays None."""
    if wkb_hex is None:
        return None
    wkb = bytes.fromhex(wkb_hex)
    shape = shapely.from_wkb(wkb)
    if shapely.is_empty(shape):
        return MAGIC + struct.pack("<BBi", 0, _LITTLE_ENDIAN | _EMPTY, srs_id) + wkb
    if shape.geom_type == "Point":
        return MAGIC + struct.pack("<BBi", 0, _LITTLE_ENDIAN, srs_id) + wkb
    left, bottom, right, top = shapely.bounds(shape)
    head = struct.pack("<BBi4d", 0, _LITTLE_ENDIAN | _XY_ENVELOPE, srs_id, left, right, bottom, top)
    return MAGIC + head + wkb


def wkb_of(blob: bytes | None) -> bytes | None:
    """The WKB within a geometry blob; None for None.

    Raises:
        ValueError: not a GeoPackage geometry.
    """
    if blob is None:
        return None
    if blob[:2] != MAGIC:
        raise ValueError("not a GeoPackage geometry")
    envelope = (blob[3] >> 1) & 0b111
    return blob[8 + _ENVELOPE_BYTES[envelope] :]


def shapes_of(blobs: Sequence[bytes | None]) -> NDArray[np.object_]:
    """Shapely geometries of many blobs; None where there is none."""
    wkb = np.array([wkb_of(blob) for blob in blobs], dtype=object)
    shapes: NDArray[np.object_] = shapely.from_wkb(wkb)
    return shapes
