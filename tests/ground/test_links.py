from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box

from nightwater.ground.links import head_area_links, head_areas, head_throw_m, station_heads
from nightwater.ground.record import ground_from

CRS = "EPSG:32612"


def test_smallest_area_wins(make, hole):
    hole["heads"] = {
        "on green": {"geometry": Point(230, 0)},
        "on fairway": {"geometry": Point(100, 0)},
        "on rough": {"geometry": Point(100, 30)},
        "on tee": {"geometry": Point(0, 0)},
    }
    assert head_areas(make(hole)).to_dict() == {
        "on green": "green",
        "on fairway": "fairway",
        "on rough": "rough",
        "on tee": "tee",
    }


def test_declared_area_wins_over_geometry(make, hole):
    hole["heads"]["F1"]["area"] = "rough"
    links = head_area_links(make(hole))
    assert links.loc["F1"].to_dict() == {"area": "rough", "how": "declared"}
    assert links.loc["F2", "area"] == "fairway"


def test_unknown_declared_area_falls_back_to_geometry(make, hole):
    hole["heads"]["F1"]["area"] = "nowhere"
    assert head_area_links(make(hole)).loc["F1"].to_dict() == {"area": "fairway", "how": "inside"}


def test_a_sector_waters_what_lies_ahead_of_it(make, hole):
    """A head on the edge of a green, once aimed in and once aimed out, waters two areas."""
    hole["heads"] = {
        "in": {"geometry": Point(218, 0), "arc_deg": 180.0, "bearing_deg": 90.0, "nozzle": "N"},
        "out": {"geometry": Point(218, 0), "arc_deg": 180.0, "bearing_deg": 270.0, "nozzle": "N"},
    }
    links = head_area_links(make(hole))
    assert links["area"].to_dict() == {"in": "green", "out": "fairway"}
    assert links["how"].tolist() == ["aimed", "aimed"]


def test_bearing_counts_clockwise_from_north(make, hole):
    hole["heads"] = {
        "north": {"geometry": Point(100, 14), "arc_deg": 90.0, "bearing_deg": 0.0, "nozzle": "N"},
        "south": {"geometry": Point(100, 14), "arc_deg": 90.0, "bearing_deg": 180.0, "nozzle": "N"},
    }
    assert head_areas(make(hole)).tolist() == ["rough", "fairway"]


def test_centre_of_gravity_of_a_half_circle_lies_at_four_thirds_of_r_over_pi(make, hole):
    """4r/(3π) = 8.49 m for 20 m: an area that begins at 8.4 m is hit, one at 8.6 m is not."""
    reach = 4 * 20.0 / (3 * math.pi)
    aimed = {"geometry": Point(0, 300), "arc_deg": 180.0, "bearing_deg": 90.0, "nozzle": "N"}
    for edge, expected in ((reach - 0.05, "aimed"), (reach + 0.05, "nearest")):
        hole["areas"] = {"a": {"kind": "fairway", "geometry": box(edge, 290, edge + 50, 310)}}
        hole["heads"] = {"h": aimed}
        assert head_area_links(make(hole)).loc["h", "how"] == expected


@pytest.mark.parametrize("lacks", ["bearing_deg", "arc_deg", "nozzle"])
def test_a_sector_that_does_not_tell_its_aim_waters_where_it_stands(make, hole, lacks):
    hole["heads"] = {
        "h": {"geometry": Point(218, 0), "arc_deg": 180.0, "bearing_deg": 90.0, "nozzle": "N"}
    }
    hole["heads"]["h"][lacks] = None
    assert head_area_links(make(hole)).loc["h"].to_dict() == {"area": "fairway", "how": "inside"}


def test_full_circle_with_a_bearing_is_not_aimed(make, hole):
    hole["heads"] = {
        "h": {"geometry": Point(218, 0), "arc_deg": 360.0, "bearing_deg": 90.0, "nozzle": "N"}
    }
    assert head_areas(make(hole))["h"] == "fairway"


def test_head_outside_takes_the_nearest_area_within_its_throw(make, hole):
    hole["heads"] = {
        "near": {"geometry": Point(100, 58), "nozzle": "N"},
        "far": {"geometry": Point(100, 62), "nozzle": "N"},
    }
    links = head_area_links(make(hole))
    assert links.loc["near"].to_dict() == {"area": "rough", "how": "nearest"}
    assert links.loc["far", "area"] is None
    assert links.loc["far", "how"] == ""


