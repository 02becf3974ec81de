"""`station-in-wrong-hole`: a label that names another hole than the one its heads stand on.

Drawn: two holes side by side, six stations of one head each, named by hole.

    02-R-01 … 02-R-06   ── hole 2 ──
    03-R-01 … 03-R-06   ── hole 3 ──
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point, box

from nightwater.findings import Severity
from nightwater.ground.rules import station_in_wrong_hole as rule


@pytest.fixture
def two(small):
    """Rough with six stations along each of the lines of holes 2 and 3."""
    small["heads"], small["stations"] = {}, {}
    for hole in (2, 3):
        y = 120 * hole
        small["areas"][f"rough {hole}"] = {"kind": "rough", "geometry": box(20, y, 180, y + 30)}
        for number in range(1, 7):
            name = f"{hole}{number}"
            small["heads"][name] = {
                "station": name,
                "nozzle": "N",
                "geometry": Point(20 + 20 * number, y + 15),
            }
            small["stations"][name] = {"label": f"{hole:02d}-R-{number:02d}"}
    return small


def test_labels_that_agree_are_silent(two, told):
    assert told(rule, two) == []


def test_a_label_of_the_other_hole(two, told):
    two["stations"]["34"]["label"] = "02-R-07"
    (found,) = told(rule, two)
    assert found.subject == "stations:34"
    assert found.severity is Severity.WARNING
    assert "02-R-07 is called as those of H2 are; its heads water H3" in found.message


def test_heads_surveyed_onto_the_other_hole(two, subjects):
    two["heads"]["34"]["geometry"] = Point(150, 240 + 25)
    assert subjects(rule, two) == ["stations:34"]


@pytest.mark.parametrize("label", ["3-R-07", "3.R.7", "003 R 7", "03_R_07"])
def test_how_a_number_is_written_does_not_matter(two, told, label):
    two["stations"]["34"]["label"] = label
    assert told(rule, two) == []


@pytest.mark.parametrize("label", [None, "spare", "17-R-01", "X-4"])
def test_a_label_that_names_no_known_hole_is_not_judged(two, told, label):
    two["stations"]["34"]["label"] = label
    assert told(rule, two) == []


def test_a_station_over_two_holes_is_not_judged(two, told):
    two["heads"]["more"] = two["heads"]["34"] | {"geometry": Point(100, 255)}
    two["stations"]["34"]["label"] = "02-R-07"
    assert told(rule, two) == []


def test_labels_that_do_not_go_by_hole_teach_nothing(two, told):
    """Here labels begin with the controller, on either hole with either."""
    for place, row in enumerate(two["stations"].values()):
        row["label"] = f"{'AB'[place % 2]}-{place}"
    assert told(rule, two) == []


def test_four_stations_teach_nothing(two, told):
    for name in ("21", "22"):
        del two["stations"][name], two["heads"][name]
    two["stations"]["34"]["label"] = "02-R-07"
    assert told(rule, two) == []


def test_one_beginning_for_two_holes_teaches_nothing(two, told):
    """A course whose labels all begin alike: nobody can say which hole is meant."""
    for name, row in two["stations"].items():
        row["label"] = f"main-{name}"
    assert told(rule, two) == []
