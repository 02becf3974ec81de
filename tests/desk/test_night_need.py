"""Need of each cell on a stored night: the plan's, moved by readings and trims on the map."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely

from nightwater.desk.course import Course
from nightwater.desk.coverage import MapKind, cell_need_mm, coverage_map
from nightwater.desk.exceptions import TrimWish, add_trim
from nightwater.desk.fitting import needs_of_cells
from nightwater.desk.needing import need
from nightwater.desk.night_need import night_need, planned_cells_mm
from nightwater.desk.nights import StoredNight
from nightwater.desk.planning import plan
from nightwater.desk.tonight_water import tonight_water
from nightwater.desk.wetting import wetting
from nightwater.spray.grid import TurfGrid, turf_grid

NIGHT = date(2026, 7, 14)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


@pytest.fixture
def stored(course: Course) -> StoredNight:
    return plan(course, NIGHT, who="Pilar", now=NOW)


@pytest.fixture
def grid(course: Course) -> TurfGrid:
    return turf_grid(course.ground)


def knoll(course: Course) -> shapely.Geometry:
    shape: shapely.Geometry = course.ground.areas.geometry.loc["A-F"].centroid.buffer(10.0)
    return shape


def inside(course: Course, grid: TurfGrid) -> Any:
    return shapely.contains_xy(knoll(course), grid.x_m, grid.y_m)


def draw(course: Course, factor: float, first: date = NIGHT) -> None:
    wish = TrimWish("map", factor, extra_min=0.0, first_night=first, last_night=first,
                    reason="dry knoll", patch=knoll(course))  # fmt: skip
    add_trim(course, wish, who="Ines")


def read(course: Course, vwc_pct: float) -> None:
    row = {"area": None, "time": "2026-07-14T18:00:00Z", "vwc_pct": vwc_pct, "depth_mm": 200.0,
           "meter": "probe 1", "author": "Pilar", "geometry": knoll(course).centroid}  # fmt: skip
    course.file.append("readings", pd.DataFrame([row], index=pd.Index(["r1"], name="id")))


class TestOfTheNight:
    def test_where_nothing_moves_it_it_is_the_areas(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        found = night_need(course, stored, grid)
        np.testing.assert_allclose(found.need_mm, cell_need_mm(stored.plan, grid))
        assert (found.moved, found.reason) == (0, "")
        assert found.words.startswith("Need is that of each area; no slope, reading or trim")

    def test_a_drawn_trim_multiplies_its_patch(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        draw(course, 1.5)
        found, patch = night_need(course, stored, grid), inside(course, grid)
        of_area = cell_need_mm(stored.plan, grid)
        assert patch.sum() > 200
        np.testing.assert_allclose(found.need_mm[patch], 1.5 * of_area[patch])
        np.testing.assert_allclose(found.need_mm[~patch], of_area[~patch])
        assert found.moved == patch.sum()
        assert f"move {patch.sum():,} cells from their area's" in found.words

    def test_a_trim_of_another_night_moves_nothing(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        draw(course, 1.5, date(2026, 7, 20))
        assert night_need(course, stored, grid).moved == 0

    def test_it_is_what_the_minutes_of_that_night_were_fitted_to(self, course: Course) -> None:
        draw(course, 1.5)
        read(course, 5.0)
        stored = plan(course, NIGHT, who="Pilar", now=NOW)
        laid = wetting(course)
        needs, _ = needs_of_cells(course, laid.grid, need(course, NIGHT), NIGHT)
        found = night_need(course, stored, laid.grid)
        np.testing.assert_allclose(found.need_mm, needs.need_mm, rtol=1e-9)
        assert found.moved > inside(course, laid.grid).sum()  # the reading moves the whole area

    def test_a_dry_reading_raises_the_need_and_a_wet_one_never_below_nothing(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        before = night_need(course, stored, grid).need_mm
        mine = grid.area == grid.areas.index("A-F")
        read(course, 5.0)
        after = night_need(course, stored, grid).need_mm
        assert (after[mine] > before[mine]).all()
        np.testing.assert_allclose(after[~mine], before[~mine])

    def test_without_an_account_it_is_the_areas_and_says_why(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        draw(course, 1.5)
        far = replace(stored, plan=replace(stored.plan, night=date(2027, 7, 14)))
        found = night_need(course, far, grid)
        np.testing.assert_allclose(found.need_mm, cell_need_mm(far.plan, grid))
        assert "weather" in found.reason
        assert found.words == f"Need is that of each area: {found.reason}"


class TestSlopes:
    """Heads with levels of a ridge along the fairway; October, when slopes count."""

    AUTUMN = date(2026, 10, 14)

    def factors(self, course: Course, grid: TurfGrid, share: float = 0.7) -> Any:
        heads = course.ground.heads
        along = heads.geometry.y - heads.geometry.y.mean()
        ground = course.ground.with_table("heads", heads.assign(elevation_m=-0.15 * along.abs()))
        rules = replace(course.settings, need=replace(course.settings.need, slope_share=share))
        steep = replace(course, ground=ground, settings=rules)
        wanted = need(course, NIGHT)
        return needs_of_cells(steep, grid, wanted, self.AUTUMN)[0], wanted.table["need_mm"]

    def test_the_south_side_needs_more_and_the_area_as_much(
        self, course: Course, grid: TurfGrid
    ) -> None:
        found, of_area = self.factors(course, grid)
        place = grid.areas.index("A-F")
        mine = grid.area == place
        middle = course.ground.heads.geometry.y.mean()
        south, north = mine & (grid.y_m < middle - 15), mine & (grid.y_m > middle + 8)
        assert found.need_mm[south].mean() > 1.03 * found.need_mm[north].mean()
        assert found.need_mm[mine].mean() == pytest.approx(of_area["A-F"], rel=1e-6)

    def test_the_setting_leaves_slopes_out(self, course: Course, grid: TurfGrid) -> None:
        found, of_area = self.factors(course, grid, share=0.0)
        mine = grid.area == grid.areas.index("A-F")
        np.testing.assert_allclose(found.need_mm[mine], of_area["A-F"])


class TestOfThePlan:
    def needs(self, course: Course, grid: TurfGrid) -> Any:
        return needs_of_cells(course, grid, need(course, NIGHT), NIGHT)[0]

    def test_the_plans_need_of_an_area_counts_not_todays(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        """2 mm more by the plan are 2 mm more on each cell, 3 mm where a trim says 1.5 times."""
        draw(course, 1.5)
        sums = tuple(replace(one, need_mm=one.need_mm + 2.0) for one in stored.plan.sums)
        found = self.needs(course, grid)
        plain = planned_cells_mm(stored.plan, grid, found)
        more = planned_cells_mm(replace(stored.plan, sums=sums), grid, found)
        patch, known = inside(course, grid), np.isfinite(plain)
        np.testing.assert_allclose((more - plain)[patch & known], 3.0)
        np.testing.assert_allclose((more - plain)[~patch & known], 2.0)

    def test_what_readings_take_never_leaves_less_than_nothing(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        found = self.needs(course, grid)
        wet = replace(found, untrimmed_mm=found.area_mm - 1e3)
        wanted = planned_cells_mm(stored.plan, grid, wet)
        assert np.nanmax(wanted) == 0.0
        assert np.nanmin(wanted) == 0.0

    def test_an_area_of_which_the_plan_says_nothing_stays_unknown(
        self, course: Course, stored: StoredNight, grid: TurfGrid
    ) -> None:
        draw(course, 1.5)
        sums = tuple(one for one in stored.plan.sums if one.area != "A-F")
        wanted = planned_cells_mm(replace(stored.plan, sums=sums), grid, self.needs(course, grid))
        mine = grid.area == grid.areas.index("A-F")
        assert np.isnan(wanted[mine]).all()
        assert np.isfinite(wanted[~mine]).any()


class TestUsed:
    def test_the_map_is_short_of_the_cells_need(self, course: Course, stored: StoredNight) -> None:
        draw(course, 1.5)
        wet = wetting(course)
        of_cell = night_need(course, stored, wet.grid).need_mm
        by_area = coverage_map(wet, MapKind.SHORTAGE, stored)
        by_cell = coverage_map(wet, MapKind.SHORTAGE, stored, of_cell)
        patch = inside(course, wet.grid)
        assert (by_cell.values[patch] < by_area.values[patch]).all()
        np.testing.assert_allclose(by_cell.values[~patch], by_area.values[~patch])

    def test_dry_spots_go_by_the_same_needs(self, course: Course, stored: StoredNight) -> None:
        draw(course, 2.0)
        water = tonight_water(course, stored)
        np.testing.assert_allclose(
            water.need_mm, night_need(course, stored, water.matrix.grid).need_mm
        )
        patch = inside(course, water.matrix.grid)
        assert (
            water.need_mm[patch].mean()
            > 1.5 * cell_need_mm(stored.plan, water.matrix.grid)[patch].mean()
        )
