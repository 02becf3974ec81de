"""Maps of rate, depth and shortage of the small course, and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from nightwater.desk.course import Course, open_course
from nightwater.desk.coverage import (
    CoverageMap,
    MapKind,
    area_need_mm,
    cell_need_mm,
    coverage_map,
    night_minutes,
    part_of_map,
)
from nightwater.desk.coverage_figures import GroupBy, cell_groups, coverage_figures
from nightwater.desk.nights import StoredNight, required_night
from nightwater.desk.planning import plan
from nightwater.desk.spot_tonight import head_place_m, spot_tonight
from nightwater.desk.wetting import Wetting, wetting
from nightwater.findings import NotFoundError, UserError
from nightwater.night.plan import Run
from nightwater.spray.uniformity import christiansen_cu, du_lq

NIGHT = date(2026, 7, 14)
AFTERNOON = datetime(2026, 7, 14, 21, tzinfo=UTC)


@pytest.fixture(scope="module")
def course(built_course: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Course]:
    import shutil

    copy = tmp_path_factory.mktemp("coverage") / "small.gpkg"
    shutil.copy(built_course, copy)
    with open_course(copy) as opened:
        plan(opened, NIGHT, who="Pilar", now=AFTERNOON)
        yield opened


@pytest.fixture(scope="module")
def wet(course: Course) -> Wetting:
    return wetting(course)


@pytest.fixture(scope="module")
def stored(course: Course) -> StoredNight:
    return required_night(course, NIGHT)


@pytest.fixture(scope="module")
def depth(wet: Wetting, stored: StoredNight) -> CoverageMap:
    return coverage_map(wet, MapKind.DEPTH, stored)


class TestMaps:
    def test_water_of_the_rate_map_is_the_heads_water_on_turf(self, wet: Wetting) -> None:
        shown = coverage_map(wet, MapKind.RATE, None)
        on_turf_l_s = (wet.patterns.flow_l_s * (1 - wet.matrix.off_turf)).sum()
        assert shown.values.sum() * wet.grid.cell_m2 / 3600 == pytest.approx(on_turf_l_s)
        assert (shown.night, shown.need_mm, shown.suffix) == (None, None, "mm_h")

    def test_water_of_the_night_is_flow_times_minutes(
        self, wet: Wetting, stored: StoredNight, course: Course
    ) -> None:
        shown = coverage_map(wet, MapKind.DEPTH, stored)
        minutes = night_minutes(stored.plan)
        station = course.ground.heads["station"].reindex(wet.matrix.heads)
        run_min = station.map(minutes).fillna(0.0).to_numpy(dtype=float)
        litres = wet.patterns.flow_l_s * 60 * run_min * (1 - wet.matrix.off_turf)
        assert litres.sum() > 1000
        assert shown.values.sum() * wet.grid.cell_m2 == pytest.approx(litres.sum())
        assert (shown.night, shown.state, shown.edition) == (NIGHT, "draft", 1)

    def test_minutes_are_those_that_run_and_not_those_asked_for(self, stored: StoredNight) -> None:
        runs = (Run("S-1", 0, 6, 1, 2), Run("S-1", 60, 7, 2, 2), Run("S-2", 3, 5, 1, 1))
        assert night_minutes(replace(stored.plan, runs=runs)) == {"S-1": 13, "S-2": 5}

    def test_shortage_is_depth_less_the_need_of_the_area(
        self, wet: Wetting, stored: StoredNight
    ) -> None:
        depth = coverage_map(wet, MapKind.DEPTH, stored)
        shortage = coverage_map(wet, MapKind.SHORTAGE, stored)
        needs = area_need_mm(stored.plan)
        fairway = wet.grid.area == wet.grid.areas.index("A-F")
        assert needs["A-F"] > 0
        expected = depth.values[fairway] - needs["A-F"]
        assert shortage.values[fairway] == pytest.approx(expected)
        assert np.array_equal(shortage.even, depth.values)

    def test_a_need_for_each_cell_takes_the_place_of_the_area_s(
        self, wet: Wetting, stored: StoredNight
    ) -> None:
        need = np.linspace(1, 9, len(wet.grid))
        shortage = coverage_map(wet, MapKind.SHORTAGE, stored, need)
        assert shortage.values == pytest.approx(shortage.even - need)
        with pytest.raises(ValueError, match="does not fit"):
            coverage_map(wet, MapKind.SHORTAGE, stored, need[1:])

    def test_an_area_of_which_the_plan_says_nothing_is_not_known(
        self, wet: Wetting, stored: StoredNight
    ) -> None:
        sums = tuple(item for item in stored.plan.sums if item.area != "A-T")
        need = cell_need_mm(replace(stored.plan, sums=sums), wet.grid)
        tee = wet.grid.area == wet.grid.areas.index("A-T")
        assert np.isnan(need[tee]).all()
        assert np.isfinite(need[~tee]).all()

    def test_different_needs_of_one_area_count_by_their_turf(self, stored: StoredNight) -> None:
        (first, second, *_rest) = (item for item in stored.plan.sums if item.area == "A-F")
        sums = (
            replace(first, need_mm=3.0, wetted_m2=100.0),
            replace(second, need_mm=6.0, wetted_m2=200.0),
            replace(second, need_mm=float("nan"), wetted_m2=900.0),
        )
        assert area_need_mm(replace(stored.plan, sums=sums)) == {"A-F": pytest.approx(5.0)}

    @pytest.mark.parametrize("kind", [MapKind.DEPTH, MapKind.SHORTAGE])
    def test_a_depth_needs_a_night(self, wet: Wetting, kind: MapKind) -> None:
        with pytest.raises(UserError, match="needs a night"):
            coverage_map(wet, kind, None)

    def test_a_part_of_a_map_keeps_its_places(self, wet: Wetting) -> None:
        shown = coverage_map(wet, MapKind.RATE, None)
        inside = wet.grid.area == wet.grid.areas.index("A-G")
        part = part_of_map(shown, inside)
        assert len(part.grid) == inside.sum() == len(part.values)
        assert np.array_equal(part.grid.x_m, wet.grid.x_m[inside])
        spot = (float(part.grid.x_m[5]), float(part.grid.y_m[5]))
        assert part.grid.cell_at(*spot) == 5
        off = np.flatnonzero(~inside)[0]
        assert part.grid.cell_at(float(wet.grid.x_m[off]), float(wet.grid.y_m[off])) == -1


class TestFigures:
    def test_an_area_has_the_uniformity_of_its_cells(
        self, course: Course, wet: Wetting, depth: CoverageMap
    ) -> None:
        groups = cell_groups(course.ground, wet, GroupBy.AREA)
        table = coverage_figures(depth, groups, GroupBy.AREA)
        assert sorted(table.index) == ["A-F", "A-G", "A-R", "A-T"]
        cells = depth.values[wet.grid.area == wet.grid.areas.index("A-F")]
        row = table.loc["A-F"]
        assert row["du_lq"] == pytest.approx(du_lq(cells))
        assert row["cu"] == pytest.approx(christiansen_cu(cells))
        assert row["turf_m2"] == pytest.approx(260 * 50, rel=0.01)
        assert row["mean_mm"] == pytest.approx(cells.mean())
        assert row["scheduling_coefficient"] > 1
        assert row["window_m"] == pytest.approx(np.sqrt(0.05 * row["turf_m2"]), abs=0.5)

    def test_water_that_is_lacking_is_told_in_cubic_metres(
        self, course: Course, wet: Wetting, depth: CoverageMap
    ) -> None:
        assert depth.need_mm is not None
        short = np.maximum(depth.need_mm - depth.values, 0)
        groups = cell_groups(course.ground, wet, GroupBy.COURSE)
        row = coverage_figures(depth, groups, GroupBy.COURSE).loc["course"]
        assert row["short_m3"] == pytest.approx(np.nansum(short) * wet.grid.cell_m2 / 1000)
        assert row["short_share"] == pytest.approx((short > 0).mean())
        assert row["need_mm"] == pytest.approx(depth.need_mm.mean())

    def test_areas_holes_kinds_and_stations_hold_the_same_water(
        self, course: Course, wet: Wetting, depth: CoverageMap
    ) -> None:
        water = []
        for by in GroupBy:
            table = coverage_figures(depth, cell_groups(course.ground, wet, by), by)
            water.append((table["mean_mm"] * table["turf_m2"]).sum())
        assert water == pytest.approx([water[0]] * len(water))

    def test_a_rate_tells_nothing_of_need(self, course: Course, wet: Wetting) -> None:
        shown = coverage_map(wet, MapKind.RATE, None)
        table = coverage_figures(shown, cell_groups(course.ground, wet, GroupBy.HOLE), GroupBy.HOLE)
        assert list(table["label"]) == ["Hole 1"]
        assert "mean_mm_h" in table
        assert "short_m3" not in table

    def test_kinds_and_the_course_have_no_window(
        self, course: Course, wet: Wetting, depth: CoverageMap
    ) -> None:
        groups = cell_groups(course.ground, wet, GroupBy.KIND)
        table = coverage_figures(depth, groups, GroupBy.KIND)
        assert set(table.index) == {"green", "tee", "fairway", "rough"}
        assert table["scheduling_coefficient"].isna().all()

    def test_a_station_answers_for_the_cells_that_it_waters_most(
        self, course: Course, wet: Wetting
    ) -> None:
        groups = cell_groups(course.ground, wet, GroupBy.STATION)
        x_m, y_m = head_place_m(course.ground, "H-F006")
        cell = wet.grid.cell_at(x_m, y_m)
        assert groups.ids[groups.of_cell[cell]] == "S-F006"

    def test_only_some_groups(self, course: Course, wet: Wetting) -> None:
        groups = cell_groups(course.ground, wet, GroupBy.AREA)
        only = groups.only(["A-T", "A-G"])
        assert set(only.ids) == {"A-T", "A-G"}
        tee = wet.grid.area == wet.grid.areas.index("A-T")
        assert set(only.of_cell[tee]) == {only.ids.index("A-T")}
        fairway = wet.grid.area == wet.grid.areas.index("A-F")
        assert set(only.of_cell[fairway]) == {-1}


class TestSpot:
    def test_the_heads_of_a_spot_give_the_depth_of_its_cell(
        self, course: Course, wet: Wetting, stored: StoredNight
    ) -> None:
        shown = coverage_map(wet, MapKind.DEPTH, stored)
        place = head_place_m(course.ground, "H-F006")
        spot = spot_tonight(course.ground, wet, shown, stored, place)
        assert spot.area == "A-F"
        assert spot.heads[0].head == "H-F006"
        assert len(spot.heads) >= 2  # the next one throws 19.8 m and stands 20 m away
        assert spot.depth_mm == pytest.approx(shown.values[wet.grid.cell_at(*place)])
        assert spot.rate_mm_h == pytest.approx(sum(one.rate_mm_h for one in spot.heads))
        for one in spot.heads:
            assert one.depth_mm == pytest.approx(one.rate_mm_h * one.run_min / 60)
        assert spot.need_mm == pytest.approx(area_need_mm(stored.plan)["A-F"])

    def test_without_a_night_there_are_rates_alone(self, course: Course, wet: Wetting) -> None:
        shown = coverage_map(wet, MapKind.RATE, None)
        place = head_place_m(course.ground, "H-F006")
        spot = spot_tonight(course.ground, wet, shown, None, place)
        assert spot.rate_mm_h > 0
        assert np.isnan(spot.depth_mm)
        assert np.isnan(spot.need_mm)
        assert np.isnan(spot.heads[0].run_min)

    def test_a_head_without_a_station_gives_nothing_at_night(
        self, course: Course, wet: Wetting, stored: StoredNight
    ) -> None:
        heads = course.ground.heads.copy()
        heads.loc["H-F006", "station"] = None
        ground = replace(course.ground, heads=heads)
        shown = coverage_map(wet, MapKind.DEPTH, stored)
        place = head_place_m(ground, "H-F006")
        spot = spot_tonight(ground, wet, shown, stored, place)
        lonely = next(one for one in spot.heads if one.head == "H-F006")
        assert lonely.station is None
        assert np.isnan(lonely.depth_mm)
        assert np.isfinite(spot.depth_mm)

    def test_off_the_turf_there_is_nothing(
        self, course: Course, wet: Wetting, stored: StoredNight
    ) -> None:
        shown = coverage_map(wet, MapKind.DEPTH, stored)
        spot = spot_tonight(course.ground, wet, shown, stored, (0.0, 0.0))
        assert (spot.area, spot.heads) == (None, ())
        assert np.isnan(spot.rate_mm_h)

    def test_a_head_that_is_not_there(self, course: Course) -> None:
        with pytest.raises(NotFoundError, match="no head 'H-9'"):
            head_place_m(course.ground, "H-9")
