from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from nightwater.ground.linked import Linked, neighbour_distance_m, rows_where
from nightwater.ground.shapes import chosen, ids, sound_shapes, texts

_SPOT = st.tuples(st.floats(-100, 100), st.floats(-100, 100))


def pattern(points, area="a", nozzle="N"):
    x, y = np.array(points, dtype=float).T
    return pd.DataFrame(
        {"area": area, "nozzle": nozzle, "x": x, "y": y}, index=[f"h{n}" for n in range(len(x))]
    )


class TestNeighbours:
    def test_nearest_of_its_kind(self):
        found = neighbour_distance_m(pattern([(0, 0), (3, 4), (30, 0)]))
        assert found.tolist() == pytest.approx([5.0, 5.0, math.hypot(27, 4)])

    def test_other_areas_and_nozzles_do_not_count(self):
        heads = pd.concat(
            [
                pattern([(0, 0), (10, 0)]),
                pattern([(1, 0), (21, 0)], area="b").set_axis(["b0", "b1"]),
                pattern([(2, 0), (32, 0)], nozzle="M").set_axis(["m0", "m1"]),
            ]
        )
        assert neighbour_distance_m(heads).tolist() == [10.0, 10.0, 20.0, 20.0, 30.0, 30.0]

    def test_unknown_place_area_or_company_is_nan(self):
        heads = pattern([(0, 0), (10, 0), (np.nan, np.nan), (20, 0)])
        heads.loc["h3", "area"] = None
        found = neighbour_distance_m(heads)
        assert found.tolist()[:2] == [10.0, 10.0]
        assert found.iloc[2:].isna().all()
        assert neighbour_distance_m(pattern([(0, 0)])).isna().all()

    @settings(max_examples=40, deadline=None)
    @given(st.lists(_SPOT, min_size=2, max_size=12, unique=True))
    def test_tree_agrees_with_every_pair(self, points):
        found = neighbour_distance_m(pattern(points)).to_numpy()
        spots = np.array(points)
        away = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
        np.fill_diagonal(away, np.inf)
        assert found == pytest.approx(away.min(axis=1), abs=1e-9)


class TestLinked:
    def test_flow_is_measured_then_rated_then_unknown(self, make, hole):
        hole["heads"]["F1"]["measured_flow_l_s"] = 1.5
        hole["heads"]["F2"]["pressure_kpa"] = 480.0 / 4
        hole["heads"]["R1"]["nozzle"] = None
        hole["nozzles"]["N"]["flow_exponent"] = 0.5
        flow = Linked(make(hole)).heads["flow_l_s"]
        assert flow["F1"] == 1.5
        assert flow["F2"] == pytest.approx(1.7 / 2)
        assert math.isnan(flow["R1"])
        assert flow["R2"] == 1.7

    def test_exponent_is_the_nozzles_own(self, make, hole):
        hole["nozzles"]["N"]["flow_exponent"] = 0.415
        hole["heads"]["F1"]["pressure_kpa"] = 480.0 * 2
        flow = Linked(make(hole)).heads["flow_l_s"]
        assert flow["F1"] == pytest.approx(1.7 * 2**0.415)

    def test_kind_follows_the_area(self, make, hole):
        kinds = Linked(make(hole)).heads["kind"]
        assert kinds.to_dict() == {
            "F1": "fairway",
            "F2": "fairway",
            "R1": "rough",
            "R2": "rough",
            "T1": "tee",
            "T2": "tee",
            "G1": "green",
            "G2": "green",
        }

    def test_a_head_without_place_has_no_coordinates(self, make, hole):
        hole["heads"]["F1"]["geometry"] = None
        heads = Linked(make(hole)).heads
        assert heads.loc["F1", ["x", "y"]].isna().all()
        assert heads.loc["F2", "x"] == 80.0

    def test_name_is_the_label_else_the_id(self, make, hole):
        hole["heads"]["F2"]["label"] = None
        linked = Linked(make(hole))
        assert linked.name("heads", "F1") == "tag 60 0"
        assert linked.name("heads", "F2") == "F2"
        assert linked.name("heads", "unknown") == "unknown"


def test_rows_where_gives_plain_values():
    rows = pd.DataFrame({"a": [1.5, 2.5]}, index=["one", "two"])
    rows["b"] = pd.Series(["x", None], index=rows.index, dtype=object)
    assert list(rows_where(rows, rows["a"] > 2)) == [("two", {"a": 2.5, "b": None})]
    assert list(rows_where(rows, [False, False])) == []


class TestShapes:
    def test_missing_empty_and_wrong_dimension_become_empty(self, make):
        areas = {
            "sound": {"kind": "tee", "geometry": box(0, 0, 1, 1)},
            "none": {"kind": "tee", "geometry": None},
            "line": {"kind": "tee", "geometry": LineString([(0, 0), (1, 1)])},
            "empty": {"kind": "tee", "geometry": Polygon()},
        }
        shapes = sound_shapes(make({"areas": areas}).areas, "areas")
        assert [shape.is_empty for shape in shapes] == [False, True, True, True]

    def test_a_crossing_outline_is_mended_and_the_record_is_not(self, make):
        bow = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
        ground = make({"areas": {"bow": {"kind": "tee", "geometry": bow}}})
        (shape,) = sound_shapes(ground.areas, "areas")
        assert shape.is_valid
        assert shape.area == pytest.approx(50.0)
        assert not ground.areas.geometry["bow"].is_valid

    def test_points_stay_points(self, make):
        ground = make({"heads": {"h": {"geometry": Point(1, 2)}}})
        assert sound_shapes(ground.heads, "heads")[0].equals(Point(1, 2))

    def test_texts_ids_and_chosen(self):
        rows = pd.DataFrame({"label": ["a", None, "", 3]}, index=["w", "x", "y", "z"])
        assert texts(rows, "label") == ["a", None, None, None]
        assert ids(rows).tolist() == ["w", "x", "y", "z"]
        assert chosen(ids(rows), [2, -1, 0]) == ["y", None, "w"]
