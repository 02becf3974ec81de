"""What stands in where the record is silent, and that it is named."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from nightwater.ground.record import conform
from nightwater.ground.tables import AREAS, SOILS, WATERED_KINDS
from nightwater.soil.defaults import (
    ALLOWED_DEPLETION_PCT,
    AVAILABLE_WATER_MM_M,
    CURVE_NUMBER,
    INTAKE_MM_H,
    ROOT_DEPTH_MM,
    area_defaults,
)

FILLED = (
    "grass", "soil", "slope_pct", "area_factor", "target_depletion_pct", "surface_storage_mm",
    "available_water_mm_m", "curve_number", "intake_mm_h", "root_depth_mm",
    "allowed_depletion_pct", "du_lq", "efficiency",
)  # fmt: skip


def bare(*kinds: str, **columns: object) -> pd.DataFrame:
    index = pd.Index([f"A{number}" for number, _ in enumerate(kinds)], dtype=object)
    table = pd.DataFrame({"kind": list(kinds), **columns}, index=index)
    return pd.DataFrame(conform(table, AREAS, "EPSG:32612"))


def test_tables_cover_every_soil_and_kind_of_the_record() -> None:
    for by_soil in (AVAILABLE_WATER_MM_M, CURVE_NUMBER, INTAKE_MM_H):
        assert set(by_soil) == set(SOILS)
    for by_kind in (ROOT_DEPTH_MM, ALLOWED_DEPLETION_PCT):
        assert set(by_kind) == set(WATERED_KINDS)


def test_every_default_lies_within_the_bounds_of_the_record() -> None:
    soils = bare(*["rough"] * len(SOILS), soil=list(SOILS))
    filled = pd.concat([area_defaults(soils), area_defaults(bare(*WATERED_KINDS))])
    for name in FILLED:
        column = AREAS.by_name[name]
        if column.lowest is not None and column.highest is not None:
            assert filled[name].between(column.lowest, column.highest).all(), name
        if column.choices:
            assert filled[name].isin(column.choices).all()


def test_a_bare_area_is_filled_and_says_so() -> None:
    filled = area_defaults(bare("fairway"))
    assert filled[list(FILLED)].notna().all().all()
    assert set(filled["assumed"].iloc[0]) == set(FILLED)


def test_what_is_known_stays_and_is_not_called_assumed() -> None:
    known = {
        "grass": "warm_season", "soil": "clay", "slope_pct": 9.0, "area_factor": 0.8,
        "target_depletion_pct": 5.0, "surface_storage_mm": 1.0, "available_water_mm_m": 200.0,
        "curve_number": 70.0, "intake_mm_h": 6.0, "root_depth_mm": 444.0,
        "allowed_depletion_pct": 33.0, "du_lq": 0.61, "efficiency": 0.71,
    }  # fmt: skip
    filled = area_defaults(bare("green", **known)).iloc[0]
    assert filled["assumed"] == []
    assert {name: filled[name] for name in known} == known


def test_soil_decides_store_runoff_and_intake() -> None:
    filled = area_defaults(bare("rough", "rough", soil=["sand", "clay"]))
    sand, clay = filled.iloc[0], filled.iloc[1]
    assert sand["available_water_mm_m"] < clay["available_water_mm_m"]
    assert sand["curve_number"] < clay["curve_number"]
    assert sand["intake_mm_h"] > clay["intake_mm_h"]


def test_an_unknown_soil_is_loam() -> None:
    silent, loam = area_defaults(bare("rough", "rough", soil=[None, "loam"])).iloc
    for name in ("available_water_mm_m", "curve_number", "intake_mm_h"):
        assert silent[name] == loam[name]
    assert "soil" in silent["assumed"]
    assert "soil" not in loam["assumed"]


def test_closer_mowing_means_shorter_roots_and_a_fuller_store() -> None:
    filled = area_defaults(bare("green", "tee", "fairway", "rough"))
    assert filled["root_depth_mm"].is_monotonic_increasing
    assert filled["allowed_depletion_pct"].is_monotonic_increasing


def test_efficiency_follows_uniformity_so_that_both_rules_agree() -> None:
    filled = area_defaults(bare("rough", "green", du_lq=[0.6, None]))
    assert filled["efficiency"].tolist() == pytest.approx([0.76, 0.4 + 0.6 * 0.75])


def test_ground_that_is_not_watered_is_filled_too_and_breaks_nothing() -> None:
    filled = area_defaults(bare("bunker", "water", "native"))
    assert filled[list(FILLED)].notna().all().all()


def test_the_given_table_is_not_changed_and_none_is_fine() -> None:
    areas = bare("green")
    before = areas.copy()
    area_defaults(areas)
    pd.testing.assert_frame_equal(areas, before)
    assert len(area_defaults(areas.iloc[:0])) == 0


@pytest.mark.parametrize(
    ("column", "check"),
    [("curve_number", lambda v: v >= 39), ("surface_storage_mm", lambda v: v == 2.54)],
)
def test_defaults_that_the_docs_print(column: str, check: Callable[[float], bool]) -> None:
    assert check(float(area_defaults(bare("fairway"))[column].iloc[0]))
