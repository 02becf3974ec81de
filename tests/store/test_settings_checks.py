"""What settings may be, before they are saved."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from nightwater.findings import UserError
from nightwater.ground.settings import Settings, TariffPeriod
from nightwater.store.course_file import CourseFile
from nightwater.store.settings_checks import settings_faults

WRONG = [
    ("site", "latitude_deg", 91.0, "between -90 and 90"),
    ("site", "longitude_deg", -180.5, "between -180 and 180"),
    ("site", "elevation_m", 9000.0, "between -450 and 6000"),
    ("site", "timezone", "Mountain", "IANA name"),
    ("need", "method", "replace", "one of refill, et_share"),
    ("need", "reference", "grass", "one of short, tall"),
    ("need", "et_share", -0.1, "between 0 and 2"),
    ("need", "account_start", "April", "a date like 2026-04-01"),
    ("need", "kc_by_month", {"moss": (0.8,) * 12}, "one of cool_season"),
    ("need", "kc_by_month", {"cool_season": (0.8,) * 11}, "has 11 numbers; 12"),
    ("need", "kc_by_month", {"cool_season": (8.0,) * 12}, "between 0 and 1.5"),
    ("minutes", "run_time_multiplier", "du", "one of du_lq"),
    ("minutes", "default_rotation_s", 0.0, "between 1 and 900"),
    ("night", "start", "9 pm", "a clock time like 21:30"),
    ("night", "end", "24:00", "a clock time like 21:30"),
    ("night", "pump_use", 1.2, "between 0.05 and 1"),
    ("night", "max_velocity_m_s", 5.0, "between 0.3 and 4"),
    ("night", "kind_windows", {"bunker": ("", "")}, "one of green"),
    ("night", "kind_windows", {"green": ("4", "")}, "a clock time"),
    ("night", "priority", ("green", "green"), "names a kind twice"),
    ("night", "priority", ("water",), "one of green"),
    ("money", "water_per_m3", -1.0, "between 0 and 1000"),
    ("money", "demand_min", 25, "part the hour evenly"),
    ("money", "demand_per_kw", -1.0, "between 0 and 10000"),
    ("money", "periods", (TariffPeriod("a"), TariffPeriod("a")), "a name of its own"),
    ("money", "periods", (TariffPeriod(""),), "a name of its own"),
    ("money", "periods", (TariffPeriod("a", start="4 pm"),), "a clock time like 21:30"),
    ("money", "periods", (TariffPeriod("a", end="24:30"),), "a clock time like 21:30"),
    ("money", "periods", (TariffPeriod("a", "05:00", "05:00"),), "lasts no minute"),
    ("money", "periods", (TariffPeriod("a", months=(0,)),), "between 1 and 12"),
    ("money", "periods", (TariffPeriod("a", weekdays=("Monday",)),), "one of mon, tue"),
    ("money", "periods", (TariffPeriod("a", per_kwh=-0.1),), "between 0 and 10000"),
    ("money", "periods", (TariffPeriod("a", block_unit="therm"),), "one of kwh, kwh_per_kw"),
    ("money", "periods", (TariffPeriod("a", kwh_blocks=((9, 1), (9, 1))),), "above 0 that rise"),
    ("money", "periods", (TariffPeriod("a", kw_blocks=((0, 1),)),), "above 0 that rise"),
]


def changed(settings: Settings, part: str, name: str, value: Any) -> Settings:
    return replace(settings, **{part: replace(getattr(settings, part), **{name: value})})


def test_the_defaults_are_sound(settings: Settings) -> None:
    assert settings_faults(settings) == []


@pytest.mark.parametrize(("part", "name", "value", "words"), WRONG)
def test_what_cannot_be_is_named_with_its_limit(
    settings: Settings, part: str, name: str, value: Any, words: str
) -> None:
    (fault, *_rest) = settings_faults(changed(settings, part, name, value))
    assert f"'{part}.{name}" in fault
    assert words in fault


@pytest.mark.parametrize(
    ("part", "name", "value"),
    [
        ("night", "start", "00:00"),
        ("night", "end", "23:59"),
        ("night", "kind_windows", {"green": ("", "05:30")}),
        ("night", "pump_use", 1.0),
        ("need", "kc_by_month", {"warm_season": (0.6,) * 12}),
        ("need", "account_start", "2026-04-01"),
    ],
)
def test_what_can_be_is_let_through(settings: Settings, part: str, name: str, value: Any) -> None:
    assert settings_faults(changed(settings, part, name, value)) == []


def test_every_fault_is_told_at_once_and_nothing_is_saved(
    course: CourseFile, settings: Settings, now: datetime
) -> None:
    wrong = changed(changed(settings, "night", "start", "9 pm"), "night", "pump_use", 3.0)
    with pytest.raises(UserError, match=r"night\.start.*night\.pump_use"):
        course.save_settings(replace(wrong, first_tee="dawn"), "Ines", "trial", now)
    assert course.settings() == settings
    assert course.revisions().empty


def test_no_course_is_made_with_settings_that_cannot_be(tmp_path: Path, settings: Settings) -> None:
    with pytest.raises(UserError, match="first_tee"):
        CourseFile.create(tmp_path / "c.gpkg", replace(settings, first_tee="dawn"))
    assert list(tmp_path.iterdir()) == []
