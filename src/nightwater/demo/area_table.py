"""Areas and lines of play of the invented club as rows of a survey."""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Final

import geopandas as gpd
import numpy as np

from nightwater.demo.classes import CLAY_HOLES, CLAY_INTAKE_IN_H, CLAY_WATER_MM_M, TURF, TurfClass
from nightwater.demo.layout import HeadSpot
from nightwater.demo.place import chance
from nightwater.demo.routing import LINES
from nightwater.demo.turf import Outline
from nightwater.units import M2_PER_ACRE, M_PER_FT

_FT2_PER_ACRE: Final = M2_PER_ACRE / M_PER_FT**2


def wetted_acres(heads: list[HeadSpot]) -> dict[str, float]:
    """Ground that the heads of each area answer for [acre], by the area's key."""
    acres: dict[str, float] = defaultdict(float)
    for spot in heads:
        cell = spot.spacing_ft * spot.row_ft * spot.arc_deg / 360.0
        acres[spot.turf] += cell / _FT2_PER_ACRE
    return dict(acres)


def _soil(outline: Outline, turf: TurfClass) -> dict[str, Any]:
    clay = turf.soil == "loam" and outline.hole in CLAY_HOLES
    return {
        "soil": "clay_loam" if clay else turf.soil,
        "available_water_mm_m": CLAY_WATER_MM_M if clay else turf.water_mm_m,
        "intake_in_h": CLAY_INTAKE_IN_H if clay else turf.intake_in_h,
        "surface_storage_in": turf.storage_in,
        "root_depth_in": turf.root_in,
        "allowed_depletion_pct": turf.depletion_pct,
    }


def _watered(outline: Outline, acres: float, random: np.random.Generator) -> dict[str, Any]:
    turf = TURF[outline.kind]
    low, high = turf.slopes_pct
    return {
        "grass": "cool_season",
        "species": turf.species,
        "slope_pct": round(low + (high - low) * float(random.beta(1.2, 2.6)), 1),
        "area_factor": turf.factor,
        "area_factor_reason": turf.why or None,
        "du_lq": round(turf.du_lq, 4),
        "efficiency": turf.efficiency,
        "wetted_acre": round(acres, 5),
        **_soil(outline, turf),
    }


def area_table(outlines: list[Outline], heads: list[HeadSpot]) -> gpd.GeoDataFrame:
    """Every area in US units; geometry in metres of the drawing."""
    acres, random = wetted_acres(heads), chance("areas")
    rows = []
    for outline in outlines:
        row: dict[str, Any] = {
            "id": outline.key,
            "label": outline.label,
            "kind": outline.kind,
            "hole": outline.hole or None,
            "evidence": "surveyed",
        }
        if outline.kind in TURF:
            row |= _watered(outline, acres[outline.key], random)
        rows.append(row)
    return gpd.GeoDataFrame(rows, geometry=[outline.shape for outline in outlines])


def hole_table() -> gpd.GeoDataFrame:
    """The lines of play; geometry in metres of the drawing."""
    rows = [
        {
            "id": line.label,
            "label": f"Hole {line.number}",
            "number": line.number,
            "par": line.par,
            "evidence": "surveyed",
        }
        for line in LINES
    ]
    shapes = [line.part(0.0, line.length_m).simplify(0.2) for line in LINES]
    return gpd.GeoDataFrame(rows, geometry=shapes)
