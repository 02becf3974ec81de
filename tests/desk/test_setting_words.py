"""Every setting is explained out of its one declaration, which also checks it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path

import pytest

from nightwater.desk.setting_words import setting_words
from nightwater.findings import UserError
from nightwater.ground.settings import SECTIONS, Settings, Site, range_of
from nightwater.store.settings_checks import check_settings, settings_faults

Run = Callable[..., tuple[int, str, str]]
SITE = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", "EPSG:32613")
SETTINGS = Settings(SITE)
RANGED = [
    (section, declared.name)
    for section, cls in SECTIONS.items()
    for declared in fields(cls)
    if range_of(declared)
]


def test_every_setting_has_a_meaning_and_every_number_a_unit_and_range() -> None:
    words = {one.name: one for one in setting_words()}
    assert [name for name, one in words.items() if not one.meaning] == []
    numbers = [
        f"{section}.{declared.name}"
        for section, cls in SECTIONS.items()
        for declared in fields(cls)
        if str(declared.type) in ("float", "int")
    ]
    assert len(numbers) == len(RANGED) > 12
    assert [name for name in numbers if not (words[name].unit and words[name].may_be)] == []


def test_what_is_told_is_what_was_declared() -> None:
    words = {one.name: one for one in setting_words()}
    pump = words["night.pump_use"]
    assert (pump.default, pump.unit, pump.may_be) == ("0.85", "fraction", "0.05 to 1")
    assert words["site.name"].default == ""
    assert words["site.units"].may_be == "us, metric"
    assert words["need.use_trigger"].may_be == "true, false"
    assert words["first_tee"].default == '"07:00"'


@pytest.mark.parametrize(("section", "name"), RANGED)
def test_the_range_that_is_told_is_the_range_that_is_checked(section: str, name: str) -> None:
    values = getattr(SETTINGS, section)
    limits = next(range_of(f) for f in fields(values) if f.name == name)
    assert limits is not None
    for inside in (limits.least, limits.most):
        changed = replace(SETTINGS, **{section: replace(values, **{name: inside})})
        assert settings_faults(changed) == []
    for outside in (limits.least - 0.01, limits.most + 0.01):
        changed = replace(SETTINGS, **{section: replace(values, **{name: outside})})
        with pytest.raises(UserError, match=f"{section}.{name}"):
            check_settings(changed)


def test_the_command_tells_meaning_unit_range_default_and_value(
    run_cli: Run, small_course: Path
) -> None:
    assert run_cli("settings", small_course, "night.pump_use=0.7")[0] == 0
    _, out, _ = run_cli("settings", small_course, "--format", "json")
    row = {row["name"]: row for row in json.loads(out)}["night.pump_use"]
    assert (row["value"], row["default"], row["unit"]) == ("0.7", "0.85", "fraction")
    assert row["may_be"] == "0.05 to 1"
    assert row["meaning"].startswith("share of pump capacity")
