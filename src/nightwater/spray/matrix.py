"""The wetting matrix: how fast each head wets each cell of the turf."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import ARRAYS, HeadPatterns
from nightwater.spray.profile import NODES
from nightwater.spray.rate import FULL_CIRCLE_DEG
from nightwater.units import SECONDS_PER_MINUTE

CELLS_PER_RADIUS: Final = 6  # at least so many samples along the throw
_CHUNK_CELLS: Final = 1_500_000  # of patches worked on at once; bounds the memory

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class WettingMatrix:
    """Cells × heads, in mm per minute; 1 L on 1 m² is 1 mm.

    Attributes:
        grid: the cells; rows of the matrix are its turf cells.
        heads: ids, the columns of the matrix.
        rate_mm_min: compressed by column.
        off_turf: share of each head's water that falls beside the turf, 0 to 1.
        keys: digest of all that each column depends on; equal keys mean equal columns.
    """

    grid: TurfGrid
    heads: NDArray[Any]
    rate_mm_min: sparse.csc_array
    off_turf: Numbers
    keys: tuple[str, ...]

    def by_station(self, stations: pd.Series[Any]) -> tuple[sparse.csc_array, tuple[str, ...]]:
        """The matrix by station: what all heads of each give together.

        Args:
            stations: station of each head, index = head id; heads without one are left out.

        Returns:
            Cells × stations [mm/min], and the ids of the stations, in order of first head.
        """
        of_head = stations.reindex(self.heads).to_numpy(dtype=object)
        known = np.array([isinstance(name, str) for name in of_head], dtype=bool)
        names, codes = np.unique(of_head[known].astype(str), return_inverse=True)
        picks = sparse.csc_array(
            (np.ones(known.sum()), (np.flatnonzero(known), codes)),
            shape=(len(of_head), len(names)),
        )
        return sparse.csc_array(self.rate_mm_min @ picks), tuple(str(name) for name in names)


def half_cells(radius_m: Numbers, cell_m: float) -> NDArray[np.int64]:
    """Cells from a head's own to the edge of the square that holds its throw."""
    return np.ceil(radius_m / cell_m + 0.5).astype(np.int64)


def samples_per_cell(radius_m: float, cell_m: float) -> int:
    """Samples along a cell's side, so that a short throw has `CELLS_PER_RADIUS` of them."""
    return max(1, int(np.ceil(CELLS_PER_RADIUS * cell_m / radius_m)))


