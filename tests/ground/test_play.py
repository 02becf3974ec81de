from __future__ import annotations

import pytest
from shapely.geometry import LineString, MultiLineString, box

from nightwater.ground.links import area_holes
from nightwater.ground.play import backward_lines
from nightwater.ground.record import ground_from


def two_holes():
    """Hole A runs east along y = 0, hole B comes back along y = 100."""
    return {
        "A": {"number": 1, "geometry": LineString([(0, 0), (300, 0)])},
        "B": {"number": 2, "geometry": LineString([(300, 100), (0, 100)])},
    }


def holes_of(make, areas, holes=None):
    return area_holes(make({"areas": areas, "holes": holes or two_holes()})).to_dict()


def test_greens_go_by_the_end_of_the_line_and_tees_by_its_start(make):
    areas = {
        "green A": {"kind": "green", "geometry": box(290, -10, 310, 10)},
        "green B": {"kind": "green", "geometry": box(-10, 90, 10, 110)},
        "tee A": {"kind": "tee", "geometry": box(-10, -5, 5, 5)},
        "tee B": {"kind": "tee", "geometry": box(295, 95, 310, 105)},
    }
    assert holes_of(make, areas) == {"green A": "A", "green B": "B", "tee A": "A", "tee B": "B"}


def test_a_line_that_ends_short_of_its_green_still_finds_it(make):
    """Real lines of play end up to 65 m short."""
    areas = {
        "short": {"kind": "green", "geometry": box(364, -10, 384, 10)},
        "too far": {"kind": "green", "geometry": box(376, 200, 396, 220)},
    }
    assert holes_of(make, areas) == {"short": "A", "too far": None}


def test_a_practice_green_beside_the_last_hole_gets_none(make):
    areas = {
        "green A": {"kind": "green", "geometry": box(290, -10, 310, 10)},
        "practice": {"kind": "green", "geometry": box(330, 20, 350, 40)},
    }
    assert holes_of(make, areas) == {"green A": "A", "practice": None}


def test_two_greens_around_one_end_both_belong(make):
    """A green drawn in two layers: both hold the end of the line."""
    areas = {
        "inner": {"kind": "green", "geometry": box(295, -5, 305, 5)},
        "outer": {"kind": "green", "geometry": box(285, -15, 315, 15)},
    }
    assert set(holes_of(make, areas).values()) == {"A"}


def test_a_double_green_goes_to_the_end_it_holds_first(make):
    holes = two_holes() | {"B": {"number": 2, "geometry": LineString([(300, 300), (310, 30)])}}
    areas = {"double": {"kind": "green", "geometry": box(290, -10, 320, 40)}}
    assert holes_of(make, areas, holes)["double"] in ("A", "B")


def test_a_forward_tee_beside_the_first_third_belongs(make):
    areas = {
        "forward": {"kind": "tee", "geometry": box(80, 10, 95, 20)},
        "beside the end": {"kind": "tee", "geometry": box(200, 0, 210, 10)},
    }
    assert holes_of(make, areas) == {"forward": "A", "beside the end": None}


def test_fairway_and_rough_go_by_the_length_of_line_on_them(make):
    areas = {
        "fairway": {"kind": "fairway", "geometry": box(50, -20, 250, 95)},
        "more of B": {
            "kind": "rough",
            "geometry": box(100, -10, 200, 30).union(box(0, 90, 250, 120)),
        },
    }
    assert holes_of(make, areas) == {"fairway": "A", "more of B": "B"}


def test_ground_beside_a_line_takes_the_nearest_within_sixty_metres(make):
    areas = {
        "bunker": {"kind": "bunker", "geometry": box(200, 20, 210, 25)},
        "far rough": {"kind": "rough", "geometry": box(200, -200, 210, -70)},
        "near rough": {"kind": "rough", "geometry": box(200, -200, 210, -50)},
    }
    assert holes_of(make, areas) == {"bunker": "A", "far rough": None, "near rough": "A"}


@pytest.mark.parametrize("kind", ["practice", "grounds", "native", "water"])
def test_ground_that_is_not_of_a_hole_gets_none(make, kind):
    assert holes_of(make, {"x": {"kind": kind, "geometry": box(50, -20, 250, 20)}}) == {"x": None}


def test_declared_hole_wins_and_an_unknown_one_does_not(make):
    areas = {
        "declared": {"kind": "fairway", "hole": "B", "geometry": box(50, -20, 250, 20)},
        "unknown": {"kind": "fairway", "hole": "Z", "geometry": box(50, -20, 250, 20)},
    }
    assert holes_of(make, areas) == {"declared": "B", "unknown": "A"}


def test_lines_in_parts_are_joined_and_missing_ones_pass(make):
    holes = {
        "A": {"number": 1, "geometry": MultiLineString([[(0, 0), (150, 0)], [(150, 0), (300, 0)]])},
        "B": {"number": 2, "geometry": None},
    }
    areas = {
        "green": {"kind": "green", "geometry": box(290, -10, 310, 10)},
        "tee": {"kind": "tee", "geometry": box(-10, -5, 5, 5)},
        "fairway": {"kind": "fairway", "geometry": box(50, -10, 250, 10)},
        "no shape": {"kind": "fairway", "geometry": None},
    }
    assert holes_of(make, areas, holes) == {
        "green": "A",
        "tee": "A",
        "fairway": "A",
        "no shape": None,
    }


def test_without_holes_or_areas_there_is_nothing_to_say(make):
    areas = {"f": {"kind": "fairway", "geometry": box(0, 0, 9, 9)}}
    assert area_holes(make({"areas": areas})).to_dict() == {"f": None}
    assert len(area_holes(ground_from("EPSG:32612", {}))) == 0


def backward_hole():
    """A line drawn from the green at its start to the tee at its end."""
    return {
        "areas": {
            "green": {"kind": "green", "geometry": box(-10, -10, 10, 10)},
            "tee": {"kind": "tee", "geometry": box(295, -5, 310, 5)},
        },
        "holes": {"A": {"number": 1, "geometry": LineString([(0, 0), (300, 0)])}},
    }


def test_a_line_from_green_to_tee_is_turned_round(make):
    ground = make(backward_hole())
    assert backward_lines(ground).to_dict() == {"A": True}
    assert area_holes(ground).to_dict() == {"green": "A", "tee": "A"}
    assert ground.holes.geometry["A"].coords[0] == (0.0, 0.0)


def test_a_line_that_passes_another_green_at_its_start_is_not_turned(make):
    tables = backward_hole()
    tables["areas"]["own green"] = {"kind": "green", "geometry": box(290, -10, 320, 10)}
    assert backward_lines(make(tables)).to_dict() == {"A": False}


@pytest.mark.parametrize("lacks", ["green", "tee"])
def test_without_green_or_tee_nothing_tells_the_direction(make, lacks):
    tables = backward_hole()
    del tables["areas"][lacks]
    assert backward_lines(make(tables)).to_dict() == {"A": False}
