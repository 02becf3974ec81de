"""Where the invented club lies: its coordinate system, its relief, its fixed randomness."""

from __future__ import annotations

import zlib
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

CRS: Final = "EPSG:32612"
LATITUDE_DEG: Final = 39.2
LONGITUDE_DEG: Final = -112.0
STATION_ELEVATION_M: Final = 1372.0
ORIGIN_M: Final = (413_650.0, 4_339_450.0)  # the clubhouse forecourt; drawings count from here
SEED: Final = 1991  # the year in which the club says it opened

Metres = NDArray[np.float64]


def chance(layer: str) -> np.random.Generator:
    """Fixed randomness of one layer, so that changing one layer moves no other."""
    return np.random.default_rng([SEED, zlib.crc32(layer.encode())])


def elevation_m(x: ArrayLike, y: ArrayLike) -> Metres:
    """Ground level at a place of the drawing [m above the sea], any shape.

    A slope that falls from north-west to south-east with gentle swells, between 1,368
    and 1,402 m over the course.
    """
    east, north = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    slope = 0.0173 * (north - 430.0) - 0.0145 * east
    swell = 5.1 * np.sin(east / 170.0) * np.cos(north / 210.0) + 2.7 * np.sin(north / 95.0)
    return np.clip(1383.0 + slope + swell, 1368.0, 1402.0)
