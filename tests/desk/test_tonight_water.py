"""A night's water in still air and in the night's wind."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd
import pytest

from nightwater.desk.course import Course
from nightwater.desk.dry_spots import dry_spots
from nightwater.desk.nights import StoredNight
from nightwater.desk.planning import plan
from nightwater.desk.tonight_water import head_cycles, tonight_water
from nightwater.ground.settings import FixRules

NIGHT = date(2026, 7, 14)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


@pytest.fixture
def stored(course: Course) -> StoredNight:
    return plan(course, NIGHT, who="Ines", now=NOW)


@pytest.fixture
def windy(course: Course) -> Course:
    """4 m/s from the west in every hour, and a course that asks for it."""
    times = pd.date_range("2026-07-14", periods=48, freq="h").strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = pd.DataFrame(
        {"step": "hour", "origin": "forecast", "time": times, "wind_m_s": 4.0,
         "wind_height_m": 2.0, "gauge": None},
        index=pd.Index([f"f{place}" for place in range(48)], name="id"),
    )  # fmt: skip
    course.file.append("weather", rows)
    rules = replace(course.settings.minutes, night_wind="forecast", night_wind_from="w")
    return replace(course, settings=replace(course.settings, minutes=rules))


def test_without_the_setting_air_stands_still(course: Course, stored: StoredNight) -> None:
    assert tonight_water(course, stored).still_depth_mm is None


def test_in_wind_the_depth_is_the_blown_one_and_the_still_one_is_kept(
    course: Course, stored: StoredNight, windy: Course
) -> None:
    still, blown = tonight_water(course, stored), tonight_water(windy, stored)
    assert blown.still_depth_mm == pytest.approx(still.depth_mm)
    assert blown.depth_mm.sum() < still.depth_mm.sum()
    # what falls has moved east: its middle lies farther that way
    x_m = still.matrix.grid.x_m
    middle = [(x_m * depth).sum() / depth.sum() for depth in (still.depth_mm, blown.depth_mm)]
    assert middle[1] != pytest.approx(middle[0], abs=1e-3)


def test_wind_is_among_the_causes_then(stored: StoredNight, windy: Course) -> None:
    rules = FixRules(least_lack_share=0.1, least_m2=5.0)
    found = dry_spots(tonight_water(windy, stored), rules)
    blown = [cause for causes in found.causes for cause in causes if cause.code == "wind"]
    assert blown
    assert all(0 < cause.score <= 1 for cause in blown)


def test_cycles_are_those_of_the_night(course: Course, stored: StoredNight) -> None:
    cycles = head_cycles(tonight_water(course, stored))
    for head, station in course.ground.heads["station"].items():
        runs = sum(run.station == station for run in stored.plan.runs)
        assert cycles[head] == max(runs, 1)
    assert np.isfinite(cycles).all()
