"""Trims kept, ended, and what each costs; need by cell of a whole course."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely

from nightwater.desk.course import Course, open_course, silent
from nightwater.desk.exceptions import TrimWish, add_trim, end_exception, exceptions
from nightwater.desk.fitting import fitted_minutes, needs_of_cells
from nightwater.desk.needing import need
from nightwater.desk.patches import outline_patch, patch_around, patch_of_subject
from nightwater.desk.planning import night_minutes
from nightwater.desk.trimming import standing_trims
from nightwater.desk.wetting import wetting
from nightwater.findings import NotFoundError, UserError
from nightwater.night.minutes import station_sums
from nightwater.spray.grid import turf_grid

NIGHT = date(2026, 7, 14)
LAST = date(2026, 7, 17)


@pytest.fixture
def course(small_course: Path) -> Any:
    with open_course(small_course) as opened:
        yield opened


def wish(subject: str = "map", factor: float = 1.2, **changed: Any) -> TrimWish:
    usual = {"extra_min": 0.0, "first_night": NIGHT, "last_night": LAST, "reason": "dry knoll"}
    return TrimWish(subject, factor, **(usual | changed))


def fairway(course: Course) -> shapely.Geometry:
    shape: shapely.Geometry = course.ground.areas.geometry.loc["A-F"]
    return shape


def in_fairway(course: Course, radius_m: float = 10.0) -> shapely.Geometry:
    return shapely.buffer(fairway(course).centroid, radius_m)


def by_method(course: Course, method: str) -> Course:
    minutes = replace(course.settings.minutes, method=method)
    return replace(course, settings=replace(course.settings, minutes=minutes))


def planned_litres(course: Course) -> float:
    """Water that the planner asks for tonight, under the trims that are kept now."""
    sums, _ = night_minutes(course, need(course, NIGHT), NIGHT, silent)
    return sum(one.run_min * one.flow_l_s * 60 for one in sums)


class TestKeeping:
    def test_a_patch_is_kept_with_all_that_was_said(self, course: Course) -> None:
        patch = in_fairway(course)
        add_trim(course, wish(patch=patch), who="Ines")
        row = course.file.running("trims").iloc[0]
        assert (row["subject"], row["factor"], row["reason"]) == ("map", 1.2, "dry knoll")
        assert (row["author"], row["last_night"]) == ("Ines", "2026-07-17")
        assert row["geometry"].geom_type == "MultiPolygon"
        assert row["geometry"].area == pytest.approx(patch.area)

    def test_a_patch_takes_no_minutes(self, course: Course) -> None:
        with pytest.raises(UserError, match="no added minutes"):
            add_trim(course, wish(patch=in_fairway(course), extra_min=5.0), who="Ines")
        assert course.file.running("trims").empty

    @pytest.mark.parametrize(
        ("changed", "said"),
        [
            ({"reason": "  "}, "Give the reason"),
            ({"last_night": date(2026, 7, 13)}, "lies before the first"),
            ({"factor": 6.0}, "must lie between"),
            ({"factor": 1.0}, "changes nothing"),
            ({"patch": None}, "no patch"),
            ({"patch": shapely.Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])}, "crosses itself"),
            ({"patch": shapely.box(0, 0, 0.5, 0.5)}, "smaller than 1 m²"),
        ],
    )
    def test_what_will_not_do_is_refused(
        self, course: Course, changed: dict[str, Any], said: str
    ) -> None:
        asked = {"patch": in_fairway(course), "factor": 1.2} | changed
        with pytest.raises(UserError, match=said):
            add_trim(course, wish(**asked), who="Ines")
        assert course.file.running("trims").empty

    def test_an_ended_trim_stays_with_who_when_and_why(self, course: Course) -> None:
        from datetime import UTC, datetime

        add_trim(course, wish("kind:rough", 0.8), who="Ines")
        name = str(course.file.running("trims").index[0])
        now = datetime(2026, 7, 15, 21, tzinfo=UTC)
        end_exception(course, name, who="Tomas", now=now, why="it rained")
        row = course.file.running("trims").loc[name]
        assert row["last_night"] == "2026-07-14"
        assert (row["reason"], row["author"]) == ("dry knoll", "Ines")
        assert (row["ended_by"], row["ended_why"]) == ("Tomas", "it rained")
        (told,) = exceptions(course)
        assert told["ended"] == (
            "Tomas, 2026-07-15 15:00 (it was to last until 2026-07-17): it rained"
        )
        with pytest.raises(UserError, match="over already"):
            end_exception(course, name, who="Ines", now=now)
        with pytest.raises(NotFoundError):
            end_exception(course, "nothing", who="Tomas", now=now)


class TestPatches:
    def test_round_a_head_by_id(self, course: Course) -> None:
        patch = patch_around(course, "H-F003", 12.0)
        assert patch.area == pytest.approx(np.pi * 144, rel=0.01)
        assert patch.centroid.distance(course.ground.heads.geometry.loc["H-F003"]) < 1e-6

    @pytest.mark.parametrize(
        ("head", "radius_m"), [("H-F99", 5.0), ("H-F003", 0.0), ("H-F003", 999)]
    )
    def test_no_head_or_no_radius(self, course: Course, head: str, radius_m: float) -> None:
        with pytest.raises(UserError):
            patch_around(course, head, radius_m)

    def test_typed_corners(self) -> None:
        assert outline_patch("0 0, 10 0, 10 5").area == 25.0

    @pytest.mark.parametrize("text", ["", "0 0, 10 0", "a b, c d, e f", "1 2 3 4, 5"])
    def test_corners_that_do_not_read(self, text: str) -> None:
        with pytest.raises(UserError, match="does not read"):
            outline_patch(text)

    @pytest.mark.parametrize(
        ("subject", "around_m", "outline", "said"),
        [
            ("heads:H-F003", None, None, "needs a radius"),
            ("areas:A-F", 5.0, None, "belongs to a head"),
            ("areas:A-F", None, "0 0, 1 0, 1 1", "belongs to a patch"),
        ],
    )
    def test_radius_and_outline_belong_to_their_subject(
        self, course: Course, subject: str, around_m: float, outline: str, said: str
    ) -> None:
        with pytest.raises(UserError, match=said):
            patch_of_subject(course, subject, around_m, outline)

    def test_others_are_passed_on(self, course: Course) -> None:
        assert patch_of_subject(course, "areas:A-F", None, None) == ("areas:A-F", None)
        where, patch = patch_of_subject(course, "heads:H-F003", 5.0, None)
        assert where == "map"
        assert patch is not None


class TestCosts:
    def test_a_patch_costs_its_need_times_its_turf_over_efficiency(self, course: Course) -> None:
        add_trim(course, wish(patch=in_fairway(course)), who="Ines")
        one = standing_trims(course, NIGHT).tonight[0]
        need_mm = need(course, NIGHT).table.loc["A-F", "need_mm"]
        efficiency = 0.4 + 0.6 * 0.7  # of DUlq 0.7
        assert one.ground_m2 == pytest.approx(np.pi * 100, rel=0.03)
        assert one.litres == pytest.approx(one.ground_m2 * need_mm * 0.2 / efficiency)

    def test_two_patches_on_one_spot_each_count_on_top_of_the_other(self, course: Course) -> None:
        for factor in (1.2, 0.5):
            add_trim(course, wish(factor=factor, patch=in_fairway(course)), who="Ines")
        by_factor = {one.factor: one.litres for one in standing_trims(course, NIGHT).tonight}
        # The half is taken of 1.2, the fifth is added to a half: −0.6 and +0.1.
        assert by_factor[0.5] == pytest.approx(-6 * by_factor[1.2])

    def test_a_patch_without_water_saves_what_it_would_get(self, course: Course) -> None:
        add_trim(course, wish(factor=0.0, patch=in_fairway(course)), who="Ines")
        one = standing_trims(course, NIGHT).tonight[0]
        need_mm = need(course, NIGHT).table.loc["A-F", "need_mm"]
        assert one.litres == pytest.approx(-one.ground_m2 * need_mm / (0.4 + 0.6 * 0.7))

    @pytest.mark.parametrize("method", ["fitted", "by_rate"])
    @pytest.mark.parametrize(
        ("subject", "factor"), [("kind:rough", 0.8), ("areas:A-F", 1.3), ("areas:A-G", 0.0)]
    )
    def test_a_trim_costs_what_tonights_minutes_differ_by(
        self, course: Course, method: str, subject: str, factor: float
    ) -> None:
        course = by_method(course, method)
        before = planned_litres(course)
        add_trim(course, wish(subject, factor), who="Ines")
        one = standing_trims(course, NIGHT).tonight[0]
        after = planned_litres(course)
        assert one.litres == pytest.approx(after - before, abs=1e-6)
        assert (one.litres > 0) == (factor > 1)
        assert abs(one.litres) > 100
        assert np.isnan(one.ground_m2)

    def test_what_is_fitted_costs_otherwise_than_by_rate(self, course: Course) -> None:
        add_trim(course, wish("areas:A-F", 1.3), who="Ines")
        litres = [
            standing_trims(by_method(course, method), NIGHT).tonight[0].litres
            for method in ("fitted", "by_rate")
        ]
        assert abs(litres[0] - litres[1]) > 100

    def test_two_trims_each_count_on_top_of_the_other(self, course: Course) -> None:
        """What one costs is tonight's water less that of a night that has the other alone."""
        add_trim(course, wish("kind:rough", 0.5), who="Ines")
        alone = planned_litres(course)
        add_trim(course, wish("areas:A-G", 0.0), who="Ines")
        both = planned_litres(course)
        of = {one.subject: one.litres for one in standing_trims(course, NIGHT).tonight}
        assert of["areas:A-G"] == pytest.approx(both - alone, abs=1e-6)

    def test_the_minutes_are_fitted_once_for_trims_that_stop_no_station(
        self, course: Course, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from nightwater.desk import trimming

        calls: list[int] = []

        def counted(*args: Any, **more: Any) -> Any:
            calls.append(1)
            return fitted_minutes(*args, **more)

        monkeypatch.setattr(trimming, "fitted_minutes", counted)
        for factor in (0.8, 0.9, 1.1):
            add_trim(course, wish("kind:fairway", factor), who="Ines")
        assert len(standing_trims(course, NIGHT).tonight) == 3
        assert len(calls) == 1

    def test_trims_stand_by_when_they_hold(self, course: Course) -> None:
        add_trim(course, wish("kind:rough", 0.8), who="Ines")
        early, late = date(2026, 7, 13), date(2026, 7, 18)
        assert [len(standing_trims(course, day).later) for day in (early, NIGHT, late)] == [1, 0, 0]
        assert [len(standing_trims(course, day).tonight) for day in (early, NIGHT)] == [0, 1]
        assert len(standing_trims(course, late).past) == 1

    def test_one_that_was_ended_before_it_began_is_past(self, course: Course) -> None:
        from datetime import UTC, datetime

        later = wish("kind:rough", 0.8, first_night=LAST)
        add_trim(course, later, who="Ines")
        name = str(course.file.running("trims").index[0])
        end_exception(course, name, who="Ines", now=datetime(2026, 7, 14, 21, tzinfo=UTC))
        standing = standing_trims(course, NIGHT)
        assert (len(standing.later), len(standing.tonight), len(standing.past)) == (0, 0, 1)

    def test_without_weather_the_list_stands_and_says_why_no_litres(self, course: Course) -> None:
        far = date(2027, 7, 14)
        add_trim(course, wish("kind:rough", 0.8, first_night=far, last_night=far), who="Ines")
        standing = standing_trims(course, far)
        assert "weather" in standing.why_no_litres
        assert np.isnan(standing.tonight[0].litres)


def reading(course: Course, vwc_pct: float, at: Any, depth_mm: float = 200.0, **more: Any) -> None:
    row = {
        "area": None,
        "time": "2026-07-14T18:00:00Z",
        "vwc_pct": vwc_pct,
        "depth_mm": depth_mm,
        "meter": "probe 1",
        "author": "Pilar",
        "geometry": at,
    } | more
    number = len(course.file.running("readings"))
    course.file.append("readings", pd.DataFrame([row], index=pd.Index([f"r{number}"], name="id")))


class TestNeedOfCells:
    def test_without_readings_and_trims_it_is_that_of_the_area(self, course: Course) -> None:
        laid, wanted = wetting(course, 2.0), need(course, NIGHT)
        needs, findings = needs_of_cells(course, laid.grid, wanted, NIGHT)
        of_area = wanted.table["need_mm"].reindex(list(laid.grid.areas)).to_numpy(dtype=float)
        plain = of_area[laid.grid.area]
        np.testing.assert_allclose(needs.need_mm, plain)
        assert findings == ()

    def test_a_reading_counts_in_the_area_underfoot(self, course: Course) -> None:
        where = fairway(course).centroid
        reading(course, 5.0, where)
        grid, wanted = turf_grid(course.ground, 2.0), need(course, NIGHT)
        needs, findings = needs_of_cells(course, grid, wanted, NIGHT)
        mine = grid.area == grid.areas.index("A-F")
        assert findings == ()
        assert list(needs.areas.index) == ["A-F"]
        assert (needs.need_mm[mine] > needs.area_mm[mine]).all()
        np.testing.assert_allclose(needs.need_mm[~mine], needs.area_mm[~mine])
        here = grid.cell_at(where.x, where.y)
        assert needs.std_mm[here] == needs.std_mm[mine].min()

    def test_a_reading_off_the_turf_is_told(self, course: Course) -> None:
        reading(course, 5.0, shapely.Point(0, 0))
        reading(course, 5.0, None, area="A-F")
        grid = turf_grid(course.ground, 2.0)
        _, findings = needs_of_cells(course, grid, need(course, NIGHT), NIGHT)
        assert [finding.code for finding in findings] == ["reading-without-place"]
        assert findings[0].message.startswith("2 moisture readings")

    def test_a_patch_multiplies_and_trims_of_stations_do_not(self, course: Course) -> None:
        add_trim(course, wish(patch=in_fairway(course)), who="Ines")
        add_trim(course, wish("areas:A-F", 3.0), who="Ines")
        grid = turf_grid(course.ground, 1.0)
        needs, _ = needs_of_cells(course, grid, need(course, NIGHT), NIGHT)
        inside = shapely.contains_xy(in_fairway(course), grid.x_m, grid.y_m)
        np.testing.assert_allclose(needs.need_mm[inside], 1.2 * needs.area_mm[inside])
        np.testing.assert_allclose(needs.need_mm[~inside], needs.area_mm[~inside])

    def test_fitted_minutes_follow_the_patch(self, course: Course) -> None:
        wanted = need(course, NIGHT)
        need_mm = wanted.table["need_mm"]
        sums, _ = station_sums(
            course.ground, need_mm, course.settings.minutes, course.file.running("trims"), NIGHT
        )
        before = fitted_minutes(course, wanted, NIGHT, sums)
        add_trim(course, wish(factor=2.0, patch=in_fairway(course, 30.0)), who="Ines")
        after = fitted_minutes(course, wanted, NIGHT, sums)
        assert (before.of_cells.trim_factor == 1.0).all()
        assert after.of_cells.trim_factor.max() == 2.0
        assert after.need_mm is after.of_cells.need_mm
        more = after.fit.stations["run_min"].sum() - before.fit.stations["run_min"].sum()
        assert more > 0
        grid = after.wetting.grid
        inside = shapely.contains_xy(in_fairway(course, 25.0), grid.x_m, grid.y_m)
        gained = after.fit.depth_mm - before.fit.depth_mm
        assert gained[inside].mean() > 1.0

    def test_litres_of_all_cells_are_those_of_the_areas(self, course: Course) -> None:
        grid, wanted = turf_grid(course.ground, 1.0), need(course, NIGHT)
        needs, _ = needs_of_cells(course, grid, wanted, NIGHT)
        litres = np.nansum(needs.need_mm) * grid.cell_m2  # 1 mm on 1 m² is 1 L
        ground_m2 = course.ground.areas.geometry.area
        by_area = (wanted.table["need_mm"] * ground_m2).sum()
        assert litres == pytest.approx(by_area, rel=0.02)  # edges fall between cells

    def test_readings_of_two_meters_are_told_and_one_counts(self, course: Course) -> None:
        where = fairway(course).centroid
        for meter, vwc in (("probe 1", 5.0), ("probe 1", 6.0), ("probe 2", 40.0)):
            reading(course, vwc, where, meter=meter)
        grid = turf_grid(course.ground, 2.0)
        needs, findings = needs_of_cells(course, grid, need(course, NIGHT), NIGHT)
        assert [finding.code for finding in findings] == ["readings-of-several-kinds"]
        row = needs.areas.loc["A-F"]
        assert (row["meter"], row["readings"]) == ("probe 1", 2)
        assert row["level_mm"] > 0

    def test_a_dry_end_and_a_wet_end(self, course: Course) -> None:
        west, _, east, _ = fairway(course).bounds
        y = fairway(course).centroid.y
        for x, vwc in ((west + 20, 8.0), (west + 30, 9.0), (east - 20, 24.0), (east - 30, 23.0)):
            reading(course, vwc, shapely.Point(x, y))
        grid = turf_grid(course.ground, 2.0)
        needs, _ = needs_of_cells(course, grid, need(course, NIGHT), NIGHT)
        dry, wet = grid.cell_at(west + 25, y), grid.cell_at(east - 25, y)
        middle = grid.cell_at((west + east) / 2, y)
        assert needs.need_mm[dry] > needs.need_mm[middle] > needs.need_mm[wet]
        assert needs.pattern_mm[dry] > 0 > needs.pattern_mm[wet]
        assert needs.std_mm[middle] > needs.std_mm[dry]

    def test_an_ended_patch_changes_nothing_from_then_on(self, course: Course) -> None:
        from datetime import UTC, datetime

        add_trim(course, wish(patch=in_fairway(course)), who="Ines")
        name = str(course.file.running("trims").index[0])
        grid, wanted = turf_grid(course.ground, 2.0), need(course, NIGHT)
        assert needs_of_cells(course, grid, wanted, NIGHT)[0].trim_factor.max() == 1.2
        end_exception(course, name, who="Ines", now=datetime(2026, 7, 14, 21, tzinfo=UTC))
        assert needs_of_cells(course, grid, wanted, NIGHT)[0].trim_factor.max() == 1.0
        assert course.file.running("trims").loc[name, "geometry"].area > 300
