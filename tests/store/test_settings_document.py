"""Settings as a document and back, and as revisions."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import ConflictError, UserError
from nightwater.ground.settings import (
    MinuteRules,
    MoneyRules,
    NeedRules,
    NightRules,
    Settings,
    Site,
)
from nightwater.store.course_file import CourseFile
from nightwater.store.settings_document import settings_from_document, settings_to_document
from nightwater.units import UnitSystem


def changed(settings: Settings, path: str, value: object) -> dict[str, Any]:
    document = json.loads(json.dumps(settings_to_document(settings)))
    *parts, last = path.split(".")
    target = document
    for part in parts:
        target = target[part]
    target[last] = value
    return document


def test_defaults_survive_as_json(settings: Settings) -> None:
    text = json.dumps(settings_to_document(settings))
    assert settings_from_document(json.loads(text)) == settings


number = st.floats(-1e6, 1e6, allow_nan=False)
clock = st.sampled_from(["20:30", "05:00", None])
sites = st.builds(
    Site,
    name=st.text(max_size=20),
    latitude_deg=number,
    longitude_deg=number,
    elevation_m=number,
    timezone=st.text(max_size=20),
    crs=st.text(max_size=20),
    invented=st.booleans(),
    units=st.sampled_from(UnitSystem),
)
coefficients = st.lists(number, min_size=12, max_size=12).map(tuple)
needs = st.builds(
    NeedRules,
    et_share=number,
    account_start=st.one_of(st.none(), st.just("2026-04-01")),
    kc_by_month=st.dictionaries(st.sampled_from(["cool_season", "warm_season"]), coefficients),
    use_trigger=st.booleans(),
)
nights = st.builds(
    NightRules,
    start=clock,
    end=clock,
    after_sunset_min=st.integers(0, 90),
    kind_windows=st.dictionaries(st.sampled_from(["green", "tee"]), st.just(("", "05:30"))),
    priority=st.permutations(["green", "tee", "rough"]).map(tuple),
    pump_use=number,
)
every = st.builds(
    Settings,
    site=sites,
    need=needs,
    minutes=st.builds(MinuteRules, least_turns=number),
    night=nights,
    money=st.builds(MoneyRules, currency=st.text(max_size=3), energy_per_kwh=number),
)


@given(every)
def test_any_settings_survive_as_json(settings: Settings) -> None:
    text = json.dumps(settings_to_document(settings))
    assert settings_from_document(json.loads(text)) == settings


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("night.strat", "21:00", "There is no setting 'night.strat'. Did you mean 'night.start'?"),
        ("nigth", {}, "There is no setting 'nigth'. Did you mean 'night'?"),
        ("qqqq", 1, "There is no setting 'qqqq'."),
        ("night.pump_use", "lots", "Setting 'night.pump_use' is 'lots'; it must be a number."),
        ("night.pump_use", True, "it must be a number"),
        ("night.pump_use", float("nan"), "finite"),
        ("night.after_sunset_min", 1.5, "a whole number"),
        ("night.priority", "green", "a list"),
        ("night.priority", [1], "text"),
        ("night.kind_windows", {"green": ["05:00"]}, "a list of 2"),
        ("night.kind_windows", [], "a set of names and values"),
        ("need.use_trigger", "yes", "true or false"),
        ("need.kc_by_month", {"cool_season": [1, "x"]}, "a number"),
        ("site.units", "imperial", "one of us, metric"),
        ("site.name", None, "text"),
        ("money", 3, "a set of names and values"),
    ],
)
def test_what_a_setting_cannot_take_is_refused_by_name(
    settings: Settings, path: str, value: object, words: str
) -> None:
    with pytest.raises(UserError) as refusal:
        settings_from_document(changed(settings, path, value))
    assert words in str(refusal.value)
    assert path.split(".", maxsplit=1)[0] in str(refusal.value)


def test_what_is_left_out_takes_its_default(settings: Settings) -> None:
    document = settings_to_document(settings)
    del document["night"]
    del document["money"]["currency"]
    assert settings_from_document(document) == settings


def test_what_has_no_default_is_missed(settings: Settings) -> None:
    document = settings_to_document(settings)
    del document["site"]["timezone"]
    with pytest.raises(UserError, match=r"'site.timezone' is missing"):
        settings_from_document(document)


def test_a_whole_number_may_stand_for_a_number(settings: Settings) -> None:
    assert settings_from_document(changed(settings, "night.pump_use", 1)).night.pump_use == 1.0


def test_changing_settings_is_a_revision_that_can_be_undone(
    course: CourseFile, settings: Settings, now: datetime
) -> None:
    later = replace(settings, night=replace(settings.night, start="21:00", pump_use=0.7))
    revision = course.save_settings(later, "Ines", "new pump", now)
    assert course.settings() == later
    row = course.revisions().loc[revision]
    assert (row["kind"], row["summary"]) == ("settings", "settings: night.start, night.pump_use")
    course.undo(str(revision), "Ines", "old pump is back", now)
    assert course.settings() == settings


def test_settings_that_are_the_same_make_no_revision(
    course: CourseFile, settings: Settings, now: datetime
) -> None:
    assert course.save_settings(settings, "Ines", "nothing", now) is None
    assert course.revisions().empty


def test_undoing_settings_under_later_settings_conflicts(
    course: CourseFile, settings: Settings, now: datetime
) -> None:
    first = course.save_settings(replace(settings, first_tee="06:30"), "Ines", "early", now)
    course.save_settings(replace(settings, first_tee="06:00"), "Quill", "earlier", now)
    with pytest.raises(ConflictError, match="revision 2 of Quill"):
        course.undo(str(first), "Ines", "back", now)


def test_the_system_of_a_record_cannot_be_changed(
    course: CourseFile, settings: Settings, now: datetime
) -> None:
    moved = replace(settings, site=replace(settings.site, crs="EPSG:32613"))
    with pytest.raises(UserError, match="cannot be changed"):
        course.save_settings(moved, "Ines", "move", now)
    assert course.settings() == settings
