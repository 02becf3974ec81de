"""How evenly a map of depths lies on groups of cells: areas, holes, stations, the course."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

Numbers = NDArray[np.float64]
Groups = NDArray[np.int64]

LOW_QUARTER: Final = 0.25
LOW_HALF: Final = 0.5
RATIO_STEP: Final = 0.1  # of the mean, one bar of a densogram
RATIO_BARS: Final = 20  # up to twice the mean; one more bar holds the rest
_WHOLE: Final = 1e-9  # so that a quarter of 8 cells is 2 in spite of rounding


@dataclass(frozen=True)
class Evenness:
    """Figures of groups of cells; arrays with one value for each group.

    A group without cells, with a missing or negative depth, or with none at all has no
    uniformity: NaN.

    Attributes:
        cells: how many.
        mean: mean depth, in the unit of the depths.
        du_lq, du_lh: low-quarter and low-half distribution uniformity, 0 to 1.
        cu: Christiansen's coefficient, at most 1.
    """

    cells: NDArray[np.int64]
    mean: Numbers
    du_lq: Numbers
    du_lh: Numbers
    cu: Numbers


@dataclass(frozen=True)
class _Sorted:
    """Depths group by group, each group from low to high."""

    depth: Numbers
    group: Groups
    counts: NDArray[np.int64]
    sound: NDArray[np.bool_]

    @property
    def starts(self) -> NDArray[np.int64]:
        return np.cumsum(self.counts) - self.counts


def _sorted(depth: ArrayLike, group: ArrayLike, groups: int) -> _Sorted:
    values = np.asarray(depth, dtype=float).ravel()
    owner = np.asarray(group, dtype=np.int64).ravel()
    values, owner = values[owner >= 0], owner[owner >= 0]
    odd = ~np.isfinite(values) | (values < 0)
    values = np.where(odd, 0.0, values)
    order = np.lexsort((values, owner))
    counts = np.bincount(owner, minlength=groups)
    sound = np.bincount(owner, weights=odd, minlength=groups) == 0
    return _Sorted(values[order], owner[order], counts, sound & (counts > 0))


def _low_means(cells: _Sorted, fraction: float) -> Numbers:
    """Mean of the lowest part of each group; the last cell counts by its share."""
    wanted = fraction * cells.counts
    whole = np.floor(wanted + _WHOLE).astype(np.int64)
    running = np.concatenate(([0.0], np.cumsum(cells.depth)))
    next_one = np.minimum(cells.starts + whole, max(len(cells.depth) - 1, 0))
    partly = cells.depth[next_one] if len(cells.depth) else np.zeros(len(wanted))
    low = running[cells.starts + whole] - running[cells.starts]
    return np.asarray((low + (wanted - whole) * partly) / wanted, dtype=float)


def evenness(depth: ArrayLike, group: ArrayLike, groups: int) -> Evenness:
    """Uniformity of every group of cells at once.

    All cells are equally large, so that the figures are those of cans on an even grid, one can a
    cell; see `spray.uniformity`, whose definitions these are.

    Args:
        depth: of each cell, any unit; a rate or volume does as well.
        group: number of each cell's group from 0; -1 for none. Shape of `depth`.
        groups: how many groups there are.

    Returns:
        Arrays of length `groups`.

    Reference: Christiansen 1942, California Agric. Exp. Station Bulletin 670, for CU; Merriam
    and Keller 1978, Farm Irrigation System Evaluation, for the low quarter (from memory).
    """
    cells = _sorted(depth, group, groups)
    with np.errstate(divide="ignore", invalid="ignore"):
        total = np.bincount(cells.group, weights=cells.depth, minlength=groups)
        mean = np.where(cells.sound, total / cells.counts, np.nan)
        spread = np.abs(cells.depth - mean[cells.group])
        off = np.bincount(cells.group, weights=spread, minlength=groups)
        known = cells.sound & (total > 0)
        return Evenness(
            cells=cells.counts,
            mean=mean,
            du_lq=np.where(known, _low_means(cells, LOW_QUARTER) / mean, np.nan),
            du_lh=np.where(known, _low_means(cells, LOW_HALF) / mean, np.nan),
            cu=np.where(known, 1.0 - off / total, np.nan),
        )


def densogram(depth: ArrayLike, group: ArrayLike, groups: int) -> Numbers:
    """Share of each group's cells by depth over the group's mean.

    Bar k holds the cells from k to below k + 1 tenths of the mean, the last one all from
    twice the mean upwards.

    Args:
        depth, group, groups: as for `evenness`.

    Returns:
        Shares (groups, 21) that add up to 1 along a row; NaN for a group without meaning.

    Reference: the distribution of application relative to its mean; the width of the bars is
    our own choice. Some call the shaded map itself a densogram.
    """
    cells = _sorted(depth, group, groups)
    total = np.bincount(cells.group, weights=cells.depth, minlength=groups)
    known = cells.sound & (total > 0)
    inside = known[cells.group]
    owner = cells.group[inside]
    ratio = cells.depth[inside] * cells.counts[owner] / total[owner]
    bar = np.minimum(np.floor(ratio / RATIO_STEP + _WHOLE).astype(np.int64), RATIO_BARS)
    bars = RATIO_BARS + 1
    counts = np.bincount(owner * bars + bar, minlength=groups * bars).reshape(groups, bars)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = counts / cells.counts[:, None]
    return np.where(known[:, None], shares, np.nan)


def giving_most(rate: sparse.csr_array) -> Groups:
    """Which column gives each cell most: the ground that a station or head answers for.

    Args:
        rate: cells × stations or heads, nothing negative.

    Returns:
        Column of each cell, the first of equals; -1 where none gives anything.
    """
    found = np.full(rate.shape[0], -1, dtype=np.int64)
    lengths = np.diff(rate.indptr)
    rows = np.flatnonzero(lengths)
    if not len(rows):
        return found
    values: Any = rate.data
    highest = np.maximum.reduceat(values, rate.indptr[rows])
    row = np.repeat(rows, lengths[rows])
    top = np.flatnonzero((values == np.repeat(highest, lengths[rows])) & (values > 0))[::-1]
    found[row[top]] = rate.indices[top]  # from the back, so that the first of equals stays
    return found
