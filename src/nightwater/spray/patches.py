"""One head's water on the square of cells around it, before anything is known of turf."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import ARRAYS, HeadPatterns
from nightwater.spray.profile import NODES
from nightwater.spray.rate import FULL_CIRCLE_DEG

CELLS_PER_RADIUS: Final = 10  # at least so many samples along the throw
CELLS_ACROSS: Final = 3  # and across a sector, halfway out
_CHUNK_CELLS: Final = 150_000  # of patches worked on at once; bounds the memory, fits a cache
_TURN: Final = np.float32(2.0 * np.pi)

Numbers = NDArray[np.float64]
Singles = NDArray[np.float32]
# Places east and north of heads into those where their water falls in still air, and how many
# m² there a m² here stands for.
Bend = Callable[[Singles, Singles], tuple[Singles, Singles, Singles]]


@dataclass(frozen=True)
class Patches:
    """Squares of cells around some heads, with the share of each head's water in each cell.

    Attributes:
        shares: shape (heads, n, n); they add up to 1 for each head.
        row, column: of each square's first cell, in the grid's rows and columns.
        sampled: volume of the samples over the head's flow before the shares were scaled; how
            far it is from 1 tells how coarse the cells are for the head.
    """

    shares: Singles
    row: NDArray[np.int64]
    column: NDArray[np.int64]
    sampled: Numbers


@dataclass(frozen=True)
class Batch:
    """Heads that are worked on at once.

    Attributes:
        heads: their places among the patterns.
        half: cells from a head's own to the edge of its square.
        samples: samples along a cell's side.
    """

    heads: NDArray[np.int64]
    half: int
    samples: int


def half_cells(radius_m: Numbers, cell_m: float) -> NDArray[np.int64]:
    """Cells from a head's own to the edge of the square that holds its throw."""
    return np.ceil(radius_m / cell_m + 0.5).astype(np.int64)


def samples_per_cell(
    radius_m: Numbers, cell_m: float, arc_deg: Numbers | float = FULL_CIRCLE_DEG
) -> NDArray[np.int64]:
    """Samples along a cell's side, enough along each throw and across each sector."""
    along = CELLS_PER_RADIUS * cell_m / radius_m
    across = 2.0 * CELLS_ACROSS * cell_m / (radius_m * np.radians(arc_deg))
    return np.maximum(1, np.ceil(np.maximum(along, across))).astype(np.int64)


def picked(patterns: HeadPatterns, which: NDArray[Any]) -> HeadPatterns:
    """The patterns of some heads, by place or mask."""
    arrays: dict[str, Any] = {name: getattr(patterns, name)[which] for name in ARRAYS}
    return replace(patterns, ids=patterns.ids[which], **arrays)


def longest_throw_m(patterns: HeadPatterns) -> Numbers:
    """Longest throw of each head on any side; leaning heads throw farther on one [m]."""
    least = patterns.trajectory_deg - patterns.tilt_deg
    best = np.clip(45.0, least, least + 2.0 * patterns.tilt_deg)
    with np.errstate(divide="ignore", invalid="ignore"):
        stretch = _range(best) / _range(patterns.trajectory_deg)
    return np.where(patterns.tilt_deg > 0, patterns.radius_m * stretch, patterns.radius_m)


def _range(trajectory_deg: Any) -> Any:
    """Range of a drag-free jet over level ground, up to v²/g."""
    return np.sin(np.radians(2.0 * trajectory_deg))


