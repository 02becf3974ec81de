"""Arcs and bearings proposed on drawn edges; the right answer is read off the drawing."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from shapely import affinity
from shapely.geometry import Point, box

from nightwater.findings import UserError
from nightwater.ground.arc_rules import ArcRules, arc_rules_from
from nightwater.ground.arcs import COLUMNS, propose_arcs, with_arcs
from nightwater.ground.record import ground_from

THROW = 18.0
LAWNS = ArcRules(wetted={"grounds": ("grounds",)})


def spot(x, y, **more):
    return {"nozzle": "N", "geometry": Point(x, y)} | more


def course(heads, areas=None):
    tables = {
        "areas": areas or {"lawn": {"kind": "grounds", "geometry": box(0, 0, 200, 200)}},
        "nozzles": {"N": {"pressure_kpa": 480.0, "flow_l_s": 1.5, "radius_m": THROW}},
        "heads": heads,
    }
    frames = {name: pd.DataFrame.from_dict(rows, orient="index") for name, rows in tables.items()}
    return ground_from("EPSG:32612", frames)


def one(x, y, areas=None, rules=None, **more):
    return propose_arcs(course({"h": spot(x, y, **more)}, areas), rules).loc["h"]


@pytest.mark.parametrize(
    ("x", "y", "arc", "bearing"),
    [
        (0.01, 100, 180, 90),  # west edge, throws east
        (199.99, 100, 180, 270),
        (100, 0.01, 180, 0),
        (100, 199.99, 180, 180),
        (0.01, 0.01, 90, 45),  # corners
        (199.99, 199.99, 90, 225),
        (0.01, 199.99, 90, 135),
    ],
)
def test_edges_are_half_circles_and_corners_quarters(x, y, arc, bearing):
    found = one(x, y)
    assert found["arc_deg"] == arc
    assert found["bearing_deg"] == pytest.approx(bearing)
    assert found["confidence"] > 0.9


def test_in_the_middle_a_head_is_a_full_circle():
    found = one(100, 100)
    assert found["arc_deg"] == 360
    assert np.isnan(found["bearing_deg"])
    assert found["share"] == 1.0
    assert found["confidence"] > 0.9


@pytest.mark.parametrize(("inside_m", "full"), [(14.0, True), (11.0, True), (7.0, False)])
def test_a_circle_with_85_percent_on_its_ground_is_full(inside_m, full):
    """Share of a circle cut at 11 m of 18: 92 %; at 7 m: 74 %."""
    assert (one(inside_m, 100)["arc_deg"] == 360) == full


def test_inside_an_edge_the_arc_opens_until_half_the_throw_is_lost():
    """7 m inside, throw 18 m: lost where 7/cos(a) < 9, so 39 degrees either side."""
    found = one(7.0, 100)
    assert found["arc_deg"] == pytest.approx(360 - 2 * 39, abs=5)
    assert found["bearing_deg"] == pytest.approx(90)


def test_nobody_sets_a_head_to_345_degrees():
    """8.8 m inside, throw 18 m: 20 % of the circle is lost, yet only 12° either side."""
    assert one(8.8, 100)["share"] == pytest.approx(0.80, abs=0.01)
    assert one(8.8, 100)["arc_deg"] == 360
    assert one(8.8, 100)["confidence"] == 0.4
    wider = one(8.8, 100, rules=ArcRules(widest_deg=345.0))
    assert wider["arc_deg"] == pytest.approx(360 - 2 * 12, abs=5)


def test_on_a_strip_a_head_throws_both_ways():
    """8 m wide, throw 18 m: a part circle would leave one half of the strip dry."""
    strip = {"lawn": {"kind": "grounds", "geometry": box(0, 0, 8, 200)}}
    found = one(4, 100, strip)
    assert found["arc_deg"] == 360
    assert found["confidence"] < 0.5
    assert "50% of its ground dry" in found["reasons"]
    at_its_end = one(4, 0.01, strip)
    assert at_its_end["arc_deg"] < 90
    assert at_its_end["bearing_deg"] == pytest.approx(0, abs=2.5)


def test_an_inner_corner_is_three_quarters():
    areas = {
        "a": {"kind": "grounds", "geometry": box(0, 0, 200, 100)},
        "b": {"kind": "grounds", "geometry": box(0, 100, 100, 200)},
    }
    found = one(99.99, 99.99, areas)
    assert found["arc_deg"] == 270
    assert found["bearing_deg"] == pytest.approx(225)


@pytest.mark.parametrize("turn_deg", [5, 30, 45, 100])
def test_arcs_turn_with_the_ground(turn_deg):
    lawn = affinity.rotate(box(0, 0, 200, 200), -turn_deg, origin=(0, 100))
    areas = {"lawn": {"kind": "grounds", "geometry": lawn}}
    inside = Point(0.01, 100)
    place = affinity.rotate(inside, -turn_deg, origin=(0, 100))
    found = one(place.x, place.y, areas)
    assert found["arc_deg"] == pytest.approx(180, abs=5)
    assert found["bearing_deg"] == pytest.approx(90 + turn_deg, abs=2.6)


def test_arcs_come_in_steps_of_five_degrees():
    areas = {"lawn": {"kind": "grounds", "geometry": Point(0, 0).buffer(30)}}
    for angle in range(0, 360, 25):
        place = 29 * np.sin(np.radians(angle)), 29 * np.cos(np.radians(angle))
        found = one(*place, areas)
        assert found["arc_deg"] % 5 == 0
        turned = (found["bearing_deg"] - angle - 180 + 180) % 360 - 180
        assert abs(turned) <= 5


def test_a_narrow_gap_is_thrown_over():
    """A path of 1.5 m radially away: no reason for two sectors."""
    west = box(0, 0, 200, 200).difference(box(-1, 99.2, 30, 100.8).buffer(0))
    areas = {"lawn": {"kind": "grounds", "geometry": west}}
    found = one(0.01, 99, areas)
    assert found["arc_deg"] >= 170


def test_a_head_keeps_its_arc_and_is_only_turned():
    found = one(0.01, 100, arc_deg=90.0)
    assert (found["arc_deg"], found["bearing_deg"]) == (90, pytest.approx(90))
    assert found["reasons"] == "its arc turned to the most ground"


def test_what_is_known_is_not_proposed():
    heads = {
        "full": spot(100, 100, arc_deg=360.0),
        "part": spot(0.01, 100, arc_deg=180.0, bearing_deg=80.0),
        "open": spot(0.01, 50),
    }
    assert list(propose_arcs(course(heads)).index) == ["open"]


def test_heads_without_throw_place_or_area_are_left_out():
    heads = {
        "a": spot(100, 100, nozzle=None),
        "b": spot(0, 0) | {"geometry": None},
        "c": spot(5000, 5000),
    }
    assert propose_arcs(course(heads)).empty
    assert list(propose_arcs(course(heads)).columns) == list(COLUMNS)


def test_spacing_stands_for_a_missing_throw():
    assert one(0.01, 100, nozzle=None, spacing_m=15.0)["arc_deg"] == 180


def green_and_surround():
    return {
        "green": {"kind": "green", "geometry": box(-200, 0, 200, 200)},
        "approach": {"kind": "approach", "geometry": box(-200, -100, 200, 5)},
        "pond": {"kind": "water", "geometry": box(-200, -300, 200, -100)},
    }


def test_a_greens_head_reaches_over_the_collar():
    """Standing 1 m off the green, inside the 2 m of collar, it throws more than half."""
    found = one(0, -1, green_and_surround(), area="green")
    assert 180 <= found["arc_deg"] <= 200
    assert found["bearing_deg"] == pytest.approx(0, abs=2.5)
    bare = one(0, -1, green_and_surround(), ArcRules(collar_m=0.0), area="green")
    assert bare["arc_deg"] < 180


def test_an_approach_spares_the_green_and_the_pond():
    beside_green = one(0, -0.5, green_and_surround(), area="approach")
    assert beside_green["bearing_deg"] == pytest.approx(180, abs=2.5)
    beside_pond = one(0, -99.9, green_and_surround(), area="approach")
    assert beside_pond["arc_deg"] == 180
    assert beside_pond["bearing_deg"] == pytest.approx(0, abs=2.5)


def test_rough_may_be_thrown_into_native_ground_and_beyond():
    areas = {"rough": {"kind": "rough", "geometry": box(0, 0, 200, 200)}}
    assert one(0.01, 100, areas)["arc_deg"] == 360
    strict = arc_rules_from({"wetted": {"rough": ["rough", "fairway"]}})
    assert one(0.01, 100, areas, strict)["arc_deg"] == 180


def test_two_heads_back_to_back_share_the_circle():
    """Nobody says which waters the green: the one nearer to it does, the other turns away."""
    heads = {"in": spot(0, -0.4), "out": spot(0, -1.6)}
    found = propose_arcs(course(heads, green_and_surround()))
    assert dict(found["kind"]) == {"in": "green", "out": "approach"}
    assert found.loc["in", "bearing_deg"] == pytest.approx(0, abs=2.5)
    assert found.loc["out", "bearing_deg"] == pytest.approx(180, abs=2.5)
    assert found["arc_deg"].sum() <= 360
    assert found.loc["out", "confidence"] < found.loc["in", "confidence"]
    assert "back to back" in found.loc["out", "reasons"]


def test_a_declared_area_is_believed():
    heads = {"in": spot(0, -0.4, area="approach"), "out": spot(0, -1.6, area="approach")}
    found = propose_arcs(course(heads, green_and_surround()))
    assert set(found["kind"]) == {"approach"}


def test_a_head_whose_throw_meets_none_of_its_ground_gets_no_arc():
    areas = green_and_surround() | {"far": {"kind": "green", "geometry": box(900, 900, 950, 950)}}
    found = one(0, -60, areas, area="far")
    assert np.isnan(found["arc_deg"])
    assert found["confidence"] == 0.0
    ground = course({"h": spot(0, -60, area="far")}, areas)
    assert with_arcs(ground, propose_arcs(ground)).heads["arc_deg"].isna().all()


def test_a_blurred_edge_is_less_sure_than_a_clear_one():
    comb = [box(x, 0, x + 1.5, 100) for x in range(0, 200, 3)]
    lawn = box(0, 100, 200, 200)
    for tooth in comb:
        lawn = lawn.union(tooth)
    blurred = one(100, 100, {"lawn": {"kind": "grounds", "geometry": lawn}})
    assert blurred["confidence"] < one(0.01, 100)["confidence"] - 0.2


def test_accepting_writes_arc_and_bearing_only():
    ground = course({"a": spot(0.01, 100), "b": spot(100, 100)})
    after = with_arcs(ground, propose_arcs(ground))
    assert list(after.heads["arc_deg"]) == [180, 360]
    assert after.heads.loc["a", "bearing_deg"] == pytest.approx(90)
    assert np.isnan(after.heads.loc["b", "bearing_deg"])
    assert ground.heads["arc_deg"].isna().all()
    assert propose_arcs(after).empty


def test_rules_come_back_from_json_as_they_were():
    rules = ArcRules(wetted={"green": ("green", "approach")}, collar_m=1.0)
    read = arc_rules_from(json.loads(json.dumps(rules.as_plain())))
    assert read.wetted_by("green") == ("green", "approach")
    assert read.collar_m == 1.0
    assert arc_rules_from(json.loads(json.dumps(read.as_plain()))) == read
    assert arc_rules_from({}) == ArcRules()


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({"colar_m": 2}, "unknown key 'colar_m' (did you mean 'collar_m'?)"),
        ({"wetted": {"gren": []}}, "unknown kind 'gren' (did you mean 'green'?)"),
        ({"wetted": {"rough": ["nativ"]}}, "unknown ground 'nativ' (did you mean 'native'?)"),
        ({"wetted": "green"}, "wetted is no set of named values"),
        ({"wetted": {"green": "green"}}, "wetted.green is no list of grounds"),
        ({"full_share": 85}, "full_share is no number from 0 to 1"),
        ({"gap_deg": "wide"}, "gap_deg is no number from 0 to 90"),
    ],
)
def test_what_does_not_read_is_refused(document, words):
    with pytest.raises(UserError) as told:
        arc_rules_from(document)
    assert words in str(told.value)
