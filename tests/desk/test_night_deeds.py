"""Ines compares, pins and films a night of the small course."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from nightwater.desk.approving import approve
from nightwater.desk.changing import change_lines, change_rows, compare, signed
from nightwater.desk.course import Course, open_course
from nightwater.desk.exceptions import TrimWish, add_trim
from nightwater.desk.filming import film, main_loads
from nightwater.desk.nights import StoredNight, stored_night
from nightwater.desk.pinning import minute_of, pin, pin_and_replan, try_pin, unpin
from nightwater.desk.planning import plan
from nightwater.desk.sheet import clock, sheet_json
from nightwater.desk.wetting import wetting
from nightwater.findings import UserError
from nightwater.night.plan import Pin
from nightwater.units import UnitSystem

NIGHT, NEXT = date(2026, 7, 14), date(2026, 7, 15)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
ZONE = "America/Denver"


@pytest.fixture
def course(built_course: Path, tmp_path: Path) -> Iterator[Course]:
    copy = tmp_path / "night.gpkg"
    shutil.copy(built_course, copy)
    with open_course(copy) as opened:
        yield opened


@pytest.fixture
def draft(course: Course) -> StoredNight:
    return plan(course, NIGHT, who="Ines", now=NOW)


def trimmed(course: Course) -> StoredNight:
    """The same night again, with the greens trimmed to half."""
    wish = TrimWish("kind:green", 0.5, 0.0, NIGHT, NIGHT, "firm for the cup")
    add_trim(course, wish, who="Ines")
    return plan(course, NIGHT, who="Ines", now=NOW)


# What changes


def test_without_an_approved_night_there_is_nothing_to_compare(
    course: Course, draft: StoredNight
) -> None:
    assert compare(course, draft) is None
    assert change_lines(None, UnitSystem.US) == [
        "No other night was approved yet, so nothing to compare with."
    ]


def test_an_edition_is_compared_to_the_approved_one_of_its_date(
    course: Course, draft: StoredNight
) -> None:
    approve(course, draft.id, who="Ines", now=NOW)
    made = compare(course, trimmed(course))
    assert made is not None
    assert made.baseline == "the approved night of 14 July 2026 (edition 1)"
    reasons = {total.name: total for total in made.by_reason()}
    assert reasons["trim"].stations == 4
    assert reasons["trim"].minutes < 0
    assert {total.name for total in made.by_kind()} == {"green"}
    assert made.beyond == 4
    assert made.total.litres == pytest.approx(sum(t.litres for t in reasons.values()))


def test_the_approved_edition_is_not_compared_to_itself(course: Course, draft: StoredNight) -> None:
    approved = approve(course, draft.id, who="Ines", now=NOW)
    assert compare(course, approved) is None


def test_the_next_night_is_compared_to_the_one_before(course: Course, draft: StoredNight) -> None:
    approve(course, draft.id, who="Ines", now=NOW)
    made = compare(course, plan(course, NEXT, who="Ines", now=NOW))
    assert made is not None
    assert "14 July 2026" in made.baseline


def test_an_ordinary_night_without_history_is_this_one_left_alone(
    course: Course, draft: StoredNight
) -> None:
    made = compare(course, trimmed(course), "ordinary")
    assert made is not None
    assert made.baseline == "this night without trims, holds and limits"
    assert {total.name for total in made.by_reason()} <= {"trim", "whole minutes"}
    for change in made.changed:
        before = next(s for s in draft.plan.sums if s.station == change.station)
        assert change.before_min == before.run_min


def test_rows_and_lines_tell_the_same_total(course: Course, draft: StoredNight) -> None:
    approve(course, draft.id, who="Ines", now=NOW)
    made = compare(course, trimmed(course))
    assert made is not None
    whole = made.total.litres / 1000
    for by in ("reason", "kind", "area", "station"):
        rows = change_rows(made, course.ground, by)
        assert sum(float(str(row["change_m3"])) for row in rows) == pytest.approx(whole)
    first, *rest = change_lines(made, UnitSystem.METRIC)
    assert "4 stations change" in first
    assert f"{signed(made.total.litres, UnitSystem.METRIC)}" in first
    assert any(line.startswith("trims: 4 stations") for line in rest)


def test_unknown_ways_are_refused(course: Course, draft: StoredNight) -> None:
    with pytest.raises(UserError, match="last or ordinary"):
        compare(course, draft, "better")  # type: ignore[arg-type]
    with pytest.raises(UserError, match="zero or more"):
        compare(course, draft, "ordinary", -0.1)
    made = compare(course, draft, "ordinary")
    assert made is not None
    with pytest.raises(UserError, match="not by 'hole'"):
        change_rows(made, course.ground, "hole")


def test_the_sheet_tells_what_changes(course: Course, draft: StoredNight) -> None:
    told = ["Against yesterday: 4 stations change."]
    document = sheet_json(draft, course.ground, course.settings, changes=told)
    assert document["changes"] == told
    assert sheet_json(draft, course.ground, course.settings)["changes"] == []


# Pins


def first_start(stored: StoredNight, station: str) -> str:
    start = min(run.start_min for run in stored.plan.runs if run.station == station)
    return clock(stored.plan, start, ZONE)


def test_a_start_is_tried_before_the_referee_and_nothing_is_kept(
    course: Course, draft: StoredNight
) -> None:
    free = clock(draft.plan, draft.plan.finish_min + 5, ZONE)
    tried = try_pin(course, draft.id, "G0", free, who="Ines")
    assert (tried.label, tried.before, tried.after) == ("G0", first_start(draft, "S-G0"), free)
    assert tried.errors == ()
    latest = stored_night(course, NIGHT)
    assert latest is not None
    assert latest.id == draft.id


def test_a_pin_is_kept_in_the_next_draft_and_can_be_approved(
    course: Course, draft: StoredNight
) -> None:
    free = clock(draft.plan, draft.plan.finish_min + 5, ZONE)
    kept = pin(course, draft.id, "G0", free, who="Ines", now=NOW)
    assert (kept.edition, kept.state) == (draft.edition + 1, "draft")
    assert kept.plan.pins == (Pin("S-G0", draft.plan.finish_min + 5, "Ines"),)
    assert first_start(kept, "S-G0") == free
    assert first_start(kept, "S-G1") == first_start(draft, "S-G1")
    assert approve(course, kept.id, who="Ines", now=NOW).state == "approved"


def crowded(draft: StoredNight) -> str:
    """A minute at which the pump has least to spare, as a clock time."""
    flow = np.array(draft.plan.flow_l_s)
    return clock(draft.plan, int(flow.argmax()), ZONE)


def idle_station(draft: StoredNight, at: str) -> str:
    minute = minute_of(draft.plan, at, ZONE)
    busy = {r.station for r in draft.plan.runs if r.start_min <= minute < r.start_min + r.run_min}
    flows = {s.station: s.flow_l_s for s in draft.plan.sums if s.station not in busy}
    return max((name for name in flows if name.startswith("S-F")), key=lambda name: flows[name])


def test_what_the_referee_refuses_is_not_kept_but_planned_around(
    course: Course, draft: StoredNight
) -> None:
    at = crowded(draft)
    station = idle_station(draft, at)
    tried = try_pin(course, draft.id, station, at, who="Ines")
    assert "pump-overdrawn" in {finding.code for finding in tried.errors}
    with pytest.raises(UserError, match="cannot start at"):
        pin(course, draft.id, station, at, who="Ines", now=NOW)
    around = pin_and_replan(course, draft.id, station, at, who="Ines", now=NOW)
    assert first_start(around, station) == at
    assert not [f for f in around.plan.findings if f.severity == "error"]
    assert [one.station for one in around.plan.pins] == [station]


def test_planning_again_keeps_the_pins_of_the_draft(course: Course, draft: StoredNight) -> None:
    free = clock(draft.plan, draft.plan.finish_min + 5, ZONE)
    kept = pin(course, draft.id, "G0", free, who="Ines", now=NOW)
    again = plan(course, NIGHT, who="Ines", now=NOW)
    assert first_start(again, "S-G0") == free
    assert again.plan.pins == kept.plan.pins
    approve(course, again.id, who="Ines", now=NOW)
    assert plan(course, NIGHT, who="Ines", now=NOW).plan.pins == ()


def test_a_pin_is_taken_out(course: Course, draft: StoredNight) -> None:
    free = clock(draft.plan, draft.plan.finish_min + 5, ZONE)
    kept = pin(course, draft.id, "G0", free, who="Ines", now=NOW)
    bare = unpin(course, kept.id, "S-G0", now=NOW)
    assert bare.plan.pins == ()
    assert first_start(bare, "S-G0") == free
    with pytest.raises(UserError, match="is not pinned"):
        unpin(course, bare.id, "S-G0", now=NOW)


def test_only_a_draft_is_pinned(course: Course, draft: StoredNight) -> None:
    approve(course, draft.id, who="Ines", now=NOW)
    with pytest.raises(UserError, match="only a draft can be changed"):
        try_pin(course, draft.id, "G0", "23:00", who="Ines")


@pytest.mark.parametrize(
    ("station", "start", "match"),
    [
        ("G0", "12:00", "is not in this night"),
        ("G0", "soon", "no clock time"),
        ("G0", "25:10", "no clock time"),
        ("Q9", "23:00", "no row 'Q9'"),
    ],
)
def test_a_pin_that_cannot_be_is_refused(
    course: Course, draft: StoredNight, station: str, start: str, match: str
) -> None:
    with pytest.raises(UserError, match=match):
        try_pin(course, draft.id, station, start, who="Ines")


def test_every_minute_has_its_clock_time(course: Course, draft: StoredNight) -> None:
    for minute in range(0, draft.plan.window.minutes + 1, 13):
        assert minute_of(draft.plan, clock(draft.plan, minute, ZONE), ZONE) == minute


# Film


def test_depth_so_far_grows_to_what_the_matrix_lays_in_all(
    course: Course, draft: StoredNight
) -> None:
    made = film(course, draft.plan, step_min=30)
    grown = np.diff(made.depth_mm, axis=0)
    assert np.nanmin(grown) >= -1e-9
    assert np.nanmax(made.depth_mm[0]) == 0
    wet = wetting(course, 2.0)
    total: dict[str, float] = {}
    for run in draft.plan.runs:
        total[run.station] = total.get(run.station, 0.0) + run.run_min
    depth = wet.depth_mm(total)
    for column, area in enumerate(made.areas):
        mine = wet.grid.area == wet.grid.areas.index(area)
        assert made.depth_mm[-1, column] == pytest.approx(depth[mine].mean())


def test_the_main_carries_the_whole_night_within_its_limit(
    course: Course, draft: StoredNight
) -> None:
    loads = main_loads(course, draft.plan)
    assert set(loads["pipe"]) == {"P-main"}
    assert loads["flow_l_s"].to_numpy() == pytest.approx(np.array(draft.plan.flow_l_s))
    assert loads["share"].max() <= 1 + 1e-9


def test_without_mains_the_fullest_pipes_come_first(course: Course, draft: StoredNight) -> None:
    pipes = course.ground.pipes.assign(kind="lateral")
    bare = replace(course, ground=course.ground.with_table("pipes", pipes))
    loads = main_loads(bare, draft.plan, most=3)
    peaks = loads.groupby("pipe", sort=False)["share"].max()
    assert len(peaks) == 3
    assert list(peaks) == sorted(peaks, reverse=True)