def test_throw_is_the_nozzles_then_the_spacing_then_unknown(make, hole):
    hole["heads"] = {
        "nozzle": {"geometry": Point(0, 0), "nozzle": "N", "spacing_m": 12.0},
        "spacing": {"geometry": Point(0, 0), "spacing_m": 12.0},
        "unknown": {"geometry": Point(0, 0)},
    }
    throw = head_throw_m(make(hole))
    assert throw.tolist()[:2] == [20.0, 12.0]
    assert math.isnan(throw["unknown"])


def test_without_throw_twenty_metres_count_as_near(make, hole):
    hole["heads"] = {"a": {"geometry": Point(100, 59)}, "b": {"geometry": Point(100, 61)}}
    assert head_areas(make(hole)).tolist() == ["rough", None]


def test_sand_water_and_native_ground_are_no_heads_area(make, hole):
    hole["heads"] = {"h": {"geometry": Point(155, 14)}}
    assert head_areas(make(hole))["h"] == "fairway"
    hole["areas"] = {"pond": {"kind": "water", "geometry": box(-10, -10, 10, 10)}}
    hole["heads"] = {"h": {"geometry": Point(0, 0)}}
    assert head_areas(make(hole))["h"] is None


def test_edges_parts_and_broken_outlines_count(make, hole):
    bow = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    parts = MultiPolygon([box(100, 0, 110, 10), box(200, 0, 210, 10)])
    hole["areas"] = {
        "bow": {"kind": "fairway", "geometry": bow},
        "parts": {"kind": "fairway", "geometry": parts},
        "none": {"kind": "fairway", "geometry": None},
    }
    hole["heads"] = {
        "edge": {"geometry": Point(100, 5)},
        "second part": {"geometry": Point(205, 5)},
        "in the bow": {"geometry": Point(9, 5)},
        "nowhere": {"geometry": None},
    }
    assert head_areas(make(hole)).to_dict() == {
        "edge": "parts",
        "second part": "parts",
        "in the bow": "bow",
        "nowhere": None,
    }


def test_nothing_surveyed_yields_empty_links():
    ground = ground_from(CRS, {})
    assert len(head_area_links(ground)) == 0
    assert len(station_heads(ground)) == 0


def test_inputs_stay_as_they_are(make, hole):
    ground = make(hole)
    before = ground.heads.copy(), ground.areas.copy()
    head_areas(ground)
    pd.testing.assert_frame_equal(ground.heads, before[0])
    pd.testing.assert_frame_equal(ground.areas, before[1])


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=1, max_size=12),
    st.lists(
        st.tuples(st.floats(-90, 90), st.floats(-90, 90), st.floats(1, 60)), min_size=1, max_size=6
    ),
)
def test_tree_agrees_with_looking_at_every_pair(spots, squares):
    import geopandas as gpd

    shapes = [box(x, y, x + side, y + side) for x, y, side in squares]
    points = [Point(spot) for spot in spots]
    ground = ground_from(
        CRS,
        {
            "areas": gpd.GeoDataFrame(
                {"kind": "rough", "geometry": shapes}, index=[f"a{i}" for i in range(len(shapes))]
            ),
            "heads": gpd.GeoDataFrame(
                {"geometry": points}, index=[f"h{i}" for i in range(len(points))]
            ),
        },
    )
    links = head_area_links(ground)
    for row, point in enumerate(points):
        around = [shape for shape in shapes if shape.intersects(point)]
        found = links["area"].iloc[row]
        if around:
            assert shapely.area(shapes[int(found[1:])]) == min(shape.area for shape in around)
            continue
        distance = min(shape.distance(point) for shape in shapes)
        if distance <= 19.99:
            assert shapes[int(found[1:])].distance(point) == pytest.approx(distance)
        elif distance > 20.01:
            assert found is None


def test_station_heads_lists_every_station_in_record_order(make, hole):
    hole["heads"]["X"] = {"geometry": Point(0, 0), "station": "unknown"}
    hole["heads"]["Y"] = {"geometry": Point(0, 0), "station": None}
    hole["stations"]["S9"] = {"label": "empty"}
    lists = station_heads(make(hole))
    assert lists["S1"] == ["F1", "F2"]
    assert lists["S9"] == []
    assert list(lists.index) == list(make(hole).stations.index)
    assert "X" not in np.concatenate([*lists])
