"""A planned night tells what acted on each station, and stands beside the classical rules."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
import shapely

from nightwater.desk.course import Course
from nightwater.desk.exceptions import TrimWish, add_trim
from nightwater.desk.holding import HoldWish, add_hold
from nightwater.desk.nights import StoredNight, required_night
from nightwater.desk.planning import plan
from nightwater.desk.station_words import station_sentence
from nightwater.desk.three_ways import rules_beside
from nightwater.night.explaining import explained_night
from nightwater.units import UnitSystem

NIGHT, FRIDAY = date(2026, 7, 14), date(2026, 7, 17)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


def planned(course: Course) -> StoredNight:
    return plan(course, NIGHT, who="Ines", now=NOW)


def sentences(stored: StoredNight, course: Course) -> dict[str, str]:
    zone = course.settings.site.timezone
    parts = explained_night(stored.plan)
    return {name: station_sentence(one, UnitSystem.METRIC, zone) for name, one in parts.items()}


def trim(course: Course, subject: str, why: str, **changes: Any) -> None:
    wish = TrimWish(subject, 1.1, 0, NIGHT, FRIDAY, why)
    add_trim(course, replace(wish, **changes), who="A. Superintendent")


def by_rate(course: Course) -> Course:
    rules = replace(course.settings.minutes, method="rate")
    return replace(course, settings=replace(course.settings, minutes=rules))


def without_pattern(course: Course, head: str) -> Course:
    """A head of known flow whose nozzle says nothing of its throw."""
    heads = course.ground.heads.copy()
    heads.loc[head, "nozzle"] = None
    heads.loc[head, "measured_flow_l_s"] = 1.5
    return replace(course, ground=course.ground.with_table("heads", heads))


def test_trims_of_stations_and_drawn_ones_are_named_where_they_act(course: Course) -> None:
    trim(course, "stations:S-F004", "dry knoll")
    x, y = course.ground.heads.geometry["H-F004"].coords[0]
    patch = shapely.box(x - 6, y - 6, x + 6, y + 6)
    trim(course, "map", "south bank", factor=1.2, patch=patch)
    words = sentences(planned(course), course)
    mine = words["S-F004"]
    assert (
        "trim of this station +10 % until Fri 17 Jul 2026 by A. Superintendent: dry knoll" in mine
    )
    assert " % of its water falls, +20 % until Fri 17 Jul 2026 by A. Superintendent: south" in mine
    assert sum("dry knoll" in one for one in words.values()) == 1
    banks = [name for name, one in words.items() if "south bank" in one]
    assert 1 < len(banks) < len(words)


def test_a_hold_is_named_with_its_end(course: Course) -> None:
    planned(course)
    wish = HoldWish("stations:S-F004", "event", "2026-07-14T12:00", "2026-07-17T06:00", "final")
    add_hold(course, wish, who="Ines")
    words = sentences(planned(course), course)["S-F004"]
    assert words.startswith("0 of ")
    assert "held until Fri 17 Jul 2026, 06:00, by Ines (event): final" in words


def test_why_minutes_are_by_rate_is_kept_with_the_plan(course: Course) -> None:
    stored = planned(by_rate(course))
    assert all("by rate: area need" in one for one in sentences(stored, course).values())
    assert {item.why_by_rate for item in stored.plan.sums} == {
        "the settings say so (minutes.method)"
    }


def test_a_head_without_pattern_is_named_and_counts_in_none_of_the_three(course: Course) -> None:
    lame = without_pattern(course, "H-F004")
    stored = planned(lame)
    words = sentences(stored, course)
    assert "not by the map, as the pattern of head H-F004 is not known" in words["S-F004"]
    assert sum("not by the map" in one for one in words.values()) == 1
    found = rules_beside(lame, stored)
    assert found.others == 1
    assert found.ways is not None
    assert "S-F004" not in found.ways.need_mm.index


def test_three_ways_of_a_night_serve_the_same_ground(course: Course) -> None:
    stored = planned(course)
    found = rules_beside(course, stored)
    ways = found.ways
    assert ways is not None
    assert (found.others, found.why_none) == (0, "")
    asked = {item.station: item.run_min for item in stored.plan.sums}
    assert ways.ways["map"].stations["run_min"].to_dict() == asked
    water = sum(item.run_min * item.flow_l_s for item in stored.plan.sums) * 0.06
    assert ways.ways["map"].water_m3 == pytest.approx(water)
    kinds = {item.station: item.kind for item in stored.plan.sums}
    each = ways.ways["kind"].stations["run_min"].groupby(kinds).nunique()
    assert set(each) == {1}
    for way in ways.ways.values():
        own = sum(way.served.values()) / len(way.served)
        assert 0 < own <= 1


def test_drawn_patches_count_in_the_needs(course: Course) -> None:
    before = rules_beside(course, planned(course)).ways
    x, y = course.ground.heads.geometry["H-F004"].coords[0]
    trim(course, "map", "bank", factor=1.5, patch=shapely.box(x - 9, y - 9, x + 9, y + 9))
    after = rules_beside(course, planned(course)).ways
    assert before is not None
    assert after is not None
    more = after.need_mm / before.need_mm
    assert more["S-F004"] == more.max() > 1.1
    assert more.min() == pytest.approx(1.0)


def test_without_minutes_by_the_map_there_is_nothing_beside(course: Course) -> None:
    found = rules_beside(course, planned(by_rate(course)))
    assert found.ways is None
    assert "nothing to compare" in found.why_none
    assert found.others > 0


def test_a_drawn_trim_is_not_told_of_minutes_that_it_does_not_change(course: Course) -> None:
    lame = without_pattern(course, "H-F004")
    x, y = course.ground.heads.geometry["H-F004"].coords[0]
    trim(lame, "map", "south bank", factor=1.2, patch=shapely.box(x - 6, y - 6, x + 6, y + 6))
    words = sentences(planned(lame), course)
    assert "south bank" not in words["S-F004"]
    assert any("south bank" in one for one in words.values())


def test_several_trims_of_a_station_are_all_named(course: Course) -> None:
    trim(course, "course", "members' day", factor=0.9)
    trim(course, "areas:A-F", "soft", factor=1.0, extra_min=2)
    stored = planned(course)
    item = next(one for one in stored.plan.sums if one.station == "S-F004")
    assert [one.subject for one in item.trims] == ["course", "areas:A-F"]
    words = sentences(stored, course)["S-F004"]
    assert "trim of the whole course −10 % until" in words
    assert "trim of its area +2 min until" in words
    green = next(one.station for one in stored.plan.sums if one.area != "A-F")
    assert "soft" not in sentences(stored, course)[green]


def test_the_plan_as_kept_tells_the_same_as_the_plan_just_made(course: Course) -> None:
    trim(course, "stations:S-F004", "dry knoll")
    made = planned(course)
    kept = required_night(course, NIGHT)
    assert kept.plan.sums == made.plan.sums
    assert sentences(kept, course) == sentences(made, course)
