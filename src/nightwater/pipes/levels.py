"""Ground level of every node, from what levels the record has."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from nightwater.findings import Finding, note, warning
from nightwater.ground.record import Ground
from nightwater.pipes.joints import Stretches

_NEAREST: Final = 4
_LEAST_M: Final = 0.5  # nearer than this counts as this near
_FAR_M: Final = 100.0

Numbers = NDArray[np.float64]


def _pipe_levels(ground: Ground) -> tuple[Numbers, Numbers]:
    """Places (n, 2) and levels of the ends of pipes that have them."""
    lines = np.asarray(ground.pipes["geometry"], dtype=object)
    places, levels = [], []
    for column, at in (("start_elevation_m", 0), ("end_elevation_m", -1)):
        level = ground.pipes[column].to_numpy(dtype=float)
        for line, value in zip(lines, level, strict=True):
            if np.isfinite(value) and line is not None and not line.is_empty:
                places.append(shapely.get_coordinates(line)[at])
                levels.append(value)
    return np.array(places).reshape(-1, 2), np.array(levels)


def _point_levels(ground: Ground, table: str) -> tuple[Numbers, Numbers]:
    frame = ground.table(table)
    shapes = np.asarray(frame["geometry"], dtype=object)
    level = frame["elevation_m"].to_numpy(dtype=float)
    there = np.isfinite(level) & ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return shapely.get_coordinates(shapes[there]).reshape(-1, 2), level[there]


def known_levels(ground: Ground) -> tuple[Numbers, Numbers]:
    """Places [m], shape (n, 2), and levels [m] that the record states of heads, pumps, pipes."""
    parts = [_pipe_levels(ground), *(_point_levels(ground, name) for name in ("heads", "pumps"))]
    return np.vstack([places for places, _ in parts]), np.concatenate([z for _, z in parts])


def levels_at(places: Numbers, known: Numbers, levels: Numbers) -> Numbers:
    """Level of each place: the mean of the four nearest known ones, by 1 / distance².

    Args:
        places: shape (n, 2) [m].
        known: where levels are known, shape (m, 2).
        levels: what they are [m]; without any, all is level at 0 m.
    """
    if not len(known):
        return np.zeros(len(places))
    count = min(_NEAREST, len(known))
    found_m, found_row = cKDTree(known).query(places, k=count)
    away, row = np.reshape(found_m, (-1, count)), np.reshape(found_row, (-1, count))
    weight = 1 / np.maximum(away, _LEAST_M) ** 2
    mean: Numbers = (weight * levels[row]).sum(axis=1) / weight.sum(axis=1)
    # One that is at hand is it, not a quarter of a mean.
    return np.where(away[:, 0] < _LEAST_M, levels[row[:, 0]], mean)


def level_findings(ground: Ground, stretches: Stretches) -> list[Finding]:
    """What is doubtful about the levels of a record with pipes."""
    known, levels = known_levels(ground)
    if not len(levels):
        return [
            warning(
                "ground-taken-level",
                "heads:*",
                "No head, pump or pipe has a level, so the ground is taken as flat; each metre "
                "up or down is worth 9.8 kPa.",
                "Survey levels, or read them from a raster of heights.",
            )
        ]
    ends = shapely.get_coordinates(shapely.get_point(stretches.lines, 0))
    away, _ = cKDTree(known).query(ends)
    far = int(np.count_nonzero(np.asarray(away) > _FAR_M))
    if not far:
        return []
    return [
        note(
            "levels-far-away",
            "pipes:*",
            f"{far} of {len(ends)} joints lie more than {_FAR_M:.0f} m from any known level; "
            "theirs is a mean of far ones.",
            "Read levels of heads and joints from a raster of heights.",
        )
    ]
