"""Where pressures at heads come from, and that maps, trials and repairs all take them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pytest

from nightwater.desk import head_pressures as module
from nightwater.desk.course import Course
from nightwater.desk.dry_spots import dry_spots
from nightwater.desk.head_pressures import HeadPressures, head_pressures
from nightwater.desk.planning import plan
from nightwater.desk.tonight_water import tonight_water
from nightwater.desk.trying import HeadChange, try_change
from nightwater.desk.wetting import wetting
from nightwater.ground.record import Ground
from nightwater.ground.settings import FixRules
from nightwater.spray.head_patterns import head_patterns

USE = 0.85


def with_heads(ground: Ground, **values: Any) -> Ground:
    return ground.with_table("heads", ground.heads.assign(**values))


def starved(ground: Ground, kpa: float = 300.0) -> Ground:
    """The record with a pump that holds less than the heads want."""
    return ground.with_table("pumps", ground.pumps.assign(set_pressure_kpa=kpa))


def in_memory(course: Course, ground: Ground) -> Course:
    return Course(
        course.path, course.file, course.settings, ground, course.link_findings, course.kept
    )


class TestOfThePipes:
    def test_regulated_heads_with_enough_keep_their_own(self, course: Course) -> None:
        found = head_pressures(with_heads(course.ground, regulated=True), USE)
        assert found.reason == ""
        assert found.solved == len(course.ground.heads)
        assert found.recorded == 0
        assert found.short == found.open == ()
        assert found.changed_kpa.empty
        assert found.findings == ()
        assert "come from the solved pipes" in found.words

    def test_heads_that_hold_nothing_have_the_lines(self, course: Course) -> None:
        found = head_pressures(with_heads(course.ground, regulated=False), USE)
        assert set(found.open) == set(course.ground.heads.index)
        assert set(found.changed_kpa.index) == set(found.open)
        held = float(course.ground.pumps["set_pressure_kpa"].iloc[0])
        assert (found.changed_kpa < held + 1).all()
        patterns, _ = head_patterns(course.ground, found.changed_kpa)
        plain, _ = head_patterns(course.ground)
        more = patterns.pressure_kpa > plain.pressure_kpa + 1
        assert more.any()
        assert (patterns.flow_l_s[more] > plain.flow_l_s[more]).all()
        assert "hold none and have the line's" in found.words

    def test_heads_that_get_too_little_are_told(self, course: Course) -> None:
        found = head_pressures(starved(course.ground), USE)
        assert found.short
        assert found.open == ()
        (told,) = found.findings
        assert told.code == "pressure-below-design"
        assert f"{len(found.short)} heads get less than their pressure" in told.message
        assert found.short[0] in told.message
        reference = course.ground.nozzles["pressure_kpa"]
        wanted = course.ground.heads["nozzle"].map(reference)[list(found.short)]
        assert (found.changed_kpa[list(found.short)] < wanted).all()

    def test_heads_that_no_pipe_feeds_keep_the_records(self, course: Course) -> None:
        first = course.ground.heads.index[0]
        station = course.ground.heads["station"].copy()
        station[first] = None
        found = head_pressures(with_heads(course.ground, station=station), USE)
        assert found.recorded == 1
        assert found.solved == len(course.ground.heads) - 1
        assert first not in found.changed_kpa.index
        assert "1 that no feed reaches or no station runs keep the record's" in found.words


class TestOfTheRecord:
    def without(self, ground: Ground, table: str) -> Ground:
        return ground.with_table(table, ground.table(table).iloc[:0])

    def test_without_pipes_it_says_why(self, course: Course) -> None:
        found = head_pressures(self.without(course.ground, "pipes"), USE)
        assert (found.solved, found.recorded) == (0, len(course.ground.heads))
        assert found.changed_kpa.empty
        assert "no pipes with a place and an inside diameter" in found.reason
        (told,) = found.findings
        assert told.code == "pressure-from-record"
        assert found.reason in told.message
        assert found.words.startswith("Pressures at the heads are the record's")

    def test_without_heads_on_pipes_it_says_why(self, course: Course) -> None:
        found = head_pressures(self.without(course.ground, "heads"), USE)
        assert "no head stands on a pipe" in found.reason

    def test_heads_of_no_station_cannot_be_solved(self, course: Course) -> None:
        found = head_pressures(with_heads(course.ground, station=None), USE)
        assert "no head of a station could be solved" in found.reason

    def test_the_matrix_is_then_that_of_the_record(self, course: Course) -> None:
        bare = in_memory(course, self.without(course.ground, "pipes"))
        laid = wetting(bare)
        plain, _ = head_patterns(course.ground)
        assert (laid.patterns.flow_l_s == plain.flow_l_s).all()
        assert "pressure-from-record" in [one.code for one in laid.findings]


class TestKept:
    @pytest.fixture
    def solved(self, monkeypatch: pytest.MonkeyPatch) -> list[int]:
        """How often something was really solved; nothing is remembered from other tests."""
        calls: list[int] = []
        real = module._solved

        def counted(ground: Ground, pump_use: float) -> HeadPressures:
            calls.append(1)
            return real(ground, pump_use)

        monkeypatch.setattr(module, "_solved", counted)
        module._kept.clear()
        return calls

    def test_a_record_is_solved_once(self, course: Course, solved: list[int]) -> None:
        first = head_pressures(course.ground, USE)
        assert head_pressures(course.ground, USE) is first
        copied = with_heads(course.ground, regulated=course.ground.heads["regulated"].copy())
        assert head_pressures(copied, USE) is first
        assert len(solved) == 1

    @pytest.mark.parametrize(
        ("table", "column", "value"),
        [
            ("heads", "elevation_m", 1370.0),
            ("nozzles", "flow_l_s", 1.1),
            ("pipes", "diameter_mm", 61.0),
            ("pumps", "set_pressure_kpa", 700.0),
        ],
    )
    def test_what_it_depends_on_solves_it_again(
        self, course: Course, solved: list[int], table: str, column: str, value: float
    ) -> None:
        head_pressures(course.ground, USE)
        rows = course.ground.table(table).assign(**{column: value})
        head_pressures(course.ground.with_table(table, rows), USE)
        assert len(solved) == 2

    def test_a_moved_head_and_another_share_solve_it_again(
        self, course: Course, solved: list[int]
    ) -> None:
        head_pressures(course.ground, USE)
        moved = course.ground.heads.copy()
        moved["geometry"] = moved.geometry.translate(0.5, 0.0)
        head_pressures(course.ground.with_table("heads", moved), USE)
        head_pressures(course.ground, 0.5)
        assert len(solved) == 3

    def test_not_more_than_a_few_are_kept(self, course: Course, solved: list[int]) -> None:
        for step in range(12):
            head_pressures(course.ground, 0.5 + step / 100)
        assert len(module._kept) == module._MOST_KEPT
        assert len(solved) == 12


class TestUsed:
    @pytest.fixture
    def weak(self, course: Course) -> Course:
        """The course with a pump that holds 300 kPa, in memory alone."""
        return in_memory(course, starved(course.ground))

    def test_maps_lay_less_water_where_pressure_lacks(self, course: Course, weak: Course) -> None:
        full, less = wetting(course), wetting(weak)
        assert less.pressures.short
        short = np.isin(less.matrix.heads, less.pressures.short)
        water = [np.asarray(one.matrix.rate_mm_min.sum(axis=0)).ravel() for one in (full, less)]
        assert (less.patterns.flow_l_s[short] < full.patterns.flow_l_s[short]).all()
        assert water[1][short].sum() < water[0][short].sum()
        assert "pressure-below-design" in [one.code for one in less.findings]

    def test_a_lower_pressure_is_a_cause_and_its_repair_gives_the_nozzles_own(
        self, weak: Course
    ) -> None:
        night = planned(weak)
        water = tonight_water(weak, night)
        assert set(water.changed_kpa.index) == set(wetting(weak).pressures.short)
        found = dry_spots(water, FixRules())
        repaired = {one.remedy.cause: one for one in found.mended}
        mended = repaired["low-pressure"]
        assert set(mended.heads) <= set(water.changed_kpa.index)
        assert (mended.added_l_s > 0).all()
        reference = weak.ground.nozzles["pressure_kpa"]
        wanted = weak.ground.heads["nozzle"].map(reference)
        for head, pressure in mended.remedy.pressure_kpa.items():
            assert pressure == wanted[head]

    def test_trying_one_head_leaves_the_pressures_of_the_others(self, weak: Course) -> None:
        water = tonight_water(weak, planned(weak))
        head = next(iter(water.changed_kpa.index))
        tried = try_change(weak, water, str(head), HeadChange(arc_deg=170.0, bearing_deg=10.0))
        # Were other heads taken at the record's pressure they would differ as well.
        assert tried.result.changed == (str(head),)

    def test_a_pressure_that_is_tried_wins_over_the_pipes(self, weak: Course) -> None:
        water = tonight_water(weak, planned(weak))
        head = str(next(iter(water.changed_kpa.index)))
        before = float(water.changed_kpa[head])
        tried = try_change(weak, water, head, HeadChange(pressure_kpa=before + 100.0))
        assert tried.result.changed == (head,)
        gain = tried.result.depth_after_mm - tried.result.depth_before_mm
        assert gain.max() > 0.1
        again = HeadChange(pressure_kpa=before)
        assert try_change(weak, water, head, again).result.changed == ()


def planned(course: Course) -> Any:
    """A night of the small course."""
    return plan(course, date(2026, 7, 14), who="Pilar", now=datetime(2026, 7, 14, 21, tzinfo=UTC))
