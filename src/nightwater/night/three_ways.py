"""Tonight's minutes beside those of two rules of thumb, at the same share of ground served."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.night.fitted_minutes import reach_of_cells
from nightwater.night.plain_rules import (
    adequacy,
    lacking_mm,
    minutes_by_footprint,
    minutes_by_kind,
    scale_to_adequacy,
    scale_to_lacking,
)
from nightwater.units import SECONDS_PER_MINUTE

L_PER_M3: Final = 1000.0
MAP, KIND, FOOTPRINT = "map", "kind", "footprint"

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Way:
    """One way of making minutes.

    Attributes:
        scale: factor on all its minutes at which it serves tonight's share; 1 for the map,
            infinite where no minutes would.
        water_m3: its water at that scale; infinite where no minutes would.
        lacking_m3: what the cells in reach still lack of their need at that scale.
        same_lack_m3: its water at the scale at which they lack no more than tonight; infinite
            where no minutes would.
        own_share: share of the cells in reach that its minutes serve as they are.
        served: share of the cells in reach of each kind of area that it serves at that scale.
        stations: index = station id; columns run_min (as the rule makes them), depth_mm (mean
            depth on the ground that the station wets, all stations together, weighted by how
            much of its water falls where) and same_min (at that scale).
    """

    scale: float
    water_m3: float
    lacking_m3: float
    same_lack_m3: float
    own_share: float
    served: Mapping[str, float]
    stations: pd.DataFrame


@dataclass(frozen=True)
class ThreeWays:
    """Tonight's minutes by the map and by two rules of thumb.

    Attributes:
        ways: by name: "map", "kind", "footprint".
        share: of the cells in reach that get their whole need by tonight's minutes.
        reached_m2: ground in reach of the heads, whose need is known.
        gap_m2: ground that needs water and is out of reach; it counts in no share.
        need_mm: mean need of the ground that each station wets, index = station id.
    """

    ways: Mapping[str, Way]
    share: float
    reached_m2: float
    gap_m2: float
    need_mm: pd.Series[float]


@dataclass(frozen=True)
class ThreeWaysRequest:
    """What the ways are compared on.

    Attributes:
        by_station: cells × stations [mm/min], of the stations whose minutes follow the map.
        need_mm: net need of each cell; NaN where it is not known.
        kinds: kind of area of each cell.
        cell_m2: ground of a cell.
        reach_from: rate at a cell over the mean of its kind from which it counts.
        stations: index = station id, in the order of the columns; columns kind, need_mm,
            flow_l_s, wetted_m2 and run_min, tonight's minutes.
    """

    by_station: sparse.csr_array
    need_mm: Numbers
    kinds: NDArray[Any]
    cell_m2: float
    reach_from: float
    stations: pd.DataFrame


def _on_footprint(by_station: sparse.csr_array, depth_mm: Numbers) -> Numbers:
    """Mean over the ground that each station wets; NaN for one that wets none."""
    whole = np.asarray(by_station.sum(axis=0), dtype=float).ravel()
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((by_station.T @ depth_mm) / whole, dtype=float)


def _counted(request: ThreeWaysRequest) -> NDArray[np.bool_]:
    reach = reach_of_cells(request.by_station, request.kinds)
    return np.asarray(np.isfinite(request.need_mm) & (reach > request.reach_from))


def _served(
    request: ThreeWaysRequest, depth_mm: Numbers, counted: NDArray[np.bool_]
) -> dict[str, float]:
    """Share of the counted cells of each kind that get their need, kinds in order of name."""
    return {
        str(kind): adequacy(depth_mm, request.need_mm, counted & (request.kinds == kind))
        for kind in sorted(set(request.kinds[counted]))
    }


def _way(
    request: ThreeWaysRequest, run_min: Numbers, counted: NDArray[np.bool_], tonight: Way | None
) -> Way:
    """A way at the scales that serve, and lack, what tonight does; as it is for tonight itself."""
    depth = np.asarray(request.by_station @ run_min, dtype=float)
    scale, same_lack = 1.0, 1.0
    if tonight is not None:
        scale = scale_to_adequacy(depth, request.need_mm, counted, tonight.own_share)
        most_mm = tonight.lacking_m3 * L_PER_M3 / request.cell_m2
        same_lack = scale_to_lacking(depth, request.need_mm, counted, most_mm)
    flow_l_s = request.stations["flow_l_s"].to_numpy(dtype=float)
    water_m3 = float((flow_l_s * run_min).sum()) * SECONDS_PER_MINUTE / L_PER_M3
    table = pd.DataFrame(
        {"run_min": run_min, "depth_mm": _on_footprint(request.by_station, depth)},
        index=request.stations.index,
    )
    table["same_min"] = np.multiply(run_min, scale, out=np.zeros(len(run_min)), where=run_min > 0)
    own = adequacy(depth, request.need_mm, counted)
    of_share = scale * water_m3 if water_m3 > 0 else np.inf
    of_lack = same_lack * water_m3 if water_m3 > 0 or same_lack == 0 else np.inf
    scaled = depth * scale if np.isfinite(scale) else depth
    lacking = lacking_mm(scaled, request.need_mm, counted) * request.cell_m2 / L_PER_M3
    served = _served(request, scaled, counted)
    return Way(scale, of_share, lacking, of_lack, own, served, table)


def three_ways(request: ThreeWaysRequest) -> ThreeWays | None:
    """Tonight's minutes beside those by kind of area and by each station's own footprint.

    All minutes of a rule are scaled alike until they serve as many cells in reach as tonight's
    do: all cells count alike there, though the fit weighs kinds of area otherwise. Rotation
    floors, longest runs, whole minutes and trims of stations do not bind the rules.

    Args:
        request: stations, cells and tonight's minutes.

    Returns:
        The three; None where there is nothing to compare: no station, no cell in reach, or none
        that gets its need tonight.
    """
    counted = _counted(request) if len(request.stations) else np.zeros(0, dtype=bool)
    if not counted.any():
        return None
    tonight = request.stations["run_min"].to_numpy(dtype=float)
    by_map = _way(request, tonight, counted, None)
    share = float(by_map.own_share)
    if not share > 0 or not tonight.any():
        return None
    by_kind: Numbers = np.asarray(minutes_by_kind(request.stations), dtype=float)
    by_footprint = minutes_by_footprint(request.by_station, request.need_mm)
    wanting = np.isfinite(request.need_mm) & (request.need_mm > 0)
    needs = _on_footprint(request.by_station, np.nan_to_num(request.need_mm))
    return ThreeWays(
        ways={
            MAP: by_map,
            KIND: _way(request, by_kind, counted, by_map),
            FOOTPRINT: _way(request, by_footprint, counted, by_map),
        },
        share=share,
        reached_m2=float(counted.sum()) * request.cell_m2,
        gap_m2=float((wanting & ~counted).sum()) * request.cell_m2,
        need_mm=pd.Series(needs, index=request.stations.index),
    )
