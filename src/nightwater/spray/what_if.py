"""What a change of heads does to a piece of turf: numbers before and after, and both maps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import ARRAYS, HeadPatterns
from nightwater.spray.matrix import picked, wetting_matrix
from nightwater.spray.uniformity import christiansen_cu, du_lq
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

MOST_FACTOR: Final = 8.0  # on minutes; beyond it a run time means nothing any more
_ROUNDING_MM: Final = 1e-9

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Scene:
    """The ground that a question is about, as it is.

    Attributes:
        grid: its cells.
        need_mm: need of each cell; NaN where not known.
        depth_mm: what each gets at the minutes in question.
        rate_mm_min: while every head runs.
        water_l: what is thrown there at those minutes; what is counted is the caller's choice.
    """

    grid: TurfGrid
    need_mm: Numbers
    depth_mm: Numbers
    rate_mm_min: Numbers
    water_l: float


@dataclass(frozen=True)
class SceneFigures:
    """How a piece of turf is watered.

    Attributes:
        rate_mm_h: mean of all heads together.
        depth_mm: mean.
        du_lq, cu: of the depths; NaN where nothing falls.
        adequacy: share of the cells of known need that get it; NaN where none is known.
        lacking_l: what they lack together.
        water_l: what is thrown.
        equal_water_l: what would be thrown if all minutes were scaled until the cells lack as
            much as they do before the change; NaN where no factor up to 8 does it.
    """

    rate_mm_h: float
    depth_mm: float
    du_lq: float
    cu: float
    adequacy: float
    lacking_l: float
    water_l: float
    equal_water_l: float


@dataclass(frozen=True)
class WhatIf:
    """A change and what it does.

    Attributes:
        changed: ids of the heads whose patterns differ.
        before, after: the figures.
        depth_before_mm, depth_after_mm: of each cell.
    """

    changed: tuple[str, ...]
    before: SceneFigures
    after: SceneFigures
    depth_before_mm: Numbers
    depth_after_mm: Numbers


def lacking_l(depth_mm: ArrayLike, need_mm: ArrayLike, cell_m2: float) -> float:
    """Litres that cells lack of their need; a cell whose need is NaN lacks nothing.

    Args:
        depth_mm, need_mm: of each cell, one shape.
        cell_m2: ground of one cell.
    """
    lack = np.asarray(need_mm, dtype=float) - np.asarray(depth_mm, dtype=float)
    return float(np.nansum(np.maximum(lack, 0.0))) * cell_m2


def equal_shortage_factor(depth_mm: Numbers, need_mm: Numbers, lack_mm: float) -> float:
    """Factor on all minutes at which cells lack a given depth together.

    What they lack falls with the factor in straight pieces, so that there is one answer
    wherever there is one.

    Args:
        depth_mm, need_mm: of each cell, one shape; cells of NaN need do not count.
        lack_mm: what they shall lack, summed over the cells.

    Returns:
        The factor; NaN where none between 0 and `MOST_FACTOR` gives it.
    """
    known = np.isfinite(need_mm) & (need_mm > 0)
    depth, need = depth_mm[known], need_mm[known]

    def too_much(factor: float) -> float:
        return float(np.maximum(need - factor * depth, 0.0).sum()) - lack_mm

    if not known.any() or too_much(0.0) < 0 or too_much(MOST_FACTOR) > 0:
        return float("nan")
    return float(brentq(too_much, 0.0, MOST_FACTOR, xtol=1e-9))


def _rows(patterns: HeadPatterns) -> pd.DataFrame:
    """All that a head's water depends on, as one table; profiles by what they are."""
    columns = {name: getattr(patterns, name) for name in ARRAYS if name != "profile"}
    shapes = [profile.density.tobytes() for profile in patterns.profiles]
    columns["shape"] = np.array([shapes[place] for place in patterns.profile], dtype=object)
    return pd.DataFrame(columns, index=patterns.ids)


