"""A night planned with minutes that follow the map, and by rate where the map cannot tell."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.desk.course import Course
from nightwater.desk.fitting import fitted_minutes
from nightwater.desk.needing import need
from nightwater.desk.planning import computed_night
from nightwater.night.document import night_from_document, night_to_document
from nightwater.night.minutes import FITTED, station_sums
from nightwater.night.plan import Night, StationSum
from nightwater.night.referee import referee

NIGHT = date(2026, 7, 14)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


def with_minutes(course: Course, **changes: Any) -> Course:
    rules = replace(course.settings.minutes, **changes)
    return replace(course, settings=replace(course.settings, minutes=rules))


def with_heads(course: Course, heads: pd.DataFrame) -> Course:
    return replace(course, ground=course.ground.with_table("heads", heads))


def told(night: Night, code: str) -> list[str]:
    return [finding.message for finding in night.findings if finding.code == code]


def by_name(night: Night) -> dict[str, StationSum]:
    return {item.station: item for item in night.sums}


def test_minutes_follow_the_map_where_every_head_is_known(course: Course) -> None:
    night = computed_night(course, NIGHT)
    assert {item.multiplier_name for item in night.sums} == {FITTED}
    (words,) = told(night, "minutes-fitted")
    assert f"The minutes of {len(night.sums)} stations follow the map" in words
    assert not told(night, "sum-arithmetic-wrong")


def test_the_sum_still_gives_the_minutes_by_hand(course: Course) -> None:
    for item in computed_night(course, NIGHT).sums:
        by_hand = 60 * item.need_mm / item.rate_mm_h * item.multiplier * item.trim_factor
        assert item.exact_min == pytest.approx(by_hand)
        assert item.run_min in {0, round(by_hand)}
        assert item.run_min == 0 or item.run_min >= item.floor_min


def test_the_footprint_explains_the_fit(course: Course) -> None:
    night = computed_night(course, NIGHT)
    fitted = fitted_minutes(course, need(course, NIGHT), NIGHT, night.sums)
    wet = fitted.wetting
    minutes = {item.station: float(item.run_min) for item in night.sums}
    depth = wet.depth_mm(minutes)
    for place, station in enumerate(wet.stations):
        rates = wet.by_station[:, [place]].toarray().ravel()
        item = by_name(night)[station]
        assert item.footprint_depth_mm == pytest.approx(np.average(depth, weights=rates), rel=1e-4)
        known = np.nan_to_num(fitted.need_mm)
        assert item.footprint_need_mm == pytest.approx(np.average(known, weights=rates), rel=1e-4)


def test_by_rate_is_there_for_the_asking(course: Course) -> None:
    asked = with_minutes(course, method="by_rate")
    night = computed_night(asked, NIGHT)
    assert {item.multiplier_name for item in night.sums} == {"du_lq"}
    assert not told(night, "minutes-fitted")
    needs = need(asked, NIGHT).table["need_mm"]
    trims = asked.table("trims")
    sums, _ = station_sums(asked.ground, needs, asked.settings.minutes, trims, NIGHT)
    assert [item.run_min for item in night.sums] == [item.run_min for item in sums]
    assert all(np.isnan(item.footprint_need_mm) for item in night.sums)


def test_a_station_with_a_head_of_unknown_place_keeps_its_minutes_by_rate(course: Course) -> None:
    heads = course.ground.heads.copy()
    lost = heads.index[0]
    station = heads.at[lost, "station"]
    arc = heads["arc_deg"].astype(float)
    arc[lost], heads["arc_deg"] = 180.0, arc
    bearing = heads["bearing_deg"].astype(float)
    bearing[lost] = np.nan
    night = computed_night(
        with_heads(course, heads.assign(arc_deg=arc, bearing_deg=bearing)), NIGHT
    )
    names = {item.station: item.multiplier_name for item in night.sums}
    assert names.pop(station) == "du_lq"
    assert set(names.values()) == {FITTED}
    assert any(str(lost) in words for words in told(night, "pattern-not-known"))


def test_a_course_without_patterns_is_planned_by_rate(course: Course) -> None:
    heads = course.ground.heads
    lost = with_heads(course, heads.assign(arc_deg=180.0, bearing_deg=np.nan))
    night = computed_night(lost, NIGHT)
    assert {item.multiplier_name for item in night.sums} == {"du_lq"}
    assert len(told(night, "pattern-not-known")) > 0


def test_a_trim_lies_on_the_fitted_minutes(course: Course) -> None:
    before = by_name(computed_night(course, NIGHT))
    station = next(item.station for item in before.values() if item.run_min)
    row = {
        "subject": f"stations:{station}", "factor": 1.5, "extra_min": 2.0, "reason": "knoll",
        "author": "Pilar", "first_night": "2026-07-01", "last_night": "2026-07-31",
    }  # fmt: skip
    course.file.append("trims", pd.DataFrame([row], index=pd.Index(["T1"], name="id")))
    after = by_name(computed_night(course, NIGHT))
    fitted = before[station].run_min
    assert after[station].run_min == int(np.floor(fitted * 1.5 + 0.5)) + 2
    assert after[station].multiplier == pytest.approx(before[station].multiplier)


def test_the_night_goes_through_its_document_and_back(course: Course) -> None:
    night = computed_night(course, NIGHT)
    again = night_from_document(night_to_document(night))
    assert again.sums == night.sums


def test_steps_are_told_and_one_that_raises_ends_the_plan(course: Course) -> None:
    steps: list[str] = []
    computed_night(course, NIGHT, steps.append)
    assert any(step.startswith("fitting minutes, step 1") for step in steps)

    def stop(step: str) -> None:
        if step.startswith("fitting minutes"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        computed_night(course, NIGHT, stop)
    assert course.file.nights().empty


@pytest.mark.parametrize(("factor", "odd"), [(0.1, True), (1.0, False), (6.0, True)])
def test_the_referee_weighs_the_water_of_a_kind_on_its_own(
    course: Course, factor: float, odd: bool
) -> None:
    night = computed_night(course, NIGHT)
    sums = tuple(
        replace(
            item, run_min=max(1, round(item.run_min * factor)), multiplier=item.multiplier * factor
        )
        for item in night.sums
    )
    holds = course.table("holds")
    found = referee(replace(night, sums=sums), course.ground, course.settings, holds)
    assert any(finding.code == "fitted-water-odd" for finding in found) is odd
