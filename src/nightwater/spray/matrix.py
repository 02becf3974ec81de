"""The wetting matrix: how fast each head wets each cell of the turf."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import ARRAYS, HeadPatterns
from nightwater.spray.patches import Patches, batches, patches
from nightwater.spray.patches import picked as picked
from nightwater.spray.wind import Wind, drift
from nightwater.units import SECONDS_PER_MINUTE

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class WettingMatrix:
    """Cells × heads, in mm per minute; 1 L on 1 m² is 1 mm.

    Attributes:
        grid: the cells; rows of the matrix are its turf cells.
        heads: ids, the columns of the matrix.
        rate_mm_min: compressed by column, float32.
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
            Cells × stations [mm/min], and the ids of the stations, in rising order.
        """
        of_head = stations.reindex(self.heads).to_numpy(dtype=object)
        known = np.array([isinstance(name, str) for name in of_head], dtype=bool)
        names, codes = np.unique(of_head[known].astype(str), return_inverse=True)
        picks = sparse.csc_array(
            (np.ones(known.sum(), dtype=np.float32), (np.flatnonzero(known), codes)),
            shape=(len(of_head), len(names)),
        )
        return sparse.csc_array(self.rate_mm_min @ picks), tuple(str(name) for name in names)


@dataclass(frozen=True)
class _Columns:
    """Columns of some heads one after the other: entries of each, their cell and rate."""

    counts: NDArray[np.int64]
    cell: NDArray[np.int32]
    rate_mm_min: NDArray[np.float32]
    off_turf: Numbers


def _on_turf(grid: TurfGrid, flow_l_s: Numbers, laid: Patches) -> _Columns:
    """The part of patches that lies on turf, as rates."""
    places = np.arange(laid.shares.shape[1])
    rows, columns = laid.row[:, None] + places, laid.column[:, None] + places
    in_rows, in_columns = (
        (rows >= 0) & (rows < grid.rows),
        (columns >= 0) & (columns < grid.columns),
    )
    cell = grid.turf[
        np.clip(rows, 0, grid.rows - 1)[:, :, None],
        np.clip(columns, 0, grid.columns - 1)[:, None, :],
    ]
    wet = (cell >= 0) & in_rows[:, :, None] & in_columns[:, None, :] & (laid.shares > 0)
    counts = np.count_nonzero(wet, axis=(1, 2))
    part = laid.shares[wet]
    rate = (flow_l_s * SECONDS_PER_MINUTE / grid.cell_m2).astype(np.float32)
    head = np.repeat(np.arange(len(flow_l_s)), counts)
    on_turf = np.bincount(head, weights=part, minlength=len(flow_l_s))
    off_turf = np.clip(1.0 - on_turf, 0.0, 1.0)
    return _Columns(counts, cell[wet], part * np.repeat(rate, counts), off_turf)


def _built(
    grid: TurfGrid, patterns: HeadPatterns, wind: Wind | None
) -> tuple[sparse.csc_array, Numbers]:
    shape = (len(grid), len(patterns))
    off_turf = np.ones(len(patterns))
    if not len(grid) or not len(patterns):
        return sparse.csc_array(shape, dtype=np.float32), off_turf
    found = drift(patterns, wind) if wind is not None and wind.key else None
    counts = np.zeros(len(patterns), dtype=np.int64)
    parts = []
    margins = found.margins(grid.cell_m) if found is not None else 0
    for batch in batches(grid, patterns, margins):
        mine = picked(patterns, batch.heads)
        bend = found.bend(batch.heads) if found is not None else None
        laid = patches(grid, mine, batch.half, batch.samples, bend)
        columns = _on_turf(grid, mine.flow_l_s, laid)
        counts[batch.heads] = columns.counts
        off_turf[batch.heads] = columns.off_turf
        parts.append((batch.heads, columns))
    return _assembled(shape, counts, parts), off_turf


def _assembled(
    shape: tuple[int, int], counts: NDArray[np.int64], parts: list[tuple[Any, _Columns]]
) -> sparse.csc_array:
    """The columns of all batches, each at its head's place."""
    starts = np.concatenate([[0], np.cumsum(counts)])
    cell = np.empty(starts[-1], dtype=np.int32)
    rate = np.empty(starts[-1], dtype=np.float32)
    for heads, columns in parts:
        own = np.concatenate([[0], np.cumsum(columns.counts)])
        for place, head in enumerate(heads):
            to, of = slice(starts[head], starts[head + 1]), slice(own[place], own[place + 1])
            cell[to], rate[to] = columns.cell[of], columns.rate_mm_min[of]
    matrix = sparse.csc_array((rate, cell, starts.astype(np.int32)), shape=shape)
    matrix.has_sorted_indices = True  # a square is walked row by row, as turf cells are numbered
    return matrix


def head_keys(grid: TurfGrid, patterns: HeadPatterns, wind: Wind | None = None) -> tuple[str, ...]:
    """Digest of all that each column depends on: the head's pattern, profile, grid and wind."""
    base = hashlib.sha256(f"{grid.left_m} {grid.top_m} {grid.cell_m} {grid.turf.shape}".encode())
    base.update(grid.turf.tobytes())
    base.update(wind.key.encode() if wind is not None else b"")
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
    grid: TurfGrid,
    patterns: HeadPatterns,
    known: WettingMatrix | None = None,
    wind: Wind | None = None,
) -> WettingMatrix:
    """Lay every head's water on the cells, in still air or in a wind.

    Each head's profile is sampled over the square that holds its throw and scaled so that
    all of it together is its flow; the part off the turf is then left out and told. So volume
    is kept exactly for any profile, arc and cell.

    Args:
        grid: the turf.
        patterns: the heads.
        known: an earlier matrix; columns with equal keys are taken from it.
        wind: the wind while the heads run; None or 0 m/s for still air. Water only moves:
            what evaporates is a matter of `losses`.

    Returns:
        The matrix, columns in the order of the patterns.
    """
    keys = head_keys(grid, patterns, wind)
    earlier = {key: place for place, key in enumerate(known.keys)} if known else {}
    old = np.array([earlier.get(key, -1) for key in keys], dtype=np.int64)
    if known is None or not (old >= 0).any():
        rate, off_turf = _built(grid, patterns, wind)
        return WettingMatrix(grid, patterns.ids, rate, off_turf, keys)
    new = np.flatnonzero(old < 0)
    rate, off_new = _built(grid, picked(patterns, new), wind)
    both = sparse.hstack([known.rate_mm_min, rate], format="csc")
    place = old.copy()
    place[new] = known.rate_mm_min.shape[1] + np.arange(len(new))
    off_turf = np.concatenate([known.off_turf, off_new])[place]
    return WettingMatrix(grid, patterns.ids, sparse.csc_array(both[:, place]), off_turf, keys)
