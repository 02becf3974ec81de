"""Turf as cells: what scan lines find against the geometry library, nothing counted twice."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from nightwater.findings import UserError
from nightwater.ground.overlaps import net_area_m2
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import WATERED_KINDS
from nightwater.spray.grid import cell_kinds, cells_within, turf_grid

CRS = "EPSG:32612"
DATA = os.environ.get("NIGHTWATER_DATA")


def course(**areas: tuple[str, Any]) -> Ground:
    rows = gpd.GeoDataFrame(
        {"kind": [kind for kind, _ in areas.values()]},
        index=list(areas),
        geometry=[shape for _, shape in areas.values()],
    )
    return ground_from(CRS, {"areas": rows})


def as_mask(shape: Any, left: float, top: float, cell: float, size: int) -> np.ndarray:
    """Cells by scan lines, those beyond the square left aside."""
    row, column = cells_within(shape, left, top, cell)
    mask = np.zeros((size, size), dtype=int)
    inside = (row >= 0) & (row < size) & (column >= 0) & (column < size)
    np.add.at(mask, (row[inside], column[inside]), 1)
    return mask


def by_library(shape: Any, left: float, top: float, cell: float, size: int) -> np.ndarray:
    middles = (np.arange(size) + 0.5) * cell
    x, y = np.meshgrid(left + middles, top - middles)
    return np.asarray(shapely.contains_xy(shape, x, y)).astype(int)


@given(
    corners=st.lists(
        st.tuples(st.floats(0, 20), st.floats(0, 20)), min_size=3, max_size=9, unique=True
    ),
    cell=st.sampled_from([0.25, 1.0, 1.7]),
)
def test_any_polygon_has_the_cells_that_the_library_finds(
    corners: list[tuple[float, float]], cell: float
) -> None:
    """Convex or star-shaped outlines; a middle right on an edge may go either way."""
    shape = shapely.make_valid(Polygon(corners))
    assume(shape.area > 0)
    size = math.ceil(22 / cell)
    found, expected = (find(shape, -1, 21, cell, size) for find in (as_mask, by_library))
    doubtful = found != expected
    middles = (np.arange(size) + 0.5) * cell
    x, y = np.meshgrid(-1 + middles, 21 - middles)
    near = shapely.distance(shapely.boundary(shape), shapely.points(x, y)[doubtful])
    assert (near < 1e-9).all()
    assert found.max(initial=0) <= 1


def test_holes_parts_and_nested_collections() -> None:
    """A repaired outline may hold polygons in a multipolygon in a collection, and loose lines."""
    ring = box(0, 0, 10, 10).difference(box(3, 3, 7, 7))
    parts = MultiPolygon([ring, box(12, 0, 14, 2)])
    nested = GeometryCollection([parts, LineString([(0, 0), (5, 5)])])
    for shape in (parts, nested):
        mask = as_mask(shape, 0, 14, 1, 14)
        assert mask.sum() == 100 - 16 + 4
        assert mask[14 - 5, 5] == 0  # in the hole


def test_a_middle_on_an_edge_belongs_to_one_of_two_neighbours() -> None:
    """Edges run through the middles of cells: no cell is lost, none is taken by both."""
    left, right = box(0, 0, 4.5, 9), box(4.5, 0, 9, 9)
    low, high = box(0, 0, 9, 4.5), box(0, 4.5, 9, 9)
    for one, other in ((left, right), (low, high)):
        both = as_mask(one, 0, 9, 1, 9) + as_mask(other, 0, 9, 1, 9)
        assert (both == 1).all()


def test_rows_count_from_the_north_and_columns_from_the_west() -> None:
    row, column = cells_within(box(2, 5, 3, 7), 0, 10, 1)
    assert row.tolist() == [3, 4]
    assert column.tolist() == [2, 2]
    row, column = cells_within(box(-2, 11, -1, 12), 0, 10, 1)
    assert (row.tolist(), column.tolist()) == ([-2], [-2])


def test_no_polygon_no_cells() -> None:
    for shape in (Polygon(), GeometryCollection(), box(0.6, 0.6, 0.9, 0.9)):
        row, column = cells_within(shape, 0, 10, 1)
        assert (row.size, column.size) == (0, 0)


def test_every_cell_has_one_owner() -> None:
    ground = course(
        rough=("rough", box(0, 0, 30, 20)),
        fairway=("fairway", box(5, 5, 25, 15)),
        green=("green", box(20, 8, 28, 12)),
        bunker=("bunker", box(10, 3, 14, 7)),
        pond=("water", box(0, 0, 4, 4)),
    )
    grid = turf_grid(ground, 1.0)
    counts = dict(zip(grid.areas, np.bincount(grid.area, minlength=5).tolist(), strict=True))
    assert counts == {
        "rough": 600 - 200 - 12 - 16 - 8,
        "fairway": 200 - 20 - 8,
        "green": 32,
        "bunker": 0,
        "pond": 0,
    }
    assert len(grid) == sum(counts.values())
    assert net_area_m2(ground)[["rough", "fairway", "green"]].tolist() == [364, 172, 32]


def test_places_images_and_spots_agree() -> None:
    grid = turf_grid(course(a=("green", box(100.5, 50.5, 103.5, 52.5))), 0.5)
    assert (grid.left_m, grid.top_m, grid.rows, grid.columns) == (100.5, 52.5, 4, 6)
    assert len(grid) == 24
    assert (grid.x_m[0], grid.y_m[0]) == (100.75, 52.25)
    for place in range(len(grid)):
        assert grid.cell_at(grid.x_m[place], grid.y_m[place]) == place
    picture = grid.image(np.arange(24.0))
    assert picture[0].tolist() == [0, 1, 2, 3, 4, 5]
    assert grid.cell_at(99, 51) == grid.cell_at(101, 60) == -1
    assert grid.cell_m2 == 0.25


def test_each_cell_has_the_kind_of_its_own_area() -> None:
    ground = course(
        F=("fairway", box(0, 0, 10, 4)),
        W=("water", box(20, 0, 24, 4)),
        G=("green", box(4, 0, 8, 4)),
    )
    grid = turf_grid(ground)
    kinds = cell_kinds(grid, ground)
    assert kinds.shape == (len(grid),)
    assert kinds.dtype == object
    assert kinds[grid.cell_at(1.5, 1.5)] == kinds[grid.cell_at(9.5, 1.5)] == "fairway"
    assert kinds[grid.cell_at(5.5, 1.5)] == "green"
    assert {kind: int((kinds == kind).sum()) for kind in set(kinds)} == {"fairway": 24, "green": 16}


def test_kinds_follow_the_grid_s_areas_and_not_the_order_of_the_record() -> None:
    ground = course(F=("fairway", box(0, 0, 4, 4)), G=("green", box(10, 0, 14, 4)))
    grid = turf_grid(ground)
    turned = ground.with_table("areas", ground.areas.iloc[::-1])
    assert (cell_kinds(grid, turned) == cell_kinds(grid, ground)).all()


def test_kinds_of_no_turf_are_none() -> None:
    ground = course(W=("water", box(0, 0, 4, 4)))
    assert cell_kinds(turf_grid(ground), ground).shape == (0,)


def test_off_the_turf_is_no_number() -> None:
    grid = turf_grid(course(a=("green", Point(5, 5).buffer(4))), 1.0)
    picture = grid.image(np.ones(len(grid)))
    assert np.isnan(picture[0, 0])
    assert np.nansum(picture) == len(grid)
    assert grid.cell_at(1.2, 8.8) == -1  # in the rectangle, not on turf


def test_chosen_areas_keep_what_lies_on_them_out() -> None:
    ground = course(fairway=("fairway", box(0, 0, 10, 10)), green=("green", box(0, 0, 5, 5)))
    grid = turf_grid(ground, 1.0, ["fairway"])
    assert len(grid) == 75
    assert set(grid.area.tolist()) == {0}
    assert len(turf_grid(ground, 1.0, [])) == 0


def test_corners_lie_on_whole_cells_so_that_grids_fit() -> None:
    ground = course(a=("green", box(3.3, 7.7, 9.1, 12.2)), b=("tee", box(31.4, 2.2, 36, 8.8)))
    for cell in (0.25, 0.7, 2.0):
        both, one = turf_grid(ground, cell), turf_grid(ground, cell, ["b"])
        steps = (one.left_m - both.left_m) / cell, (both.top_m - one.top_m) / cell
        assert steps == pytest.approx([round(step) for step in steps], abs=1e-6)


@pytest.mark.parametrize("cell", [0.2, 2.5, 0.0, -1.0, math.nan])
def test_cells_that_are_not_offered(cell: float) -> None:
    with pytest.raises(UserError, match=r"choose between 0\.25 and 2 m"):
        turf_grid(course(a=("green", box(0, 0, 5, 5))), cell)


def test_a_far_area_is_refused_before_memory_is_taken() -> None:
    ground = course(a=("green", box(0, 0, 5, 5)), b=("green", box(9e4, 9e4, 9e4 + 5, 9e4 + 5)))
    with pytest.raises(UserError, match="an area that lies far off"):
        turf_grid(ground, 1.0)


def test_no_turf_gives_an_empty_grid() -> None:
    for ground in (
        ground_from(CRS, {}),
        course(a=("bunker", box(0, 0, 5, 5))),
        course(a=("green", None)),
    ):
        grid = turf_grid(ground)
        assert (len(grid), grid.rows, grid.columns) == (0, 0, 0)
        assert grid.cell_at(1, 1) == -1


def test_net_turf_of_the_invented_course(vellenby: Ground) -> None:
    """Cells of 1 m against the areas' net ground: 0.2 % in all, 1 % by kind.

    Straight edges along the rows of cells err together; so a kind of less than 2 ha is told by
    its outline: half a cell all along it.
    """
    grid = turf_grid(vellenby, 1.0)
    kinds = vellenby.areas["kind"]
    counts = pd.Series(np.bincount(grid.area, minlength=len(kinds)), kinds.index)
    net = net_area_m2(vellenby).groupby(kinds).sum()
    rim = vellenby.areas.geometry.length.groupby(kinds).sum()
    cells = counts.groupby(kinds).sum()
    cells = cells[cells > 0]
    assert set(cells.index) <= set(WATERED_KINDS)
    assert len(cells) >= 6
    for kind, count in cells.items():
        within = 0.01 * net[kind] if net[kind] > 20_000 else rim[kind] / 2
        assert count == pytest.approx(net[kind], abs=within), kind
    assert len(grid) == pytest.approx(net[cells.index].sum(), rel=2e-3)


@pytest.mark.skipif(DATA is None, reason="NIGHTWATER_DATA is not set")
@pytest.mark.parametrize("name", ["LU.geojson", "CY.geojson"])
def test_real_outlines_have_the_library_s_cells_and_their_areas(name: str) -> None:
    """Polygons of real courses, in metres: the library's cells, and their area within 2 %."""
    assert DATA is not None
    text = json.loads((Path(DATA) / "golf" / name).read_text())
    rows = gpd.GeoDataFrame.from_features(text["features"], crs="EPSG:4326")
    rows = rows[shapely.get_dimensions(rows.geometry.to_numpy()) == 2]
    shapes = rows.to_crs(rows.estimate_utm_crs()).geometry.make_valid().to_numpy()
    shapes = shapes[(shapely.area(shapes) > 300) & (shapely.area(shapes) < 60_000)][:80]
    assert len(shapes) >= 10
    for shape in shapes:
        left, _, _, top = shape.bounds
        size = int(max(shape.bounds[2] - left, top - shape.bounds[1])) + 2
        mask = as_mask(shape, left, top, 1.0, size)
        assert (mask == by_library(shape, left, top, 1.0, size)).all()
    counted = sum(cells_within(shape, 0.0, 0.0, 1.0)[0].size for shape in shapes)
    assert counted == pytest.approx(float(shapely.area(shapes).sum()), rel=2e-3)
