"""Exposure of every cell of the turf: what its slope makes of its area's need."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from nightwater.weather.slopes import radiation_ratio

_NEAR: Final = 9  # levels that make a plane
_FAR_M: Final = 80.0  # a plane of farther levels says nothing of a knoll
_LEAST_SPREAD_M: Final = 5.0  # across their line; levels in a row make no plane
_BLOCK_M: Final = 5.0  # cells of one block share a slope
_BLEND: Final = 3
STEEPEST: Final = 0.6  # metre a metre
LEAST: Final = 0.5
MOST: Final = 1.5

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Planes:
    """The fall of the ground at places whose level is known.

    Attributes:
        places: x and y [m], shape (n, 2).
        east, north: metres that the ground rises a metre that way; shape (n,).
    """

    places: Numbers
    east: Numbers
    north: Numbers

    @property
    def slope_rad(self) -> Numbers:
        """Slope at each place."""
        return np.asarray(np.arctan(np.hypot(self.east, self.north)), dtype=float)

    @property
    def aspect_rad(self) -> Numbers:
        """Where the ground falls to, clockwise from north."""
        return np.asarray(np.arctan2(-self.east, -self.north), dtype=float)


def planes_of(places: Numbers, levels: Numbers) -> Planes:
    """A plane through the levels around each known level, by least squares.

    Args:
        places: where levels are known, shape (n, 2) [m].
        levels: what they are [m], shape (n,).

    Returns:
        Planes where levels tell one: near enough, and not all in a row. Nowhere steeper than
        `STEEPEST`.
    """
    nothing = np.empty(0)
    if len(places) < 4:
        return Planes(np.empty((0, 2)), nothing, nothing)
    count = min(_NEAR, len(places))
    away, near = cKDTree(places).query(places, k=count)
    near_m = np.where(away <= _FAR_M, 1.0, 0.0)
    share = near_m / near_m.sum(axis=1, keepdims=True)
    middle = (share[:, :, None] * places[near]).sum(axis=1)
    mean = (share * levels[near]).sum(axis=1)
    part = places[near] - middle[:, None, :]
    rise = levels[near] - mean[:, None]
    spread = np.einsum("nk,nki,nkj->nij", share, part, part)
    pull = np.einsum("nk,nki,nk->ni", share, part, rise)
    sure = np.linalg.eigvalsh(spread)[:, 0] >= _LEAST_SPREAD_M**2
    gradient = np.linalg.solve(spread[sure], pull[sure][:, :, None])[:, :, 0]
    steep = np.hypot(gradient[:, 0], gradient[:, 1])
    gradient = gradient * np.minimum(1.0, STEEPEST / np.maximum(steep, 1e-12))[:, None]
    return Planes(places[sure], gradient[:, 0], gradient[:, 1])


def _at_blocks(planes: Planes, values: Numbers, x_m: Numbers, y_m: Numbers) -> Numbers:
    """A value of the planes at each place, by 1 / distance² of the nearest; 1 far from all."""
    column, row = (
        np.floor((along - along.min()) / _BLOCK_M).astype(np.int64) for along in (x_m, y_m)
    )
    width = int(column.max()) + 1
    taken = np.zeros(width * (int(row.max()) + 1), dtype=bool)
    taken[row * width + column] = True
    unique = np.flatnonzero(taken)
    back = (np.cumsum(taken) - 1)[row * width + column]
    middle = np.column_stack((unique % width, unique // width)) + 0.5
    count = min(_BLEND, len(planes.places))
    away, near = cKDTree(planes.places).query(
        middle * _BLOCK_M + np.array([x_m.min(), y_m.min()]), k=count
    )
    away, near = np.reshape(away, (-1, count)), np.reshape(near, (-1, count))
    weight = 1 / np.maximum(away, 1.0) ** 2
    mean = (weight * values[near]).sum(axis=1) / weight.sum(axis=1)
    return np.asarray(np.where(away[:, 0] <= _FAR_M, mean, 1.0)[back], dtype=float)


@dataclass(frozen=True)
class Sky:
    """Where the course lies and what day it is.

    Attributes:
        latitude_deg: north positive.
        day_of_year: 1 … 366.
    """

    latitude_deg: float
    day_of_year: int


def cell_exposure(
    place_m: tuple[Numbers, Numbers],
    area: NDArray[np.int32],
    planes: Planes,
    sky: Sky,
    share: float,
) -> Numbers:
    """What each cell's slope makes of its area's need; the mean of every area is 1.

    Need follows radiation by `share`: 1 + share × (radiation on the slope over level − 1). As
    `area_factor` tells what the area has as a whole, each cell counts against the mean of its
    own area, so that nothing counts twice.

    Args:
        place_m: x and y of the middle of each cell.
        area: number of the area of each cell.
        planes: the fall of the ground.
        sky: latitude and day.
        share: how much of the need follows radiation, 0 to 1.

    Returns:
        Factors within 0.5 to 1.5; 1 on level ground, far from known levels and with a share
        of 0.
    """
    if not len(planes.places) or share == 0 or not len(area):
        return np.ones(len(area))
    ratio = radiation_ratio(sky.latitude_deg, sky.day_of_year, planes.slope_rad, planes.aspect_rad)
    exposed = 1 + share * (_at_blocks(planes, ratio, *place_m) - 1)
    count = np.maximum(np.bincount(area), 1)
    mean = np.bincount(area, exposed) / count
    return np.asarray(np.clip(exposed / mean[area], LEAST, MOST), dtype=float)
