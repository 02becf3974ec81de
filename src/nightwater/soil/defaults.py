"""What is taken of an area whose record does not say; every default is named on the result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

# FAO-56 Table 19, middle of the range of field capacity minus wilting point (from memory);
# clay loam, which the table lacks, as silty clay loam.
AVAILABLE_WATER_MM_M: Final[Mapping[str, float]] = {
    "sand": 80.0,
    "loamy_sand": 90.0,
    "sandy_loam": 130.0,
    "loam": 155.0,
    "silt_loam": 160.0,
    "silty_clay_loam": 155.0,
    "clay_loam": 155.0,
    "clay": 160.0,
}
# FAO-56 Table 19, middle of the range of field capacity, by volume (from memory); clay loam, which
# the table lacks, as silty clay loam.
FIELD_CAPACITY_PCT: Final[Mapping[str, float]] = {
    "sand": 12.0,
    "loamy_sand": 15.0,
    "sandy_loam": 23.0,
    "loam": 25.0,
    "silt_loam": 29.0,
    "silty_clay_loam": 33.5,
    "clay_loam": 33.5,
    "clay": 36.0,
}
# An even spread over ten per cent, as wide as most of the table's ranges: 10 / √12.
FIELD_CAPACITY_STD_PCT: Final = 2.9
# Common practice (from memory): roots that count in midsummer, shorter under closer mowing.
ROOT_DEPTH_MM: Final[Mapping[str, float]] = {
    "green": 100.0,
    "tee": 150.0,
    "approach": 200.0,
    "fairway": 200.0,
    "practice": 200.0,
    "grounds": 250.0,
    "rough": 300.0,
}
# Common practice (from memory): 25–40 % on greens, 40–50 % on tees and fairways, 50–65 % in rough.
ALLOWED_DEPLETION_PCT: Final[Mapping[str, float]] = {
    "green": 30.0,
    "tee": 40.0,
    "approach": 45.0,
    "fairway": 45.0,
    "practice": 45.0,
    "grounds": 50.0,
    "rough": 55.0,
}
# USDA TR-55 Table 2-2a, open space in good condition (lawns, golf courses), by hydrologic soil
# group: A 39, B 61, C 74, D 80; texture to group by TR-55 appendix A (both from memory).
CURVE_NUMBER: Final[Mapping[str, float]] = {
    "sand": 39.0,
    "loamy_sand": 39.0,
    "sandy_loam": 39.0,
    "loam": 61.0,
    "silt_loam": 61.0,
    "silty_clay_loam": 80.0,
    "clay_loam": 80.0,
    "clay": 80.0,
}
# Steady intake, common practice: sand over 20, sandy loam 10–20, loam 5–20, clay 1–5 mm/h.
INTAKE_MM_H: Final[Mapping[str, float]] = {
    "sand": 25.0,
    "loamy_sand": 20.0,
    "sandy_loam": 15.0,
    "loam": 10.0,
    "silt_loam": 8.0,
    "silty_clay_loam": 4.0,
    "clay_loam": 5.0,
    "clay": 3.0,
}
# Common practice (from memory): rotors 65–75, greens 70–80, sprays 50–60.
DU_LQ: Final[Mapping[str, float]] = {"green": 0.75, "grounds": 0.55}
USUAL_DU_LQ: Final = 0.70
SURFACE_STORAGE_MM: Final = 2.54  # 0.1 in on turf up to 3 % slope, common practice
USUAL_GRASS: Final = "cool_season"
USUAL_SOIL: Final = "loam"

_PLAIN: Final[Mapping[str, Any]] = {
    "grass": USUAL_GRASS,
    "soil": USUAL_SOIL,
    "slope_pct": 0.0,
    "area_factor": 1.0,
    "target_depletion_pct": 0.0,
    "surface_storage_mm": SURFACE_STORAGE_MM,
}
_BY_SOIL: Final = {
    "available_water_mm_m": AVAILABLE_WATER_MM_M,
    "curve_number": CURVE_NUMBER,
    "intake_mm_h": INTAKE_MM_H,
}
_BY_KIND: Final = {
    "root_depth_mm": ROOT_DEPTH_MM,
    "allowed_depletion_pct": ALLOWED_DEPLETION_PCT,
    "du_lq": DU_LQ,
}


def _fill(filled: pd.DataFrame, assumed: pd.DataFrame, column: str, values: Any) -> None:
    missing = filled[column].isna()
    assumed[column] = missing
    filled[column] = filled[column].where(~missing, values)


def area_defaults(areas: pd.DataFrame) -> pd.DataFrame:
    """Areas with every value that the account needs, and which of them are assumed.

    Efficiency, where it is not known, follows from uniformity as 0.4 + 0.6 · DUlq, so that both
    run-time multipliers agree. A slope that is not known counts as level.

    Args:
        areas: the record's areas.

    Returns:
        The same rows and columns without gaps in grass, soil, slope_pct, area_factor,
        target_depletion_pct, surface_storage_mm, available_water_mm_m, curve_number,
        intake_mm_h, root_depth_mm, allowed_depletion_pct, du_lq and efficiency; and
        `assumed`, the list of the columns that were filled.
    """
    filled = pd.DataFrame(areas).copy()
    assumed = pd.DataFrame(index=areas.index)
    for column, value in _PLAIN.items():
        _fill(filled, assumed, column, value)
    for column, by_soil in _BY_SOIL.items():
        _fill(filled, assumed, column, filled["soil"].map(by_soil))
    for column, by_kind in _BY_KIND.items():
        usual = USUAL_DU_LQ if column == "du_lq" else by_kind["rough"]
        _fill(filled, assumed, column, filled["kind"].map(by_kind).fillna(usual))
    _fill(filled, assumed, "efficiency", 0.4 + 0.6 * filled["du_lq"].astype(float))
    names = assumed.columns.to_numpy()
    filled["assumed"] = [list(names[row]) for row in assumed.to_numpy(dtype=bool)]
    return filled
