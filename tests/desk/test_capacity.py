"""The capacity study of a small course."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from nightwater.desk import capacity
from nightwater.desk.capacity import (
    Study,
    next_bore_factor,
    peak_day,
    peak_need,
    study,
    study_document,
)
from nightwater.desk.capacity_sheet import (
    binding_words,
    gain_words,
    price_words,
    printed,
    study_pdf,
    verdict,
)
from nightwater.desk.course import Course
from nightwater.findings import UserError
from nightwater.units import UnitSystem

METRIC = UnitSystem.METRIC


@pytest.fixture
def roomy(course: Course) -> Study:
    return study(course, entered_mm=7.0)


def short(course: Course) -> Course:
    """A night of one hour."""
    night = replace(course.settings.night, start="22:00", end="23:00")
    return replace(course, settings=replace(course.settings, night=night))


@pytest.fixture
def tight(course: Course) -> Study:
    return study(short(course), entered_mm=9.0)


def test_an_entered_peak_day_is_taken_as_it_is(course: Course) -> None:
    peak = peak_day(course, 95, 7.0)
    assert peak.reference_mm == 7.0
    assert "entered" in peak.words


def test_a_percentile_wants_thirty_days(course: Course) -> None:
    with pytest.raises(UserError, match="has 14 days"):
        peak_day(course, 95, None)


def test_a_percentile_of_the_record(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    import pandas as pd

    days = pd.Index([date(2025, 6, 1) + timedelta(days=n) for n in range(101)], name="date")
    table = pd.DataFrame({"eto_mm": [n / 10 for n in range(101)]}, index=days)
    monkeypatch.setattr(capacity, "daily_reference", lambda _course: table)
    peak = peak_day(course, 90, None)
    assert peak.reference_mm == pytest.approx(9.0)
    assert peak.day == date(2025, 6, 1) + timedelta(days=90)
    assert "90th percentile of 101 days" in peak.words


@pytest.mark.parametrize(
    ("percentile", "entered", "words"),
    [(40, None, "between 50 and 100"), (95, 0.0, "not believable"), (95, 25.0, "not believable")],
)
def test_beyond_its_bounds_is_refused(
    course: Course, percentile: float, entered: float | None, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        peak_day(course, percentile, entered)


def test_the_need_is_the_peak_days_turf_et(course: Course) -> None:
    table = peak_need(course, peak_day(course, 95, 7.0)).table
    assert (table["need_mm"] - table["etc_mm"]).abs().max() < 1e-9
    assert (table["eto_mm"] == 7.0).all()
    assert (table["rain_mm"] == 0).all()


def test_twice_the_et_is_twice_the_need(course: Course) -> None:
    one, two = (peak_need(course, peak_day(course, 95, mm)).table["need_mm"] for mm in (4.0, 8.0))
    assert (two / one).dropna().tolist() == pytest.approx([2.0] * len(one.dropna()))


@pytest.mark.parametrize(
    ("bore_mm", "factor"),
    [(50.8, (2.5 / 2) ** 2), (155.0, (8 / 6) ** 2), (293.0, (14 / 12) ** 2), (25.4, 1.25**2)],
)
def test_the_next_nominal_size_carries_more(bore_mm: float, factor: float) -> None:
    assert next_bore_factor(bore_mm) == pytest.approx(factor)
    assert math.isnan(next_bore_factor(30 * 25.4))


def test_a_roomy_night_carries_it_all(roomy: Study) -> None:
    assert roomy.fits
    assert roomy.now.planned_m3 == pytest.approx(roomy.asked_m3)
    assert roomy.ceiling.price == {}
    assert verdict(roomy, METRIC).startswith("Yes: all")
    assert price_words(roomy, METRIC) == []
    assert roomy.loads[0].share == max(load.share for load in roomy.loads)


def test_a_short_night_says_what_binds_and_what_helps(tight: Study) -> None:
    assert not tight.fits
    assert tight.now.planned_m3 <= tight.now.most_m3 < tight.asked_m3
    assert verdict(tight, METRIC).startswith("No: ")
    assert binding_words(tight).startswith("First ")
    window = tight.changes[0]
    assert window.minutes == tight.minutes + 30
    assert window.most_m3 > tight.now.most_m3
    assert gain_words(tight, window, METRIC) != "nothing by itself"
    assert any(words.startswith("One more minute of night") for words in price_words(tight, METRIC))


def test_what_does_not_bind_buys_nothing(tight: Study) -> None:
    idle = [one for one in tight.changes if one.most_m3 - tight.now.most_m3 < 1e-6]
    assert all(gain_words(tight, one, METRIC) == "nothing by itself" for one in idle)


def test_changes_name_the_resource_in_words(tight: Study) -> None:
    words = [one.words for one in tight.changes]
    assert words[0] == "30 more minutes of night"
    assert words[1] == "pumps that give 10% more"
    assert "main P-main one size up" in words
    assert all(load.resource in tight.words for load in tight.loads)


def test_nothing_is_saved(course: Course) -> None:
    before = len(course.file.nights())
    study(course, entered_mm=7.0)
    assert len(course.file.nights()) == before


def test_the_document_is_plain_and_whole(tight: Study) -> None:
    document = json.loads(json.dumps(study_document(tight)))
    assert document["fits"] is False
    assert document["window_min"] == 60
    assert len(document["changes"]) == len(tight.changes)
    assert document["loads"][0]["share"] == tight.loads[0].share


@pytest.mark.parametrize("units", list(UnitSystem))
def test_the_page_prints_in_both_units(course: Course, tight: Study, units: UnitSystem) -> None:
    page: dict[str, Any] = printed(tight, course.settings, units)
    assert page["outcomes"][0][0] == "as it is"
    assert ("gal" in page["asked"]) == (units is UnitSystem.US)
    assert study_pdf(tight, course.settings, units).startswith(b"%PDF")


class TestThePipes:
    def test_a_sound_system_has_its_pressures(self, roomy: Study, course: Course) -> None:
        assert roomy.pipes.startswith("By the solved pipes every head of that night has")
        assert roomy.pipes in json.dumps(
            printed(roomy, course.settings, METRIC), ensure_ascii=False
        )

    def test_a_weak_pump_is_told_though_the_linear_limits_are_kept(self, course: Course) -> None:
        weak = course.ground.with_table("pumps", course.ground.pumps.assign(set_pressure_kpa=300.0))
        told = study(replace(course, ground=weak), entered_mm=7.0)
        assert told.fits
        assert f"{told.stations} stations lack it even when they run alone" in told.pipes

    def test_a_record_that_cannot_be_solved_says_so(self, course: Course) -> None:
        bare = course.ground.with_table("pipes", course.ground.pipes.iloc[:0])
        assert "margin for loops" in study(replace(course, ground=bare), entered_mm=7.0).pipes

    def test_loops_have_no_margin_where_pipes_are_solved(self, course: Course) -> None:
        """A margin of 0.2 would bind the loop; solved, it changes nothing."""
        tight_loops = replace(course.settings.night, loop_margin=0.2)
        strict = replace(course, settings=replace(course.settings, night=tight_loops))
        one, other = (study(which, entered_mm=7.0) for which in (course, strict))
        assert [load.share for load in one.loads] == [load.share for load in other.loads]
        assert one.now.finish_min == other.now.finish_min
