"""What is known of the ground and the heads around a dry spot."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import KDTree

from nightwater.desk.tonight_water import TonightWater, head_cycles
from nightwater.soil.defaults import area_defaults
from nightwater.soil.intake import slope_storage_mm
from nightwater.spray.dry_spots import SLOPE, SOIL, Cause, Dry
from nightwater.spray.evidence import Evidence
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_HOUR

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
    mean = _spot_means(dry, reach)
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


@dataclass(frozen=True)
class RunOff:
    """Water of each turf cell that does not soak in.

    Attributes:
        rate_mm_h: mean rate over its throw of the head that gives most there.
        cycle_min: how long that head runs at once.
        by_slope_mm: runs off as the slope holds less than level ground would.
        by_soil_mm: runs off on level ground too, as the soil takes it in slower than it falls.
    """

    rate_mm_h: Numbers
    cycle_min: Numbers
    by_slope_mm: Numbers
    by_soil_mm: Numbers

    @property
    def total_mm(self) -> Numbers:
        """All that runs off."""
        return self.by_slope_mm + self.by_soil_mm


def run_off(tonight: TonightWater) -> RunOff:
    """Surface balance of each cell, by the head that gives most there, cycle by cycle.

    A cycle of t hours at a rate above the intake leaves (rate − intake) · t on the surface; what
    is more than the surface holds runs off. Between cycles it soaks in. The rate is that head's
    mean over its throw, as water that stands spreads; other heads run at other times, or rain
    slower than the soil drinks.

    Args:
        tonight: rates, minutes and cycles of the heads.
    """
    grid, patterns = tonight.matrix.grid, tonight.patterns
    matrix = sparse.csr_array(tonight.matrix.rate_mm_min)
    best = np.asarray(matrix.argmax(axis=1)).ravel()
    wetted = np.asarray(matrix.max(axis=1).toarray()).ravel() > 0
    throw_m2 = np.pi * patterns.radius_m**2 * patterns.arc_deg / 360.0
    mean_mm_h = SECONDS_PER_HOUR * patterns.flow_l_s / np.maximum(throw_m2, grid.cell_m2)
    rate_h = np.where(wetted, mean_mm_h[best], 0.0)
    heads = list(tonight.matrix.heads)
    minutes = tonight.run_min.reindex(heads).fillna(0.0).to_numpy(dtype=float)[best]
    cycles = head_cycles(tonight).reindex(heads).fillna(1.0).to_numpy(dtype=float)[best]
    cycle_min = minutes / np.maximum(cycles, 1.0)
    soil = area_defaults(tonight.ground.areas).reindex([str(name) for name in grid.areas])
    intake, slope, level = (
        soil[name].to_numpy(dtype=float)[grid.area]
        for name in ("intake_mm_h", "slope_pct", "surface_storage_mm")
    )
    standing = np.maximum(rate_h - intake, 0.0) * cycle_min / MINUTES_PER_HOUR
    on_slope, on_level = (
        np.nan_to_num(cycles * np.maximum(standing - held, 0.0))
        for held in (slope_storage_mm(level, slope), slope_storage_mm(level, 0.0))
    )
    # No more can run off than falls.
    scale = np.minimum(1.0, tonight.depth_mm / np.maximum(on_slope, 1e-12))
    return RunOff(rate_h, cycle_min, scale * (on_slope - on_level), scale * on_level)


def _spot_means(dry: Dry, values: Numbers) -> Numbers:
    inside = dry.spot >= 0
    count = np.bincount(dry.spot[inside], minlength=len(dry.table))
    mean: Numbers = np.bincount(dry.spot[inside], values[inside], len(dry.table)) / count
    return mean


Told = Mapping[str, Sequence[Evidence]]


def ground_evidence(tonight: TonightWater, dry: Dry, off: RunOff) -> Told:
    """What is known of slope and soil at each spot, by cause."""
    soil = area_defaults(tonight.ground.areas).reindex(dry.table["area"])
    rate, cycle = _spot_means(dry, off.rate_mm_h), _spot_means(dry, off.cycle_min)
    slope, intake = (soil[name].to_numpy(dtype=float) for name in ("slope_pct", "intake_mm_h"))
    lost = {SLOPE: _spot_means(dry, off.by_slope_mm), SOIL: _spot_means(dry, off.by_soil_mm)}
    takes = "its strongest head gives {0} here, the soil takes in {1}"
    told: dict[str, list[Evidence]] = {
        SLOPE: [Evidence(f"the ground falls by {value:.0f} %") for value in slope],
        SOIL: [
            Evidence(takes, ((float(r), "mm_h"), (float(i), "mm_h")))
            for r, i in zip(rate, intake, strict=True)
        ],
    }
    for code, mm in lost.items():
        for spot in np.flatnonzero(mm > 0):
            before = told[code][spot]
            place = len(before.quantities)
            words = f"{before.words}; in cycles of {cycle[spot]:.0f} min {{{place}}} run off for it"
            told[code][spot] = Evidence(words, (*before.quantities, (float(mm[spot]), "mm")))
    return told


def _steep_and_slow(
    dry: Dry, soil: pd.DataFrame, off: RunOff, told: Told, known: Collection[tuple[int, str]]
) -> list[Cause]:
    """Steep ground and slow soil from which nothing runs off tonight; it makes it worse."""
    soil = soil.reindex(dry.table["area"])
    suspect = {
        SLOPE: soil["slope_pct"].to_numpy(dtype=float) >= STEEP_PCT,
        SOIL: _spot_means(dry, off.rate_mm_h) > soil["intake_mm_h"].to_numpy(dtype=float),
    }
    return [
        Cause(int(spot), code, math.nan, (), (told[code][int(spot)],))
        for code, where in suspect.items()
        for spot in np.flatnonzero(where)
        if (int(spot), code) not in known
    ]


def _small_stores(dry: Dry, soil: pd.DataFrame) -> list[Cause]:
    """Areas whose roots hold little."""
    held = soil["available_water_mm_m"] * soil["root_depth_mm"] / 1000.0
    of_spot = soil.reindex(dry.table["area"])
    store = held.reindex(dry.table["area"]).to_numpy(dtype=float)
    usual = held.groupby(soil["kind"]).median().reindex(of_spot["kind"]).to_numpy(dtype=float)
    words = "its roots can hold {0}, others of its kind {1}"
    return [
        Cause(
            int(spot),
            SOIL,
            math.nan,
            (),
            (Evidence(words, ((float(store[spot]), "mm"), (float(usual[spot]), "mm"))),),
        )
        for spot in np.flatnonzero(store < LOW_SHARE * usual)
    ]


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
    tonight: TonightWater,
    dry: Dry,
    readings: pd.DataFrame | None,
    *,
    off: RunOff,
    told: Told,
    known: Collection[tuple[int, str]],
) -> list[Cause]:
    """What makes a spot worse by no number of litres: its slope, its soil, its small store.

    Args:
        tonight: what falls where.
        dry: the spots.
        readings: soil moisture, for spots that were measured driest.
        off: what runs off.
        told: `ground_evidence` of the spots.
        known: spot and code of the causes that are told with their litres already.
    """
    soil = area_defaults(tonight.ground.areas)
    return [
        *_steep_and_slow(dry, soil, off, told, known),
        *_small_stores(dry, soil),
        *([] if readings is None or readings.empty else _driest(dry, readings)),
    ]
