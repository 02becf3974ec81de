"""What is known of the ground and the heads around a dry spot."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from nightwater.desk.tonight_water import TonightWater
from nightwater.soil.defaults import area_defaults
from nightwater.spray.dry_spots import SLOPE, SOIL, Cause, Dry
from nightwater.spray.evidence import Evidence
from nightwater.units import MINUTES_PER_HOUR

STEEP_PCT: Final = 8.0  # own choice: from here on water runs before it soaks in
LOW_SHARE: Final = 0.75  # of the median store of a kind; own choice
LEAST_READINGS: Final = 3

Numbers = NDArray[np.float64]


def gap_evidence(tonight: TonightWater, dry: Dry, reach: Numbers) -> list[Evidence]:
    """How far the heads around each spot stand and throw."""
    patterns = tonight.patterns
    if len(patterns) < 2:
        return [Evidence("no head stands near")] * len(dry.table)
    tree = KDTree(np.column_stack((patterns.x_m, patterns.y_m)))
    away, near = (np.asarray(part) for part in tree.query(dry.table[["x_m", "y_m"]], k=1))
    apart = np.asarray(tree.query(tree.data, k=2)[0])[:, 1]
    inside = dry.spot >= 0
    count = np.bincount(dry.spot[inside], minlength=len(dry.table))
    mean = np.bincount(dry.spot[inside], reach[inside], len(dry.table)) / count
    words = (
        "nearest head {0} away, it throws {1} and its next one stands {2} off; "
        "together they reach {reach} of what turf of this kind gets"
    )
    return [
        Evidence(
            words.replace("{reach}", f"{mean[spot]:.0%}"),
            (
                (float(away[spot]), "m"),
                (float(patterns.radius_m[near[spot]]), "m"),
                (float(apart[near[spot]]), "m"),
            ),
        )
        for spot in range(len(dry.table))
    ]


def _slopes(dry: Dry, areas: pd.DataFrame) -> list[Cause]:
    slope = areas["slope_pct"].reindex(dry.table["area"]).to_numpy(dtype=float)
    return [
        Cause(
            int(spot), SLOPE, math.nan, (), (Evidence(f"the ground falls by {slope[spot]:.0f} %"),)
        )
        for spot in np.flatnonzero(slope >= STEEP_PCT)
    ]


def _soils(tonight: TonightWater, dry: Dry, soil: pd.DataFrame) -> list[Cause]:
    """Spots that are wetted faster than they take water in, and areas that hold little."""
    rate = tonight.matrix.rate_mm_min.max(axis=1).toarray().astype(float).ravel()
    inside = dry.spot >= 0
    count = np.bincount(dry.spot[inside], minlength=len(dry.table))
    mean = np.bincount(dry.spot[inside], rate[inside], len(dry.table)) / count * MINUTES_PER_HOUR
    of_spot = soil.reindex(dry.table["area"])
    intake = of_spot["intake_mm_h"].to_numpy(dtype=float)
    held = soil["available_water_mm_m"] * soil["root_depth_mm"] / 1000.0
    store = held.reindex(dry.table["area"]).to_numpy(dtype=float)
    usual = held.groupby(soil["kind"]).median().reindex(of_spot["kind"]).to_numpy(dtype=float)
    causes = [
        Cause(
            int(spot),
            SOIL,
            math.nan,
            (),
            (
                Evidence(
                    "its strongest head gives {0} here, the soil takes in {1}",
                    ((float(mean[spot]), "mm_h"), (float(intake[spot]), "mm_h")),
                ),
            ),
        )
        for spot in np.flatnonzero(mean > intake)
    ]
    words = "its roots can hold {0}, others of its kind {1}"
    for spot in np.flatnonzero(store < LOW_SHARE * usual):
        told = Evidence(words, ((float(store[spot]), "mm"), (float(usual[spot]), "mm")))
        causes.append(Cause(int(spot), SOIL, math.nan, (), (told,)))
    return causes


def _driest(dry: Dry, readings: pd.DataFrame) -> list[Cause]:
    """Spots where the area's driest reading was taken."""
    known = readings[readings.geometry.notna() & readings["area"].notna()]
    causes = []
    for area, rows in known.groupby("area"):
        if len(rows) < LEAST_READINGS:
            continue
        driest: Any = rows.iloc[int(rows["vwc_pct"].to_numpy(dtype=float).argmin())]
        x_m, y_m = shapely.get_x(driest.geometry), shapely.get_y(driest.geometry)
        cell = dry.grid.cell_at(float(x_m), float(y_m))
        if cell < 0 or dry.spot[cell] < 0 or dry.table["area"][int(dry.spot[cell])] != area:
            continue
        words = (
            f"the driest of {len(rows)} readings on this area, {driest['vwc_pct']:.1f} %, "
            f"was taken here; their mean is {rows['vwc_pct'].mean():.1f} %"
        )
        causes.append(Cause(int(dry.spot[cell]), SOIL, math.nan, (), (Evidence(words),)))
    return causes


def aggravating_causes(
    tonight: TonightWater, dry: Dry, readings: pd.DataFrame | None
) -> list[Cause]:
    """Slope and soil of each spot's ground: they make it worse, whatever is thrown there."""
    areas = tonight.ground.areas
    soil = area_defaults(areas)
    return [
        *_slopes(dry, areas),
        *_soils(tonight, dry, soil),
        *([] if readings is None or readings.empty else _driest(dry, readings)),
    ]
