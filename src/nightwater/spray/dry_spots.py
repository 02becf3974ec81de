"""Dry spots: where turf lacks much of its need, and what of it each repair would bring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from nightwater.ground.settings import FixRules
from nightwater.spray.evidence import Evidence
from nightwater.spray.grid import TurfGrid

GAP: Final = "pattern-gap"
MINUTES: Final = "few-minutes"
WIND: Final = "wind"
SLOPE: Final = "slope"
SOIL: Final = "soil"
UNREACHED: Final = 0.05  # rate over the mean of the kind: below it hardly a drop falls

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Dry:
    """The dry spots of a map.

    Attributes:
        grid: the turf.
        lack_mm: what each turf cell lacks of its need, 0 or more.
        spot: of each turf cell, its place in the table, -1 outside.
        table: one row per spot, reached ones and the most lacking first: area (id), area_m2,
            lacking_l, x_m, y_m (its cell nearest its middle), need_mm and depth_mm (means),
            reached (whether any head throws there).
    """

    grid: TurfGrid
    lack_mm: Numbers
    spot: NDArray[np.int64]
    table: pd.DataFrame


@dataclass(frozen=True)
class Supposed:
    """A map with one cause taken away.

    Attributes:
        cause: its code.
        depth_mm: of each turf cell.
        heads: ids of the heads that were repaired, columns of `gain`.
        gain_mm: what each brings to each cell, cells × heads.
        evidence: of each head.
    """

    cause: str
    depth_mm: Numbers
    heads: tuple[str, ...] = ()
    gain_mm: sparse.csc_array | None = None
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True)
class Cause:
    """Why a spot is dry.

    Attributes:
        spot: place of the spot in its table.
        code: what is wrong.
        score: share of the lacking litres that vanishes with the cause, 0 to 1; NaN for what
            makes it worse by no number of litres.
        heads: ids of the heads to repair, the one that brings most first.
        evidence: why we think so.
    """

    spot: int
    code: str
    score: float
    heads: tuple[str, ...]
    evidence: tuple[Evidence, ...]


def _touching(
    grid: TurfGrid, dry: NDArray[np.bool_], reached: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """Cluster of each turf cell: dry cells of one area that share a side or a corner."""
    owner = np.full((grid.rows + 2, grid.columns + 2), -1, dtype=np.int64)
    owner[grid.row[dry] + 1, grid.column[dry] + 1] = np.flatnonzero(dry)
    here = np.flatnonzero(dry)
    pairs = []
    for down, right in ((0, 1), (1, -1), (1, 0), (1, 1)):
        other = owner[grid.row[here] + 1 + down, grid.column[here] + 1 + right]
        joined = (other >= 0) & (grid.area[here] == grid.area[other])
        joined &= reached[here] == reached[other]
        pairs.append(np.stack([here[joined], other[joined]]))
    one, other = np.concatenate(pairs, axis=1)
    graph = sparse.coo_array((np.ones(len(one)), (one, other)), shape=(len(grid), len(grid)))
    labels = connected_components(graph, directed=False)[1].astype(np.int64)
    return np.where(dry, labels, -1)


def _middles(grid: TurfGrid, spot: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """The turf cell of each spot that is nearest to the middle of its cells."""
    cells = np.flatnonzero(spot >= 0)
    owner = spot[cells]
    size = np.bincount(owner, minlength=count)
    middle = [
        np.bincount(owner, place[cells].astype(float), count) / size
        for place in (grid.row, grid.column)
    ]
    away = np.hypot(grid.row[cells] - middle[0][owner], grid.column[cells] - middle[1][owner])
    order = np.lexsort((away, owner))
    first = np.concatenate(([0], np.cumsum(size)[:-1]))
    return np.asarray(cells[order[first]], dtype=np.int64)


def find_dry(
    grid: TurfGrid,
    depth_mm: Numbers,
    need_mm: Numbers,
    reach: Numbers,
    rules: FixRules | None = None,
) -> Dry:
    """Contiguous turf of one area that lacks much of its need.

    Turf that hardly a drop reaches makes spots of its own: it was never meant to be watered, or
    a head is missing there.

    Args:
        grid: the turf.
        depth_mm, need_mm: of each turf cell; where the need is NaN or 0 nothing is lacking.
        reach: rate of all heads over the mean of the kind of area, of each turf cell.
        rules: what counts as dry, and the least size; the defaults where none are given.

    Returns:
        The spots; those that some head reaches first, then the most lacking first.
    """
    chosen = rules or FixRules()
    reached = reach >= UNREACHED
    lack = np.nan_to_num(np.maximum(need_mm - depth_mm, 0.0))
    dry = (lack > 0) & (lack >= chosen.least_lack_share * np.nan_to_num(need_mm))
    cluster = _touching(grid, dry, reached)
    size = np.bincount(cluster[dry], minlength=len(grid))
    litres = np.bincount(cluster[dry], lack[dry], minlength=len(grid)) * grid.cell_m2
    large = np.flatnonzero((size > 0) & (size * grid.cell_m2 >= chosen.least_m2))
    beyond = np.bincount(cluster[dry], ~reached[dry], minlength=len(grid)) > 0
    large = large[np.lexsort((-litres[large], beyond[large]))]
    place = np.full(len(grid) + 1, -1, dtype=np.int64)  # the last one for cells in no cluster
    place[large] = np.arange(len(large))
    spot = place[cluster]
    table = _table(grid, spot, len(large), lack, (depth_mm, need_mm))
    return Dry(grid, lack, spot, table.assign(reached=~beyond[large]))


def _table(
    grid: TurfGrid,
    spot: NDArray[np.int64],
    count: int,
    lack: Numbers,
    maps: tuple[Numbers, Numbers],
) -> pd.DataFrame:
    inside = spot >= 0
    owner = spot[inside]
    size = np.bincount(owner, minlength=count)
    middle = _middles(grid, spot, count) if count else np.empty(0, np.int64)
    depth, need = (np.bincount(owner, values[inside], count) / size for values in maps)
    return pd.DataFrame(
        {
            "area": [grid.areas[place] for place in grid.area[middle]],
            "area_m2": size * grid.cell_m2,
            "lacking_l": np.bincount(owner, lack[inside], count) * grid.cell_m2,
            "x_m": grid.x_m[middle],
            "y_m": grid.y_m[middle],
            "need_mm": need,
            "depth_mm": depth,
        }
    )


def vanishing_share(dry: Dry, depth_mm: Numbers, need_mm: Numbers) -> Numbers:
    """Share of each spot's lacking litres that another depth would bring, 0 to 1.

    Args:
        dry: the spots.
        depth_mm: of each turf cell, with the cause taken away.
        need_mm: of each turf cell.

    Returns:
        Shape (spots,); what gets drier in one cell is taken off what gets wetter in another.
    """
    inside = dry.spot >= 0
    after = np.nan_to_num(np.maximum(need_mm[inside] - depth_mm[inside], 0.0))
    left = np.bincount(dry.spot[inside], after, len(dry.table))
    lacking = np.bincount(dry.spot[inside], dry.lack_mm[inside], len(dry.table))
    return np.clip(1.0 - left / lacking, 0.0, 1.0)


def gap_share(dry: Dry, left_mm: Numbers, reach: Numbers, rules: FixRules) -> Numbers:
    """Share of each spot's lacking litres that no repair of a head brings, as none reaches there.

    Args:
        dry: the spots.
        left_mm: what each turf cell still lacks once every head is repaired.
        reach: rate of all repaired heads over the mean of the kind of area.
        rules: from which reach on there is no gap.
    """
    inside = dry.spot >= 0
    gap = np.where(reach < rules.gap_reach, np.minimum(left_mm, dry.lack_mm), 0.0)
    lost = np.bincount(dry.spot[inside], gap[inside], len(dry.table))
    lacking = np.bincount(dry.spot[inside], dry.lack_mm[inside], len(dry.table))
    return np.asarray(lost / lacking, dtype=float)


def _gainers(dry: Dry, supposed: Supposed) -> list[NDArray[np.int64]]:
    """Of each spot, the places of the heads whose repair brings it water, the most first."""
    if supposed.gain_mm is None:
        return [np.empty(0, np.int64)] * len(dry.table)
    inside = np.flatnonzero(dry.spot >= 0)
    to_spot = sparse.csr_array(
        (np.ones(len(inside)), (dry.spot[inside], inside)), shape=(len(dry.table), len(dry.grid))
    )
    gain = np.asarray((to_spot @ supposed.gain_mm).todense())
    return [np.argsort(-row, kind="stable")[: int((row > 1e-6).sum())] for row in gain]


def _words(score: float) -> Evidence:
    return Evidence(f"without it {score:.0%} of what is missing would be there")


def causes_of(
    dry: Dry,
    need_mm: Numbers,
    supposed: Sequence[Supposed],
    least_score: float = 0.02,
) -> list[Cause]:
    """The causes of each spot that a map with the cause taken away tells of.

    Args:
        dry: the spots.
        need_mm: of each turf cell.
        supposed: maps without one cause each.
        least_score: causes that bring less are not told.
    """
    found = []
    for one in supposed:
        shares = vanishing_share(dry, one.depth_mm, need_mm)
        gainers = _gainers(dry, one)
        for spot in np.flatnonzero(shares >= least_score):
            heads = tuple(one.heads[place] for place in gainers[spot])
            told = tuple(one.evidence[place] for place in gainers[spot])
            score = float(shares[spot])
            found.append(Cause(int(spot), one.cause, score, heads, (*told, _words(score))))
    return found


def gap_causes(shares: Numbers, evidence: Sequence[Evidence], least: float = 0.02) -> list[Cause]:
    """Gaps as causes: `gap_share` of each spot, with what is known of the heads around it."""
    return [
        Cause(int(spot), GAP, float(shares[spot]), (), (evidence[int(spot)],))
        for spot in np.flatnonzero(shares >= least)
    ]


def ranked(causes: Sequence[Cause], spots: int) -> list[tuple[Cause, ...]]:
    """Causes by spot, the one with the highest score first; what makes it worse comes last."""
    lists: list[list[Cause]] = [[] for _ in range(spots)]
    for cause in causes:
        lists[cause.spot].append(cause)
    key: Any = lambda one: (np.isnan(one.score), -np.nan_to_num(one.score), one.code)  # noqa: E731
    return [tuple(sorted(one, key=key)) for one in lists]
