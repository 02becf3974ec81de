"""Trims drawn on the map: cells in and out, nights, and several on one spot."""

from __future__ import annotations

from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from scipy import sparse

from nightwater.ground.record import Ground, conform, empty
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.night.map_trims import acting_patches, cells_of_patch, map_factors, map_trims
from nightwater.spray.grid import TurfGrid, turf_grid

NIGHT = date(2026, 7, 14)
CRS = "EPSG:32612"


def grid(cell_m: float = 1.0) -> TurfGrid:
    """A fairway of 20 by 10 m."""
    areas = gpd.GeoDataFrame(
        {"kind": ["fairway"]}, index=["A-F"], geometry=[shapely.box(100, 100, 120, 110)], crs=CRS
    )
    tables: dict[str, Any] = {name: empty(TABLES[name], CRS) for name in GROUND_TABLES}
    tables |= {"areas": conform(areas, TABLES["areas"], CRS)}
    return turf_grid(Ground(crs=CRS, **tables), cell_m)


def trim(patch: Any, factor: float, **changed: Any) -> dict[str, Any]:
    return {
        "subject": "map",
        "factor": factor,
        "extra_min": 0.0,
        "reason": "dry knoll",
        "author": "Ines",
        "first_night": "2026-07-14",
        "last_night": "2026-07-16",
        "geometry": patch,
    } | changed


def trims(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame(list(rows), index=[f"T{n}" for n in range(len(rows))])


WEST = shapely.box(95, 95, 110, 115)  # the western half, and ground that is no turf


def test_cells_inside_get_the_factor_and_no_others() -> None:
    turf = grid()
    factor = map_factors(trims(trim(WEST, 1.2)), NIGHT, turf)
    assert factor[turf.x_m < 110].tolist() == [1.2] * 100
    assert factor[turf.x_m > 110].tolist() == [1.0] * 100


def test_where_two_lie_their_product_counts() -> None:
    middle = shapely.box(105, 100, 115, 110)
    turf = grid()
    factor = map_factors(trims(trim(WEST, 1.2), trim(middle, 0.5)), NIGHT, turf)
    both = (turf.x_m > 105) & (turf.x_m < 110)
    assert factor[both] == pytest.approx(np.full(50, 0.6))
    assert sorted(set(factor.round(9))) == [0.5, 0.6, 1.0, 1.2]


def test_nothing_at_all_is_a_factor_too() -> None:
    assert map_factors(trims(trim(WEST, 0.0)), NIGHT, grid()).sum() == 100.0


@pytest.mark.parametrize(("day", "holds"), [(13, False), (14, True), (16, True), (17, False)])
def test_first_and_last_night_count(day: int, holds: bool) -> None:
    factor = map_factors(trims(trim(WEST, 1.2)), date(2026, 7, day), grid())
    assert bool(factor.max() > 1.0) is holds


@pytest.mark.parametrize(
    "changed",
    [{"subject": "areas:A-F"}, {"subject": "course"}, {"geometry": None}, {"factor": np.nan}],
)
def test_other_trims_and_what_is_not_whole_change_no_cell(changed: dict[str, Any]) -> None:
    assert (map_factors(trims(trim(WEST, 1.2) | changed), NIGHT, grid()) == 1.0).all()


def test_a_patch_of_several_parts_with_a_hole() -> None:
    ring = shapely.difference(shapely.box(100, 100, 105, 105), shapely.box(101, 101, 104, 104))
    patch = shapely.MultiPolygon([ring, shapely.box(115, 105, 120, 110)])
    turf = grid()
    cells = cells_of_patch(turf, patch)
    assert len(cells) == 25 - 9 + 25
    inside = shapely.contains_xy(patch, turf.x_m[cells], turf.y_m[cells])
    assert inside.all()


def test_ground_of_a_patch_is_that_of_its_turf_at_any_cell_size() -> None:
    for cell_m in (0.5, 1.0, 2.0):
        turf = grid(cell_m)
        assert len(cells_of_patch(turf, WEST)) * turf.cell_m2 == pytest.approx(100.0)


def test_a_patch_far_off_has_no_cells() -> None:
    assert len(cells_of_patch(grid(), shapely.box(900, 900, 950, 950))) == 0


def test_only_drawn_trims_of_the_night_are_told() -> None:
    rows = trims(trim(WEST, 1.2), trim(WEST, 1.1, last_night="2026-07-13"), trim(None, 2.0))
    assert list(map_trims(rows, NIGHT).index) == ["T0"]
    assert map_trims(rows.drop(columns="geometry"), NIGHT).empty


def test_minutes_by_station_do_not_count_a_drawn_trim_again(small_course: Any) -> None:
    from nightwater.desk.course import open_course
    from nightwater.ground.settings import MinuteRules
    from nightwater.night.minutes import station_sums

    with open_course(small_course) as course:
        need = pd.Series(6.0, index=course.ground.areas.index)
        west, none = trims(trim(WEST, 1.2)), trims(trim(WEST, 1.2)).iloc[:0]
        with_it, _ = station_sums(course.ground, need, MinuteRules(), west, NIGHT)
        without, _ = station_sums(course.ground, need, MinuteRules(), none, NIGHT)
    assert with_it == without
    assert len(with_it) > 10


def columns(*wetted: Any) -> sparse.csr_array:
    """Stations that wet cells at so many mm/min."""
    return sparse.csr_array(np.array(wetted, dtype=float).T)


def test_a_patch_acts_on_a_station_by_the_share_of_its_water() -> None:
    turf = grid()
    west = turf.x_m < 110
    even, inside, outside = np.ones(len(turf)), west * 2.0, (~west) * 1.0
    leaning = np.where(west, 3.0, 1.0)
    laid = columns(even, inside, outside, leaning)
    found = acting_patches(trims(trim(WEST, 1.2)), NIGHT, turf, laid, ["E", "I", "O", "L"])
    assert {name: [one.share for one in acts] for name, acts in found.items()} == {
        "E": [pytest.approx(0.5)],
        "I": [pytest.approx(1.0)],
        "L": [pytest.approx(0.75)],
    }
    one = found["E"][0]
    assert (one.subject, one.factor, one.extra_min) == ("map", 1.2, 0.0)
    assert (one.last_night, one.reason, one.author) == (date(2026, 7, 16), "dry knoll", "Ines")


def test_several_patches_act_one_after_the_other_and_only_on_their_nights() -> None:
    turf = grid()
    over = trim(WEST, 1.5, last_night="2026-07-13", first_night="2026-07-01")
    rows = trims(trim(WEST, 1.2), over, trim(WEST, 0.8, reason="wet"))
    found = acting_patches(rows, NIGHT, turf, columns(np.ones(len(turf))), ["S"])
    assert [one.factor for one in found["S"]] == [1.2, 0.8]


def test_a_hair_of_water_a_factor_of_one_and_a_dry_station_are_not_told() -> None:
    turf = grid()
    hair = np.ones(len(turf))
    hair[turf.x_m < 110] = 0.009
    laid = columns(hair, np.zeros(len(turf)))
    assert acting_patches(trims(trim(WEST, 1.2)), NIGHT, turf, laid, ["H", "D"]) == {}
    even = columns(np.ones(len(turf)))
    assert acting_patches(trims(trim(WEST, 1.0)), NIGHT, turf, even, ["S"]) == {}
    stationed = trim(None, 1.2, subject="stations:S")
    assert acting_patches(trims(stationed), NIGHT, turf, even, ["S"]) == {}
