"""`label-out-of-order`: labels out of the trade's order, where most labels counted alike keep it.

Drawn: the small hole's fairway gets eight heads on its left, numbered from the tee.

    01-F-01   03   05   07   09   11   13   15      line of play ──►
"""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.ground.checks import check_ground
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.rules import label_out_of_order as rule

LEFT = tuple(range(1, 17, 2))


@pytest.fixture
def row(small):
    """Eight heads on the left of the fairway, labelled in order, and nothing else."""
    small["heads"], small["stations"] = {}, {}
    for place, number in enumerate(LEFT):
        small["heads"][f"h{number}"] = {
            "label": f"01-F-{number:02d}",
            "nozzle": "N",
            "geometry": Point(60 + 15 * place, 10),
        }
    return small


def test_the_trades_order_is_silent(row, told):
    assert told(rule, row) == []


def test_a_later_head_with_the_next_free_number(row, told):
    row["heads"]["h5"]["label"] = "01-F-17"
    (found,) = told(rule, row)
    assert found.subject == "heads:h5"
    assert found.severity is Severity.NOTE
    assert "Head 01-F-17 stands between 01-F-03 and 01-F-07 by the club's order" in found.message


def test_two_tags_exchanged(row, told):
    row["heads"]["h5"]["label"], row["heads"]["h7"]["label"] = "01-F-07", "01-F-05"
    one, other = told(rule, row)
    assert (one.subject, other.subject) == ("heads:h5", "heads:h7")
    assert "01-F-07 stands between 01-F-03 and 01-F-09" in one.message


@pytest.mark.parametrize(
    ("name", "label", "words"),
    [
        ("h1", "01-F-19", "before 01-F-03"),
        ("h15", "01-F-02", "behind 01-F-13"),
    ],
)
def test_the_ends_of_a_row(row, told, name, label, words):
    row["heads"][name]["label"] = label
    assert words in told(rule, row)[0].message


def test_a_number_left_out_is_no_disorder(row, told):
    del row["heads"]["h5"]
    assert told(rule, row) == []


def test_another_order_is_not_judged(row, told):
    """Numbered from the green to the tee: not one label is right, so none is told."""
    for place, number in enumerate(LEFT):
        row["heads"][f"h{number}"]["label"] = f"01-F-{LEFT[-1 - place]:02d}"
    assert told(rule, row) == []


def test_more_than_a_third_is_another_order(row, told):
    row["heads"]["h1"]["label"], row["heads"]["h5"]["label"] = "01-F-21", "01-F-19"
    row["heads"]["h9"]["label"] = "01-F-17"
    assert told(rule, row) == []


@pytest.mark.parametrize("label", [None, "old 7", "02-F-17", "01-R-17"])
def test_labels_of_another_kind_are_not_counted(row, told, label):
    row["heads"]["h5"]["label"] = label
    assert told(rule, row) == []


def test_four_labels_show_no_order(row, told):
    for number in LEFT[4:]:
        del row["heads"][f"h{number}"]
    row["heads"]["h1"]["label"] = "01-F-17"
    assert told(rule, row) == []


def test_the_two_sides_are_counted_apart(row, told):
    """Even numbers on the right do not stand between the odd ones on the left."""
    for place in range(8):
        row["heads"][f"r{place}"] = {
            "label": f"01-F-{2 * place + 2:02d}",
            "nozzle": "N",
            "geometry": Point(66 + 15 * place, -10),
        }
    assert told(rule, row) == []


def test_stations_have_an_order_of_their_own(row, told):
    for number in LEFT:
        row["stations"][f"s{number}"] = {"label": f"01-F-{number:02d}"}
        row["heads"][f"h{number}"]["station"] = f"s{number}"
    row["stations"]["s5"]["label"] = "01-F-17"
    (found,) = told(rule, row)
    assert found.subject == "stations:s5"
    assert found.message.startswith("Station 01-F-17 ")


def test_the_clubs_own_pattern_is_read(row, make):
    rules = number_rules_from({"pattern": "{kind}{number}/{hole}"})
    for number in LEFT:
        row["heads"][f"h{number}"]["label"] = f"F{number}/1"
    row["heads"]["h5"]["label"] = "F17/1"
    told = [f.subject for f in check_ground(make(row), rules) if f.code == rule.CODE]
    assert told == ["heads:h5"]


def test_an_even_number_on_the_left_is_out_of_order(row, told):
    row["heads"]["h5"]["label"] = "01-F-06"
    (found,) = told(rule, row)
    assert found.subject == "heads:h5"
    assert "between 01-F-03 and 01-F-07" in found.message


def test_even_on_the_left_throughout_is_another_order(row, told):
    for number in LEFT:
        row["heads"][f"h{number}"]["label"] = f"01-F-{number + 1:02d}"
    assert told(rule, row) == []
