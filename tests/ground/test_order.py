"""The trade's order on drawn holes: each scheme, and what is counted together.

The orders are common practice, no source; each expected list is read off the drawing.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, box

from nightwater.ground.number_rules import KindRule, NumberRules, number_rules_from
from nightwater.ground.order import head_order

LENGTH_M = 300.0


def spot(x, y, **more):
    return {"nozzle": "N", "arc_deg": 360.0, "spacing_m": 18.0, "geometry": Point(x, y)} | more


def drawn_hole(heads):
    """A hole played north: tees at the back and front, fairway, approach and a round green."""
    green = Point(0, LENGTH_M).buffer(14)
    return {
        "areas": {
            "rough": {"kind": "rough", "geometry": box(-50, -30, 50, 340)},
            "fairway": {"kind": "fairway", "geometry": box(-16, 90, 16, 250)},
            "approach": {"kind": "approach", "geometry": box(-26, 250, 26, 330)},
            "green": {"kind": "green", "geometry": green},
            "tee-front": {"kind": "tee", "geometry": box(-6, 30, 6, 50)},
            "tee-back": {"kind": "tee", "geometry": box(-6, -10, 6, 10)},
        },
        "holes": {"H7": {"number": 7, "geometry": LineString([(0, 0), (0, LENGTH_M)])}},
        "nozzles": {"N": {"pressure_kpa": 480.0, "flow_l_s": 1.7, "radius_m": 18.0}},
        "heads": heads,
    }


def counted(ground, rules=None):
    """Letter and number of each head, in the order given back."""
    order = head_order(ground, rules or NumberRules())
    return {
        head: f"{letter}{number}"
        for head, letter, number in zip(order.index, order["letter"], order["number"], strict=True)
    }


def fairway(left, right):
    heads = {f"L{place}": spot(-8, 100 + 18 * place) for place in range(left)}
    return heads | {f"R{place}": spot(8, 109 + 18 * place) for place in range(right)}


def test_fairways_are_odd_on_the_left_and_even_on_the_right(make):
    got = counted(make(drawn_hole(fairway(3, 2))))
    assert got == {"L0": "F1", "R0": "F2", "L1": "F3", "R1": "F4", "L2": "F5"}


def test_a_shorter_side_leaves_its_numbers_out(make):
    got = counted(make(drawn_hole(fairway(4, 1))))
    assert got == {"L0": "F1", "R0": "F2", "L1": "F3", "L2": "F5", "L3": "F7"}


def test_the_record_may_hold_them_in_any_order(make):
    heads = fairway(4, 4)
    turned = dict(reversed(heads.items()))
    assert counted(make(drawn_hole(heads))) == counted(make(drawn_hole(turned)))


@pytest.mark.parametrize("turn_deg", [0, 37, 90, 181, 299])
def test_the_compass_does_not_matter(make, turn_deg):
    heads = fairway(3, 3) | around_the_green("G", 14.5, "green")
    given = drawn_hole(heads)
    straight = counted(make(given))
    for rows in (given["areas"], given["holes"], given["heads"]):
        for row in rows.values():
            row["geometry"] = affinity.rotate(row["geometry"], -turn_deg, origin=(0, 0))
    assert counted(make(given)) == straight


def test_a_line_drawn_from_the_green_changes_nothing(make):
    given = drawn_hole(fairway(3, 3))
    straight = counted(make(given))
    given["holes"]["H7"]["geometry"] = LineString([(0, LENGTH_M), (0, 0)])
    assert counted(make(given)) == straight


def test_one_row_upon_the_line_is_counted_through(make):
    """Left and right mean nothing in a centre row: 0.2 m of survey error would decide."""
    heads = {f"M{place}": spot(0.2 * (-1) ** place, 100 + 18 * place) for place in range(4)}
    ground = make(drawn_hole(heads))
    assert counted(ground) == {"M0": "F1", "M1": "F2", "M2": "F3", "M3": "F4"}
    assert set(head_order(ground, NumberRules())["side"]) == {"centre"}


def test_sides_are_told(make):
    order = head_order(make(drawn_hole(fairway(1, 1))), NumberRules())
    assert dict(order["side"]) == {"L0": "left", "R0": "right"}


def around_the_green(name, radius, area, turns=(225, 315, 45, 135)):
    return {
        f"{name}{turn}": spot(
            radius * np.sin(np.radians(turn)),
            LENGTH_M + radius * np.cos(np.radians(turn)),
            area=area,
        )
        for turn in turns
    }


def test_greens_go_clockwise_from_the_lower_left(make):
    got = counted(make(drawn_hole(around_the_green("G", 14.5, "green"))))
    assert got == {"G225": "G1", "G315": "G2", "G45": "G3", "G135": "G4"}


def test_six_heads_begin_with_the_one_nearest_to_the_lower_left(make):
    turns = (10, 70, 130, 190, 250, 310)
    got = counted(make(drawn_hole(around_the_green("G", 14.5, "green", turns))))
    assert list(got) == ["G250", "G310", "G10", "G70", "G130", "G190"]


def test_tees_go_from_back_to_front_and_each_tee_is_whole(make):
    heads = {"f2": spot(0, 47), "f1": spot(0, 33), "b2": spot(0, 8), "b1": spot(0, -8)}
    got = counted(make(drawn_hole(heads)))
    assert got == {"b1": "T1", "b2": "T2", "f1": "T3", "f2": "T4"}


def test_tees_side_by_side_are_not_mixed(make):
    given = drawn_hole({"l1": spot(-14, 31), "l2": spot(-14, 45), "r1": spot(0, 35)})
    given["areas"]["tee-left"] = {"kind": "tee", "geometry": box(-20, 30, -9, 49)}
    given["heads"]["r2"] = spot(0, 48)
    assert list(counted(make(given))) == ["l1", "l2", "r1", "r2"]


def test_approaches_run_toward_the_green_the_left_of_a_row_first(make):
    """Two heads abreast stand within 3 m along the line; survey error must not swap them."""
    heads = {"far": spot(0, 275), "right": spot(9, 259.9), "left": spot(-9, 260.1)}
    assert list(counted(make(drawn_hole(heads)))) == ["left", "right", "far"]


def test_heads_around_the_green_may_come_first_or_last(make):
    heads = {"front": spot(0, 258, area="approach")} | around_the_green("A", 18, "approach")
    given = drawn_hole(heads)
    first = number_rules_from({"kinds": {"approach": {"around_green": "first"}}})
    assert list(counted(make(given), first)) == ["A225", "A315", "A45", "A135", "front"]
    last = number_rules_from({"kinds": {"approach": {"around_green": "last"}}})
    got = counted(make(given), last)
    assert list(got) == ["front", "A225", "A315", "A45", "A135"]
    assert list(got.values()) == ["A1", "A2", "A3", "A4", "A5"]


def test_a_ring_alone_is_still_a_ring(make):
    rules = number_rules_from({"kinds": {"approach": {"around_green": "first"}}})
    given = drawn_hole(around_the_green("A", 18, "approach"))
    assert list(counted(make(given), rules)) == ["A225", "A315", "A45", "A135"]


def test_approaches_may_be_the_last_of_the_fairway(make):
    heads = fairway(2, 2) | {"a1": spot(0, 258), "a2": spot(0, 275)}
    rules = NumberRules(approach="after_fairway")
    got = counted(make(drawn_hole(heads)), rules)
    assert list(got.items())[-2:] == [("a1", "F5"), ("a2", "F6")]
    assert len(set(got.values())) == 6


def test_odd_stays_left_behind_an_odd_last_number(make):
    heads = fairway(3, 1) | {"al": spot(-9, 260), "ar": spot(9, 260)}
    rules = number_rules_from(
        {"approach": "after_fairway", "kinds": {"approach": {"scheme": "odd_left_even_right"}}}
    )
    got = counted(make(drawn_hole(heads)), rules)
    assert (got["al"], got["ar"]) == ("F7", "F8")


def test_an_approach_without_a_fairway_keeps_its_letter(make):
    rules = NumberRules(approach="after_fairway")
    assert counted(make(drawn_hole({"a": spot(0, 258)})), rules) == {"a": "A1"}


def test_rough_runs_from_tee_to_green(make):
    heads = {"R1": spot(30, 60), "L2": spot(-30, 80), "L1": spot(-30, 20), "R2": spot(30, 120)}
    got = counted(make(drawn_hole(heads)))
    assert got == {"L1": "R1", "R1": "R2", "L2": "R3", "R2": "R4"}


def lawn(rows, across, turn_deg, kind="practice", spacing=18.0):
    """A triangular pattern on a lawn far from the hole, each head named by row and place."""
    heads = {}
    for row in range(rows):
        for place in range(across):
            x = 400 + spacing * (place + 0.5 * (row % 2))
            y = spacing * 0.866 * row
            heads[f"{row}{place}"] = spot(x, y, spacing_m=spacing)
    given = drawn_hole(heads)
    given["areas"]["lawn"] = {
        "kind": kind,
        "geometry": box(390, -9, 400 + spacing * across, spacing * 0.866 * rows),
    }
    for row in (*heads.values(), given["areas"]["lawn"]):
        row["geometry"] = affinity.rotate(row["geometry"], -turn_deg, origin=(400, 0))
    return given


@pytest.mark.parametrize("turn_deg", [0, 20, -35])
def test_lawns_are_counted_row_by_row(make, turn_deg):
    rules = number_rules_from({"kinds": {"practice": {"bearing_deg": float(turn_deg % 360)}}})
    got = list(counted(make(lawn(3, 3, turn_deg)), rules))
    assert got == ["00", "01", "02", "10", "11", "12", "20", "21", "22"]


@pytest.mark.parametrize("turn_deg", [0, 20, -35])
def test_or_column_by_column_along_their_longer_side(make, turn_deg):
    """Staggered rows zigzag: a column is the n-th head of each row."""
    rules = number_rules_from({"kinds": {"practice": {"scheme": "columns"}}})
    got = list(counted(make(lawn(6, 2, turn_deg)), rules))
    assert got == [f"{row}{place}" for place in range(2) for row in range(6)]


def two_lawns():
    given = lawn(1, 2, 0)
    given["areas"]["putting"] = {"kind": "practice", "geometry": box(600, -9, 640, 9)}
    given["heads"] |= {"p0": spot(610, 0), "p1": spot(628, 0)}
    return given


def test_areas_that_share_a_place_are_counted_on(make):
    rules = NumberRules(places={"practice": "P"})
    order = head_order(make(two_lawns()), rules)
    assert list(order["number"]) == [1, 2, 3, 4]
    assert set(order["place"]) == {"P"}


def test_areas_without_a_place_are_named_by_themselves(make):
    order = head_order(make(two_lawns()), NumberRules())
    assert dict(order["place"]) == {"00": "lawn", "01": "lawn", "p0": "putting", "p1": "putting"}
    assert list(order["number"]) == [1, 2, 1, 2]


def test_an_area_with_its_own_rule_counts_on_behind_its_place(make):
    rules = NumberRules(
        places={"practice": "P"}, areas={"putting": KindRule("P", "rows", bearing_deg=0.0)}
    )
    got = counted(make(two_lawns()), rules)
    assert got == {"00": "P1", "01": "P2", "p0": "P3", "p1": "P4"}


def test_numbers_may_begin_anew_with_each_area(make):
    rules = number_rules_from(
        {"places": {"practice": "P"}, "kinds": {"practice": {"per_area": 10}}}
    )
    got = counted(make(two_lawns()), rules)
    assert list(got.values()) == ["P10", "P11", "P20", "P21"]


def test_a_hole_without_a_number_is_named_by_its_id(make):
    given = drawn_hole(fairway(1, 0))
    given["holes"]["H7"]["number"] = None
    assert set(head_order(make(given), NumberRules())["place"]) == {"H7"}


def test_holes_come_in_the_order_of_the_card(make):
    given = drawn_hole(fairway(1, 0))
    for place, number in enumerate((10, 2), 1):
        given["areas"][f"fairway {number}"] = {
            "kind": "fairway",
            "geometry": box(1000 * place - 16, 0, 1000 * place + 16, 300),
        }
        line = LineString([(1000 * place, 0), (1000 * place, 300)])
        given["holes"][f"H{number}"] = {"number": number, "geometry": line}
        given["heads"][f"h{number}"] = spot(1000 * place - 8, 150)
    assert list(head_order(make(given), NumberRules())["place"]) == ["2", "7", "10"]


def test_without_a_line_odd_and_even_fall_back_to_rows(make):
    given = drawn_hole(fairway(2, 2))
    del given["holes"]
    order = head_order(make(given), NumberRules())
    assert sorted(order["number"]) == [1, 2, 3, 4]
    assert set(order["side"]) == {""}


def test_heads_nowhere_or_on_no_turf_are_left_out(make):
    heads = fairway(1, 0) | {
        "lost": spot(0, 0) | {"geometry": None},
        "far": spot(5000, 5000),
        "sand": spot(0, 120, area="bunker"),
    }
    given = drawn_hole(heads)
    given["areas"]["bunker"] = {"kind": "bunker", "geometry": box(20, 100, 30, 110)}
    assert list(counted(make(given))) == ["L0"]


def test_a_record_without_heads_has_no_order(make):
    given = drawn_hole({})
    assert head_order(make(given), NumberRules()).empty