def changed_heads(before: HeadPatterns, after: HeadPatterns) -> tuple[str, ...]:
    """Ids of the heads that are in one only, or whose water lands otherwise."""
    old, new = _rows(before), _rows(after)
    both = old.index.intersection(new.index)
    differ = (old.loc[both] != new.loc[both]).any(axis=1)
    alone = old.index.symmetric_difference(new.index)
    return tuple(str(name) for name in [*both[differ.to_numpy()], *alone])


def thrown(
    grid: TurfGrid, patterns: HeadPatterns, minutes: pd.Series[float], ids: NDArray[Any]
) -> tuple[Numbers, Numbers, float]:
    """What some heads lay on a grid: depth [mm], rate [mm/min], and what they throw [L]."""
    mine = picked(patterns, np.flatnonzero(np.isin(patterns.ids, ids)))
    if not len(mine) or not len(grid):
        return np.zeros(len(grid)), np.zeros(len(grid)), 0.0
    laid = wetting_matrix(grid, mine).rate_mm_min
    run = minutes.reindex(mine.ids).fillna(0.0).to_numpy(dtype=float)
    water = float(mine.flow_l_s @ run) * SECONDS_PER_MINUTE
    rate = np.asarray(laid.sum(axis=1), dtype=float).ravel()
    return np.asarray(laid @ run, dtype=float), rate, water


def _figures(scene: Scene, lack_before_mm: float) -> SceneFigures:
    depth, need = scene.depth_mm, scene.need_mm
    known = np.isfinite(need) & (need > 0)
    served = depth[known] >= need[known] - _ROUNDING_MM
    factor = equal_shortage_factor(depth, need, lack_before_mm)
    wet = bool(depth.sum() > 0)
    return SceneFigures(
        rate_mm_h=float(scene.rate_mm_min.mean()) * MINUTES_PER_HOUR if len(depth) else np.nan,
        depth_mm=float(depth.mean()) if len(depth) else np.nan,
        du_lq=du_lq(depth) if wet else np.nan,
        cu=christiansen_cu(depth) if wet else np.nan,
        adequacy=float(served.mean()) if known.any() else np.nan,
        lacking_l=lacking_l(depth, need, scene.grid.cell_m2),
        water_l=scene.water_l,
        equal_water_l=scene.water_l * factor,
    )


def what_if(
    scene: Scene,
    before: HeadPatterns,
    after: HeadPatterns,
    run_min: tuple[pd.Series[float], pd.Series[float]],
) -> WhatIf:
    """What a change of heads does to the turf of a scene, at the same minutes.

    Only the heads that changed are laid anew, and only on the scene's cells; still air.

    Args:
        scene: the turf as it is.
        before, after: patterns of all heads, or of all that can reach the scene.
        run_min: minutes of each head [min] before and after, index = head id; a head that is
            not named does not run.

    Returns:
        Figures and depths; equal water is held against what the scene lacks before.
    """
    changed = np.array(changed_heads(before, after), dtype=object)
    moved = (
        run_min[0].reindex(before.ids).fillna(0.0).ne(run_min[1].reindex(before.ids).fillna(0.0))
    )
    ids = np.unique(np.concatenate([changed, before.ids[moved.to_numpy()]]).astype(str))
    out = thrown(scene.grid, before, run_min[0], ids)
    into = thrown(scene.grid, after, run_min[1], ids)
    depth = np.maximum(scene.depth_mm - out[0] + into[0], 0.0)
    rate = np.maximum(scene.rate_mm_min - out[1] + into[1], 0.0)
    later = Scene(scene.grid, scene.need_mm, depth, rate, scene.water_l - out[2] + into[2])
    lack = lacking_l(scene.depth_mm, scene.need_mm, 1.0)
    return WhatIf(tuple(ids), _figures(scene, lack), _figures(later, lack), scene.depth_mm, depth)
