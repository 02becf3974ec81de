"""Two rules of thumb for minutes, to set fitted ones beside."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.spray.rate import depth_rate_mm_h
from nightwater.units import MINUTES_PER_HOUR

Numbers = NDArray[np.float64]


def minutes_by_kind(stations: pd.DataFrame) -> pd.Series[float]:
    """The same minutes for every station of a kind: its mean need over its mean rate.

    Args:
        stations: index = station id; columns kind, need_mm, flow_l_s, wetted_m2.

    Returns:
        Minutes [min] by station. The rate of a kind is its whole flow over the ground that its
        heads answer for by their spacing.

    Reference: common practice, no source.
    """
    weighted = stations.assign(weighted=stations["need_mm"] * stations["flow_l_s"])
    kinds = weighted.groupby("kind")[["weighted", "flow_l_s", "wetted_m2"]].sum()
    rate = depth_rate_mm_h(kinds["flow_l_s"], kinds["wetted_m2"])
    need = kinds["weighted"] / kinds["flow_l_s"]
    minutes = pd.Series(need / rate * MINUTES_PER_HOUR, index=kinds.index)
    return stations["kind"].map(minutes).astype(float)


def minutes_by_footprint(by_station: sparse.csr_array, need_mm: Numbers) -> Numbers:
    """Minutes of each station by its own footprint: mean need there over mean rate there.

    Means are over the cells that it wets, weighted by how much of its water falls on each; the
    rate is that of all heads together.

    Args:
        by_station: cells × stations [mm/min].
        need_mm: need of each cell; a cell that is NaN counts as 0.

    Returns:
        Minutes, shape (stations,); 0 for a station that wets no cell.

    Reference: common practice, no source.
    """
    need = np.nan_to_num(need_mm)
    rate = np.asarray(by_station.sum(axis=1), dtype=float).ravel()
    wanted, given = by_station.T @ need, by_station.T @ rate
    return np.asarray(np.divide(wanted, given, out=np.zeros_like(wanted), where=given > 0))


def adequacy(depth_mm: Numbers, need_mm: Numbers, counted: NDArray[Any]) -> float:
    """Share of the counted cells that get their need; NaN where none counts."""
    short = depth_mm[counted] < need_mm[counted] - 1e-9
    return float(1.0 - short.mean()) if counted.any() else float("nan")


def scale_to_adequacy(
    depth_mm: Numbers, need_mm: Numbers, counted: NDArray[Any], share: float
) -> float:
    """Factor on all minutes at which a share of the counted cells gets its need."""
    depth = depth_mm[counted]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(depth > 0, need_mm[counted] / depth, np.inf)
    ratio = np.where(need_mm[counted] > 0, ratio, 0.0)  # served without any water
    return float(np.quantile(ratio, share, method="higher"))


def lacking_mm(depth_mm: Numbers, need_mm: Numbers, counted: NDArray[Any]) -> float:
    """What the counted cells lack of their need, added up."""
    return float(np.maximum(need_mm[counted] - depth_mm[counted], 0.0).sum())


def scale_to_lacking(
    depth_mm: Numbers, need_mm: Numbers, counted: NDArray[Any], most_mm: float
) -> float:
    """The least factor on all minutes at which the counted cells lack no more than so much.

    Args:
        depth_mm, need_mm: of each cell.
        counted: which cells count.
        most_mm: what they may lack, added up.

    Returns:
        The factor; infinite where no minutes leave so little, as cells without water lack more.
    """
    wanting = counted & (need_mm > 0)
    dry = wanting & (depth_mm <= 0)
    room_mm = most_mm - float(need_mm[dry].sum())
    depth, need = depth_mm[wanting & ~dry], need_mm[wanting & ~dry]
    if room_mm < 0:
        return float("inf")
    order = np.argsort(need / depth)
    depth, need = depth[order], need[order]
    # Served in this order as minutes grow: what the cells from one on need, and are given.
    wanted = np.append(np.cumsum(need[::-1])[::-1], 0.0)
    given = np.append(np.cumsum(depth[::-1])[::-1], 0.0)
    if wanted[0] <= room_mm:
        return 0.0
    lacking_there = wanted[1:] - need / depth * given[1:]  # when each has just its need
    first = int(np.argmax(lacking_there <= room_mm))
    return float((wanted[first] - room_mm) / given[first])
