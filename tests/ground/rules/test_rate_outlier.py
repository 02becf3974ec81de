"""`rate-outlier`: heads that water much faster or slower than the like heads of their area.

Drawn: the rough of the small hole gets a row of five like heads; one of them is spoiled.

    R1 ── R2 ── R3 ── R4 ── R5      1.7 L/s each on 20 × 17.3 m: 17.7 mm/h
                 ▲ nozzle "small", 0.9 L/s: 9.4 mm/h
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.ground.rules import rate_outlier as rule


@pytest.fixture
def row(small):
    """Five like heads on the rough."""
    for number in range(1, 6):
        small["heads"][f"R{number}"] = small["heads"]["R1"] | {
            "geometry": Point(40 + 20 * number, 30),
            "label": f"R {number}",
        }
    return small


def test_a_sound_row_is_silent(row, told):
    assert told(rule, row) == []


def test_a_smaller_nozzle_among_larger_ones(row, told):
    row["heads"]["R3"]["nozzle"] = "small"
    (found,) = told(rule, row)
    assert found.subject == "heads:R3"
    assert found.severity is Severity.WARNING
    assert "R 3 waters 9.4 mm/h; the 5 like heads of rough water 17.7 mm/h" in found.message


@pytest.mark.parametrize(
    ("spacing", "told_of"), [(13.4, []), (13.2, ["heads:R3"]), (29.8, []), (30.3, ["heads:R3"])]
)
def test_one_and_a_half_times_up_and_down(row, subjects, spacing, told_of):
    """The rate goes with one over the spacing; 20 m is usual here."""
    row["heads"]["R3"]["spacing_m"] = spacing
    assert subjects(rule, row) == told_of


def test_a_part_circle_is_not_like_a_full_one(row, told):
    """One nozzle for both waters twice as fast on the half: meant so, and no outlier."""
    row["heads"]["R3"] |= {"arc_deg": 180.0, "bearing_deg": 180.0}
    assert told(rule, row) == []


def test_three_heads_do_not_say_which_is_the_odd_one(row, told):
    del row["heads"]["R1"], row["heads"]["R2"]
    row["heads"]["R3"]["nozzle"] = "small"
    assert told(rule, row) == []


def test_another_area_is_another_design(row, told):
    """The tee's small heads are compared with the tee's alone."""
    assert "small" in {head["nozzle"] for head in row["heads"].values()}
    assert told(rule, row) == []


def test_a_measured_flow_is_judged_by_its_own_rule(row, told):
    row["heads"]["R3"]["measured_flow_l_s"] = 0.5
    assert told(rule, row) == []


def test_an_unknown_rate_counts_nowhere(row, subjects):
    row["heads"]["R1"]["row_m"] = None
    row["heads"]["R3"]["nozzle"] = "small"
    assert subjects(rule, row) == ["heads:R3"]
