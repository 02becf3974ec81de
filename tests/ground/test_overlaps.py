from __future__ import annotations

import geopandas as gpd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from nightwater.ground.links import net_area_m2
from nightwater.ground.overlaps import SPECIAL_FIRST, overlap_pairs, own_shapes
from nightwater.ground.record import ground_from
from nightwater.ground.tables import AREA_KINDS


def test_a_green_in_a_fairway_in_the_rough_counts_once(make):
    ground = make(
        {
            "areas": {
                "rough": {"kind": "rough", "geometry": box(0, 0, 100, 100)},
                "fairway": {"kind": "fairway", "geometry": box(10, 10, 60, 60)},
                "green": {"kind": "green", "geometry": box(50, 50, 70, 70)},
            }
        }
    )
    net = net_area_m2(ground)
    assert net.to_dict() == {"green": 400.0, "fairway": 2500.0 - 100.0, "rough": 10000 - 2500 - 300}


def test_sand_and_water_are_nobodys_turf(make):
    ground = make(
        {
            "areas": {
                "approach": {"kind": "approach", "geometry": box(0, 0, 10, 10)},
                "bunker": {"kind": "bunker", "geometry": box(0, 0, 5, 2)},
                "pond": {"kind": "water", "geometry": box(5, 5, 15, 15)},
            }
        }
    )
    assert net_area_m2(ground).to_dict() == {"approach": 100 - 10 - 25, "bunker": 10, "pond": 100}


def test_of_one_kind_the_smaller_keeps_the_overlap(make):
    ground = make(
        {
            "areas": {
                "large": {"kind": "tee", "geometry": box(0, 0, 20, 10)},
                "small": {"kind": "tee", "geometry": box(15, 0, 25, 10)},
            }
        }
    )
    assert net_area_m2(ground).to_dict() == {"large": 150.0, "small": 100.0}


def test_the_same_area_twice_counts_once(make):
    twice = {"kind": "green", "geometry": box(0, 0, 10, 10)}
    net = net_area_m2(make({"areas": {"one": twice, "two": dict(twice)}}))
    assert net.to_dict() == {"one": 100.0, "two": 0.0}


def test_an_area_without_outline_counts_nothing(make):
    ground = make({"areas": {"x": {"kind": "tee", "geometry": None}}})
    assert net_area_m2(ground).to_dict() == {"x": 0.0}
    assert len(net_area_m2(ground_from("EPSG:32612", {}))) == 0


def test_every_kind_has_its_place_in_the_order():
    assert sorted(SPECIAL_FIRST) == sorted(AREA_KINDS)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(AREA_KINDS),
            st.integers(-50, 50),
            st.integers(-50, 50),
            st.integers(1, 40),
            st.booleans(),
        ),
        min_size=1,
        max_size=9,
    )
)
def test_no_ground_is_lost_and_none_counted_twice(drawn):
    shapes = [
        Point(x, y).buffer(size) if is_round else box(x, y, x + size, y + size)
        for _, x, y, size, is_round in drawn
    ]
    rows = gpd.GeoDataFrame(
        {"kind": [kind for kind, *_ in drawn], "geometry": shapes},
        index=[f"a{number}" for number in range(len(drawn))],
    )
    ground = ground_from("EPSG:32612", {"areas": rows})
    assert net_area_m2(ground).sum() == pytest.approx(shapely.union_all(shapes).area, rel=1e-9)
    own = own_shapes(ground)
    for one, other in ((a, b) for a in range(len(own)) for b in range(a)):
        assert shapely.area(shapely.intersection(own[one], own[other])) == pytest.approx(
            0, abs=1e-6
        )


def test_pairs_of_one_kind_tell_overlap_and_share(make):
    ground = make(
        {
            "areas": {
                "one": {"kind": "fairway", "geometry": box(0, 0, 10, 10)},
                "other": {"kind": "fairway", "geometry": box(8, 0, 28, 10)},
                "touching": {"kind": "fairway", "geometry": box(28, 0, 30, 10)},
                "green": {"kind": "green", "geometry": box(0, 0, 10, 10)},
            }
        }
    )
    pairs = overlap_pairs(ground).set_index(["one", "other"])
    assert pairs.loc[("one", "other")].tolist() == [20.0, pytest.approx(0.2)]
    assert pairs.loc[("other", "touching")].tolist() == [0.0, 0.0]
    assert len(pairs) == 2