def _stretch(patterns: HeadPatterns, east: Numbers, north: Numbers, away: Numbers) -> Numbers:
    """Throw of leaning heads towards each place over that of an upright one.

    A drag-free jet goes R = v² sin(2α)/g, so dR/R = 2 cot(2α) dα; a lean of τ changes the
    angle of the jet by −τ·cos(φ) towards φ from where the head leans to.
    """
    slope = 2.0 / np.tan(np.radians(2.0 * patterns.trajectory_deg))
    lean = np.radians(patterns.tilt_deg)
    towards = np.radians(patterns.tilt_towards_deg)
    part = (slope * lean)[:, None, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (
            east * np.sin(towards)[:, None, None] + north * np.cos(towards)[:, None, None]
        ) / away
    return np.asarray(np.clip(1.0 - part * np.nan_to_num(across), 0.2, 1.8), dtype=float)


def _in_sector(patterns: HeadPatterns, east: Numbers, north: Numbers, cell_m: float) -> Numbers:
    """Share of each sample that lies in the head's sector, edges smoothed over one sample."""
    half = np.radians(patterns.arc_deg / 2.0)[:, None, None]
    middle = np.radians(patterns.bearing_deg)[:, None, None]
    inside = []
    for edge, sign in ((middle - half, 1.0), (middle + half, -1.0)):
        # Distance to the line along the edge, positive on the sector's side of it.
        distance = sign * (east * np.cos(edge) - north * np.sin(edge))
        inside.append(np.clip(distance / cell_m + 0.5, 0.0, 1.0))
    wide = half > np.pi / 2.0
    within = np.where(wide, np.maximum(*inside), np.minimum(*inside))
    return np.where(half >= np.pi, 1.0, within)


def _weights(patterns: HeadPatterns, east: Numbers, north: Numbers, step_m: float) -> Numbers:
    """Density at samples, up to a factor of each head; shape (heads, rows, columns)."""
    away = np.hypot(east, north)
    throw = patterns.radius_m[:, None, None]
    if (patterns.tilt_deg > 0).any():
        throw = throw * _stretch(patterns, east, north, away)
    share = away / throw
    place = np.minimum(share, 1.0) * (NODES - 1)
    below = np.minimum(place.astype(np.int32), NODES - 2)
    table = np.stack([profile.density for profile in patterns.profiles])
    row = patterns.profile[:, None, None]
    low = table[row, below]
    density: Numbers = low + (place - below) * (table[row, below + 1] - low)
    density *= np.clip((throw - away) / step_m + 0.5, 0.0, 1.0)
    if (patterns.arc_deg < FULL_CIRCLE_DEG).any():
        density *= _in_sector(patterns, east, north, step_m)
    return density


def _patches(
    grid: TurfGrid, patterns: HeadPatterns, half: int
) -> tuple[Numbers, NDArray[np.int64], NDArray[np.int64]]:
    """Share of each head's water in the cells around it, and where those squares start.

    Returns:
        Shares (heads, n, n) that add up to 1 for each head, first row and first column.
    """
    cell, samples = grid.cell_m, samples_per_cell(float(patterns.radius_m.min()), grid.cell_m)
    column = np.floor((patterns.x_m - grid.left_m) / cell).astype(np.int64) - half
    row = np.floor((grid.top_m - patterns.y_m) / cell).astype(np.int64) - half
    west = grid.left_m + column * cell - patterns.x_m
    north = grid.top_m - row * cell - patterns.y_m
    places = np.arange(2 * half + 1) * cell
    total = np.zeros((len(patterns), len(places), len(places)))
    for sub_row in range(samples):
        for sub_column in range(samples):
            right = (sub_column + 0.5) / samples * cell
            down = (sub_row + 0.5) / samples * cell
            east_m = (west[:, None] + places + right)[:, None, :]
            north_m = (north[:, None] - places - down)[:, :, None]
            total += _weights(patterns, east_m, north_m, cell / samples)
    whole = total.sum(axis=(1, 2), keepdims=True)
    return total / np.where(whole > 0, whole, 1.0), row, column


@dataclass(frozen=True)
class _Columns:
    """Columns of some heads: per entry head (place), cell and rate; per head what is off."""

    head: NDArray[np.int64]
    cell: NDArray[np.int64]
    rate_mm_min: Numbers
    off_turf: Numbers


def _on_turf(grid: TurfGrid, flow_l_s: Numbers, shares: Numbers, row: Any, column: Any) -> _Columns:
    """The part of patches that lies on turf, as rates."""
    n = shares.shape[1]
    rows, columns = row[:, None] + np.arange(n), column[:, None] + np.arange(n)
    in_rows, in_columns = (
        (rows >= 0) & (rows < grid.rows),
        (columns >= 0) & (columns < grid.columns),
    )
    cell = grid.turf[
        np.clip(rows, 0, grid.rows - 1)[:, :, None],
        np.clip(columns, 0, grid.columns - 1)[:, None, :],
    ]
    wet = (cell >= 0) & in_rows[:, :, None] & in_columns[:, None, :] & (shares > 0)
    head = np.nonzero(wet)[0]
    part = shares[wet]
    rate = part * (flow_l_s * SECONDS_PER_MINUTE / grid.cell_m2)[head]
    on_turf = np.bincount(head, weights=part, minlength=len(flow_l_s))
    return _Columns(head, cell[wet].astype(np.int64), rate, np.clip(1.0 - on_turf, 0.0, 1.0))


def picked(patterns: HeadPatterns, which: NDArray[Any]) -> HeadPatterns:
    """The patterns of some heads, by place or mask."""
    arrays: dict[str, Any] = {name: getattr(patterns, name)[which] for name in ARRAYS}
    return replace(patterns, ids=patterns.ids[which], **arrays)


def _batches(grid: TurfGrid, patterns: HeadPatterns) -> Iterator[NDArray[np.int64]]:
    """Places of heads that are worked on at once: one size of patch, and not too many cells."""
    half = half_cells(patterns.radius_m * _longest_stretch(patterns), grid.cell_m)
    kind = half * 4 + 2 * (patterns.arc_deg < FULL_CIRCLE_DEG) + (patterns.tilt_deg > 0)
    for value in np.unique(kind):
        heads = np.flatnonzero(kind == value)
        most = max(1, _CHUNK_CELLS // int(2 * (value // 4) + 1) ** 2)
        for start in range(0, len(heads), most):
            yield heads[start : start + most]


def _longest_stretch(patterns: HeadPatterns) -> Numbers:
    slope = np.abs(2.0 / np.tan(np.radians(2.0 * patterns.trajectory_deg)))
    return np.minimum(1.0 + slope * np.radians(patterns.tilt_deg), 1.8)


def _built(grid: TurfGrid, patterns: HeadPatterns) -> tuple[sparse.csc_array, Numbers]:
    shape = (len(grid), len(patterns))
    off_turf = np.ones(len(patterns))
    if not len(grid) or not len(patterns):
        return sparse.csc_array(shape), off_turf
    heads, cells, rates = [], [], []
    for batch in _batches(grid, patterns):
        mine = picked(patterns, batch)
        half = int(half_cells(mine.radius_m * _longest_stretch(mine), grid.cell_m)[0])
        columns = _on_turf(grid, mine.flow_l_s, *_patches(grid, mine, half))
        heads.append(batch[columns.head])
        cells.append(columns.cell)
        rates.append(columns.rate_mm_min)
        off_turf[batch] = columns.off_turf
    entries = (np.concatenate(rates), (np.concatenate(cells), np.concatenate(heads)))
    return sparse.csc_array(entries, shape=shape), off_turf


def head_keys(grid: TurfGrid, patterns: HeadPatterns) -> tuple[str, ...]:
    """Digest of all that each head's column depends on: its pattern, its profile, the grid."""
    base = hashlib.sha256(f"{grid.left_m} {grid.top_m} {grid.cell_m} {grid.turf.shape}".encode())
    base.update(grid.turf.tobytes())
    profiles = [profile.density.tobytes() for profile in patterns.profiles]
    numbers = np.column_stack(
        [getattr(patterns, name).astype(float) for name in ARRAYS if name != "profile"]
    )
    keys = []
    for values, profile in zip(numbers, patterns.profile, strict=True):
        digest = base.copy()
        digest.update(values.tobytes())
        digest.update(profiles[profile])
        keys.append(digest.hexdigest())
    return tuple(keys)


def wetting_matrix(
    grid: TurfGrid, patterns: HeadPatterns, known: WettingMatrix | None = None
) -> WettingMatrix:
    """Lay every head's water on the cells, in still air.

    Each head's profile is sampled over the square that holds its throw and scaled so that
    all of it together is its flow; the part off the turf is then left out and told. So volume
    is kept exactly for any profile, arc and cell.

    Args:
        grid: the turf.
        patterns: the heads.
        known: an earlier matrix; columns with equal keys are taken from it.

    Returns:
        The matrix, columns in the order of the patterns.
    """
    keys = head_keys(grid, patterns)
    earlier = {key: place for place, key in enumerate(known.keys)} if known else {}
    old = np.array([earlier.get(key, -1) for key in keys], dtype=np.int64)
    if known is None or not (old >= 0).any():
        rate, off_turf = _built(grid, patterns)
        return WettingMatrix(grid, patterns.ids, rate, off_turf, keys)
    new = np.flatnonzero(old < 0)
    rate, off_new = _built(grid, picked(patterns, new))
    both = sparse.hstack([known.rate_mm_min, rate], format="csc")
    place = old.copy()
    place[new] = known.rate_mm_min.shape[1] + np.arange(len(new))
    off_turf = np.concatenate([known.off_turf, off_new])[place]
    return WettingMatrix(grid, patterns.ids, sparse.csc_array(both[:, place]), off_turf, keys)
