"""Water of past nights on its way into the account."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd

from nightwater.soil.irrigation import entering_water

Build = Callable[..., pd.DataFrame]
AREAS = pd.Index(["A1", "A2"])


def days(count: int, first: date) -> list[date]:
    return [first + timedelta(days=day) for day in range(count)]


def test_water_moves_to_the_next_day(water_of: Build, first_day: date) -> None:
    made = entering_water(water_of((0, "A2", 4.0, "proved")), days(3, first_day), AREAS)
    np.testing.assert_array_equal(made.depth_mm, [[0, 0], [0, 4], [0, 0]])
    assert made.of_day.tolist() == [["none", "none"], ["none", "proved"], ["none", "none"]]
    assert made.of_area.to_dict() == {"A1": "none", "A2": "proved"}


def test_no_rows_are_no_water(water_of: Build, first_day: date) -> None:
    made = entering_water(water_of(), days(2, first_day), AREAS)
    np.testing.assert_array_equal(made.depth_mm, np.zeros((2, 2)))
    assert set(made.of_area) == {"none"}
    assert made.findings == ()


def test_equal_rows_of_one_night_add_up(water_of: Build, first_day: date) -> None:
    """Overhead and hand watering of one night are two rows."""
    water = water_of((0, "A1", 4.0, "proved"), (0, "A1", 1.5, "proved"))
    assert entering_water(water, days(2, first_day), AREAS).depth_mm[1, 0] == 5.5


def test_a_proved_nothing_stands_before_a_planned_depth(water_of: Build, first_day: date) -> None:
    """The pump tripped: what the plan hoped for must not count."""
    water = water_of((0, "A1", 0.0, "proved"), (0, "A1", 6.0, "planned"))
    made = entering_water(water, days(2, first_day), AREAS)
    assert made.depth_mm[1, 0] == 0.0
    assert made.of_area["A1"] == "proved"


def test_proof_of_one_night_does_not_reach_another(water_of: Build, first_day: date) -> None:
    water = water_of((0, "A1", 2.0, "proved"), (1, "A1", 6.0, "planned"))
    made = entering_water(water, days(3, first_day), AREAS)
    assert made.depth_mm[:, 0].tolist() == [0.0, 2.0, 6.0]
    assert made.of_area["A1"] == "mixed"


def test_a_proof_without_depth_does_not_fall_back_on_the_plan(
    water_of: Build, first_day: date
) -> None:
    water = water_of((0, "A1", float("nan"), "proved"), (0, "A1", 6.0, "planned"))
    made = entering_water(water, days(2, first_day), AREAS)
    assert made.depth_mm[1, 0] == 0.0
    assert [finding.code for finding in made.findings] == ["irrigation-depth-unknown"]


def test_rows_of_strange_areas_and_days_are_left_out(water_of: Build, first_day: date) -> None:
    water = water_of(
        (0, "gone", 4.0, "proved"), (-1, "A1", 3.0, "proved"), (7, "A1", 9.0, "proved")
    )
    made = entering_water(water, days(2, first_day), AREAS)
    np.testing.assert_array_equal(made.depth_mm, [[3, 0], [0, 0]])


def test_the_order_of_rows_does_not_matter(water_of: Build, first_day: date) -> None:
    rows = [(d, a, 1.0 + d, "proved" if d % 2 else "planned") for d in range(4) for a in AREAS]
    one, other = (
        entering_water(water_of(*r), days(5, first_day), AREAS) for r in (rows, rows[::-1])
    )
    np.testing.assert_array_equal(one.depth_mm, other.depth_mm)
    assert one.of_day.tolist() == other.of_day.tolist()
