"""Move, draw anew, place along a line: geometry in metres."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box, mapping

from nightwater.findings import UserError
from nightwater.ground.columns import Shape
from nightwater.ground.edits.geometry import drawn_line, mended, record_geometry
from nightwater.ground.edits.move import move
from nightwater.ground.edits.place_along import place_along, places_along
from nightwater.ground.edits.reshape import reshape
from nightwater.ground.record import Ground


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    return make(hole)


def test_a_move_is_a_translation_and_nothing_else(ground: Ground) -> None:
    after = move(ground, "areas", ["green", "tee"], 3.5, -2.0)
    for area in ("green", "tee"):
        was, now = (shapely.get_coordinates(g.areas.geometry[area]) for g in (ground, after))
        assert np.allclose(now - was, (3.5, -2.0), atol=1e-12)
    assert after.areas.geometry["rough"].equals(ground.areas.geometry["rough"])
    assert after.areas.drop(columns="geometry").equals(ground.areas.drop(columns="geometry"))


def test_what_has_no_place_is_not_moved(make: Any, hole: Any) -> None:
    hole["heads"]["F1"] |= {"geometry": None}
    ground = make(hole)
    with pytest.raises(UserError, match="F1 have no place on the map yet"):
        move(ground, "heads", ["F1", "F2"], 1, 1)
    with pytest.raises(UserError, match="stations have no place"):
        move(ground, "stations", ["S1"], 1, 1)
    with pytest.raises(UserError, match="outside every map"):
        move(ground, "heads", ["F2"], 1e12, 0)


def test_a_row_is_drawn_anew(ground: Ground) -> None:
    ring = mapping(box(0, 0, 10, 10))
    after = reshape(ground, "areas", "green", ring)
    assert isinstance(after.areas.geometry["green"], MultiPolygon)
    assert after.areas.geometry["green"].area == pytest.approx(100.0)
    line = reshape(ground, "holes", "H1", {"type": "LineString", "coordinates": [[0, 0], [9, 0]]})
    assert line.holes.geometry["H1"].geom_type == "MultiLineString"
    with pytest.raises(UserError, match="controllers have no place"):
        reshape(ground, "controllers", "A", ring)
    with pytest.raises(UserError, match="Grn is no area"):
        reshape(ground, "areas", "Grn", ring)


@pytest.mark.parametrize(
    ("drawn", "shape", "sentence"),
    [
        ({"type": "Point", "coordinates": [0, 0]}, Shape.POLYGON, "a Point; a Polygon is wanted"),
        ({"type": "Polygon"}, Shape.POLYGON, "does not read as GeoJSON"),
        ({"type": "Circle", "coordinates": [0, 0]}, Shape.POINT, "does not read as GeoJSON"),
        ({"type": "Point", "coordinates": []}, Shape.POINT, "is empty"),
        ({"type": "Point", "coordinates": [float("nan"), 0]}, Shape.POINT, ""),
        ({"type": "Point", "coordinates": [1e9, 0]}, Shape.POINT, "outside every map"),
        ({"type": "MultiPoint", "coordinates": [[0, 0], [1, 1]]}, Shape.POINT, "one point"),
        ({"type": "LineString", "coordinates": [[1, 1], [1, 1]]}, Shape.LINE, "no length"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [2, 2], [0, 0]]]},
         Shape.POLYGON, "is wanted"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [2, 0]]]},
         Shape.POLYGON, "does not read"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [9, 9], [9, 0], [0, 9], [0, 0]]]},
         Shape.POLYGON, "self-intersection"),
    ],
)  # fmt: skip
def test_what_cannot_stand_on_the_map_is_told(drawn: Any, shape: Shape, sentence: str) -> None:
    with pytest.raises(UserError) as told:
        record_geometry(drawn, shape)
    assert sentence in str(told.value)


def test_heights_are_left_aside_and_certain_repairs_made() -> None:
    high = record_geometry({"type": "Point", "coordinates": [1, 2, 300]}, Shape.POINT)
    assert not high.has_z
    spike = Polygon([(0, 0), (10, 0), (10, 10), (10, 14), (10, 10), (0, 10)])
    assert not spike.is_valid
    assert mended(spike).area == pytest.approx(100.0)
    shape = record_geometry(mapping(spike), Shape.POLYGON)
    assert shape.is_valid
    assert shape.geom_type == "MultiPolygon"


def test_a_line_needs_two_places() -> None:
    assert drawn_line([(0, 0), (3, 4)]).length == 5
    with pytest.raises(UserError, match="two different points"):
        drawn_line([(1, 1), (1, 1)])


@pytest.mark.parametrize(
    ("length_m", "spacing_m", "count"),
    [(60, 20, 4), (59.9, 20, 3), (19.8 * 3, 19.8, 4), (5, 20, 1), (0.3, 0.1, 4)],
)
def test_as_many_as_the_line_holds(length_m: float, spacing_m: float, count: int) -> None:
    points = places_along(LineString([(0, 0), (length_m, 0)]), spacing_m)
    assert [p.x for p in points] == pytest.approx([spacing_m * n for n in range(count)])


def test_the_spacing_is_measured_along_the_line() -> None:
    """A corner: 10 m east, then north; every 6 m of the way."""
    points = places_along(LineString([(0, 0), (10, 0), (10, 10)]), 6.0)
    assert [(p.x, p.y) for p in points] == [
        pytest.approx(place) for place in [(0, 0), (6, 0), (10, 2), (10, 8)]
    ]


def test_new_heads_are_like_the_one_named(make: Any, hole: Any) -> None:
    hole["heads"]["G1"] |= {"elevation_m": 12.0, "measured_flow_l_s": 1.6, "pressure_kpa": 470.0}
    after = place_along(make(hole), [(0, 50), (40, 50)], 20.0, "G1")
    new = after.heads.loc[["head-0001", "head-0002", "head-0003"]]
    assert set(new["nozzle"]) == {"N"}
    assert set(new["arc_deg"]) == {180.0}
    assert set(new["pressure_kpa"]) == {470.0}
    assert set(new["spacing_m"]) == {20.0}
    assert set(new["evidence"]) == {"drawing"}
    assert new[["label", "station", "elevation_m", "measured_flow_l_s"]].isna().all().all()
    assert list(new.geometry) == [Point(0, 50), Point(20, 50), Point(40, 50)]


@pytest.mark.parametrize(
    ("line", "spacing", "like", "sentence"),
    [
        ([(0, 0), (40, 0)], 0, "F1", "places nothing"),
        ([(0, 0), (40, 0)], math.nan, "F1", "places nothing"),
        ([(0, 0), (40000, 0)], 20, "F1", "at most 500"),
        ([(0, 0), (40, 0)], 20, "F3", "F3 is no head"),
        ([(0, 0)], 20, "F1", "two different points"),
        ([(0, 0), (40, 0)], 0.5, "F1", "spacing_m is 0.5; it must lie between 1 and 40"),
    ],
)
def test_a_row_of_heads_that_cannot_be_is_told(
    ground: Ground, line: Any, spacing: float, like: str, sentence: str
) -> None:
    with pytest.raises(UserError) as told:
        place_along(ground, line, spacing, like)
    assert sentence in str(told.value)