def batches(
    grid: TurfGrid, patterns: HeadPatterns, margins: NDArray[np.int64] | int = 0
) -> Iterator[Batch]:
    """Heads by the size and sampling of their squares, not too many cells at once.

    A head's size and sampling hang on itself alone, so that its column is the same whatever
    other heads are built with it.

    Args:
        grid: gives the cells' size.
        patterns: the heads.
        margins: cells by which the square of each head grows, as a wind asks.
    """
    kinds = np.column_stack(
        [
            half_cells(longest_throw_m(patterns), grid.cell_m) + margins,
            samples_per_cell(patterns.radius_m, grid.cell_m, patterns.arc_deg),
            patterns.arc_deg < FULL_CIRCLE_DEG,
            patterns.tilt_deg > 0,
        ]
    )
    values, kind_of = np.unique(kinds, axis=0, return_inverse=True)
    kind_of = kind_of.ravel()
    for kind, (half, samples, _, _) in enumerate(values.tolist()):
        heads = np.flatnonzero(kind_of == kind)
        most = max(1, _CHUNK_CELLS // (2 * half + 1) ** 2)
        for start in range(0, len(heads), most):
            yield Batch(heads[start : start + most], half, samples)


def _single(values: Numbers) -> Singles:
    """One value a head, to go with arrays of shape (heads, rows, columns)."""
    return values.astype(np.float32)[:, None, None]


def lean_stretch(trajectory_deg: Any, tilt_deg: Any, across: Any) -> Any:
    """Throw of a leaning head in a direction over that of an upright one.

    A drag-free jet goes v² sin(2α)/g; a lean of τ lowers the jet's angle α by τ·cos φ, φ being
    the direction from where the head leans to.

    Args:
        trajectory_deg: α [degrees], any shape.
        tilt_deg: τ [degrees].
        across: cos φ. All three broadcast.

    Reference: range of a projectile; the angle's change is that of first order in τ.
    """
    return _range(trajectory_deg - tilt_deg * across) / _range(trajectory_deg)


def _stretch(patterns: HeadPatterns, east: Singles, north: Singles, away: Singles) -> Singles:
    towards = np.radians(patterns.tilt_towards_deg)
    across = east * _single(np.sin(towards)) + north * _single(np.cos(towards))
    across /= np.where(away > 0, away, 1.0)
    stretch = lean_stretch(_single(patterns.trajectory_deg), _single(patterns.tilt_deg), across)
    return np.asarray(stretch, dtype=np.float32)


def _in_sector(patterns: HeadPatterns, east: Singles, north: Singles, share: Singles) -> Singles:
    """Share of each sample that lies in the head's sector.

    A sample spans an angle, the wider the nearer it lies; the share is the part of that angle
    within the sector, on both ways round.

    Args:
        share: side of a sample over its distance from the head.
    """
    half = _single(np.radians(patterns.arc_deg / 2.0))
    middle = _single(np.radians(patterns.bearing_deg))
    off = np.abs((np.arctan2(east, north) - middle + 1.5 * _TURN) % _TURN - 0.5 * _TURN)
    span = np.minimum(share, _TURN)
    near = np.minimum(off + span / 2, half) - np.maximum(off - span / 2, -half)
    behind = off + span / 2 - (_TURN - half)
    covered = np.maximum(near, 0.0) + np.maximum(behind, 0.0)
    return np.asarray(np.minimum(covered / span, 1.0), dtype=np.float32)


def _densities(patterns: HeadPatterns, share: Singles) -> Singles:
    """Profile of each head at shares of its throw; 0 beyond."""
    table = np.stack([profile.density for profile in patterns.profiles]).astype(np.float32)
    place = np.minimum(share, 1.0) * np.float32(NODES - 1)
    below = np.minimum(place.astype(np.int32), NODES - 2)
    place -= below
    below += (patterns.profile * NODES).astype(np.int32)[:, None, None]
    flat = table.ravel()
    density = flat[below]
    below += 1
    density += place * (flat[below] - density)
    return density


def _weights(patterns: HeadPatterns, east: Singles, north: Singles, step_m: float) -> Singles:
    """Share of each head's water in each sample; shape (heads, rows, columns)."""
    away: Singles = np.hypot(east, north)
    throw = _single(patterns.radius_m)
    if (patterns.tilt_deg > 0).any():
        throw = throw * _stretch(patterns, east, north, away)
    part: Singles = away / throw
    density = _densities(patterns, part)
    density *= np.clip((throw - away) / np.float32(step_m) + np.float32(0.5), 0.0, 1.0)
    # As much water goes in every direction of the sector, so a longer throw lays it thinner.
    density *= np.square(np.float32(step_m) / throw)
    if (patterns.arc_deg < FULL_CIRCLE_DEG).any():
        with np.errstate(divide="ignore"):
            wide: Singles = np.float32(step_m) / away
            density *= _in_sector(patterns, east, north, wide)
        density *= _single(FULL_CIRCLE_DEG / patterns.arc_deg)
    return density


def _bent_weights(
    patterns: HeadPatterns, east: Singles, north: Singles, step_m: float, bend: Bend | None
) -> Singles:
    if bend is None:
        return _weights(patterns, east, north, step_m)
    from_east, from_north, thinned = bend(east, north)
    return _weights(patterns, from_east, from_north, step_m) * thinned


def patches(
    grid: TurfGrid, patterns: HeadPatterns, half: int, samples: int, bend: Bend | None = None
) -> Patches:
    """Lay the water of heads on the squares around them.

    Args:
        grid: gives the cells' size and places; its turf does not matter here.
        patterns: heads of one `Batch`.
        half, samples: of the batch.
        bend: of a wind; None for still air.
    """
    cell = grid.cell_m
    column = np.floor((patterns.x_m - grid.left_m) / cell).astype(np.int64) - half
    row = np.floor((grid.top_m - patterns.y_m) / cell).astype(np.int64) - half
    west = grid.left_m + column * cell - patterns.x_m
    north = grid.top_m - row * cell - patterns.y_m
    places = np.arange(2 * half + 1) * cell
    total = np.zeros((len(patterns), len(places), len(places)), dtype=np.float32)
    for sub_row in range(samples):
        for sub_column in range(samples):
            right = (sub_column + 0.5) / samples * cell
            down = (sub_row + 0.5) / samples * cell
            east_m = (west[:, None] + places + right)[:, None, :].astype(np.float32)
            north_m = (north[:, None] - places - down)[:, :, None].astype(np.float32)
            total += _bent_weights(patterns, east_m, north_m, cell / samples, bend)
    sampled = total.sum(axis=(1, 2), dtype=np.float64)
    total /= np.where(sampled > 0, sampled, 1.0).astype(np.float32)[:, None, None]
    return Patches(total, row, column, sampled)


def sampled_volumes(grid: TurfGrid, patterns: HeadPatterns) -> Numbers:
    """Volume of each head's samples over its flow, before scaling; 1 would need no scaling.

    Args:
        grid: gives the size and places of the cells.
        patterns: the heads.
    """
    found = np.full(len(patterns), np.nan)
    for batch in batches(grid, patterns):
        mine = picked(patterns, batch.heads)
        found[batch.heads] = patches(grid, mine, batch.half, batch.samples).sampled
    return found
