"""A head's pattern at a point: volume, sector, lean, and the same as the wetting matrix."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from nightwater.spray.grid import TurfGrid
from nightwater.spray.matrix import wetting_matrix
from nightwater.spray.point_rate import point_rate_mm_h
from nightwater.spray.spot import rates_at_mm_h

STEP_M = 0.2


def spots(reach_m: float = 40.0) -> tuple[Any, Any]:
    line = np.arange(-reach_m, reach_m, STEP_M) + STEP_M / 2
    return tuple(part.ravel() for part in np.meshgrid(line, line))  # type: ignore[return-value]


@pytest.mark.parametrize("shape", ["triangle", "ellipse", "doughnut", "trapezoid", "uniform"])
@pytest.mark.parametrize(
    "changed",
    [{}, {"arc_deg": 90.0, "bearing_deg": 200.0}, {"tilt_deg": 6.0, "tilt_towards_deg": 40.0},
     {"arc_deg": 180.0, "tilt_deg": 4.0, "tilt_towards_deg": 300.0}],
    ids=["upright", "quarter", "leaning", "leaning half"],
)  # fmt: skip
def test_all_that_flows_lands(square: Any, shape: str, changed: dict[str, float]) -> None:
    head = square(1, shape=shape, **changed)
    rate = point_rate_mm_h(head, *spots())
    landed_l_s = rate.sum() * STEP_M**2 / 3600.0
    assert landed_l_s == pytest.approx(1.7, rel=0.005)


def test_a_triangle_by_the_cone(square: Any) -> None:
    """The peak of a cone that holds the flow is 3 q / (π R²); it falls straight to the throw."""
    head = square(1)
    away = np.array([0.0, 5.0, 18.5, 30.0])
    radius = float(head.radius_m[0])
    by_cone = 3 * 1.7 / (np.pi * radius**2) * np.maximum(1 - away / radius, 0.0) * 3600.0
    assert point_rate_mm_h(head, away, np.zeros(4))[:, 0] == pytest.approx(by_cone, rel=1e-6)


def test_one_spot_is_a_row_of_many(square: Any) -> None:
    heads = square(3, arc_deg=200.0, bearing_deg=40.0, tilt_deg=3.0, tilt_towards_deg=70.0)
    x_m, y_m = np.array([1.0, 9.0, 60.0]), np.array([2.0, -4.0, 0.0])
    many = point_rate_mm_h(heads, x_m, y_m)
    assert many.shape == (3, len(heads))
    assert (many > 0).any()
    for row, (x, y) in enumerate(zip(x_m, y_m, strict=True)):
        assert rates_at_mm_h(heads, float(x), float(y)).tolist() == many[row].tolist()


def test_it_is_the_wetting_matrix_taken_finely(square: Any) -> None:
    rows = columns = 240
    turf = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    row, column = (part.ravel().astype(np.int32) for part in np.indices((rows, columns)))
    grid = TurfGrid(
        -30.0, 30.0, 0.25, rows, columns, turf, row, column, np.zeros(row.size, np.int32), ("A",)
    )
    head = square(1, arc_deg=200.0, bearing_deg=70.0, tilt_deg=5.0, tilt_towards_deg=130.0)
    cells = wetting_matrix(grid, head).rate_mm_min.toarray()[:, 0] * 60.0
    points = point_rate_mm_h(head, grid.x_m, grid.y_m)[:, 0]
    away = np.hypot(grid.x_m, grid.y_m)
    towards = np.degrees(np.arctan2(grid.x_m, grid.y_m))
    off = np.abs((towards - 70.0 + 180.0) % 360.0 - 180.0)
    inner = (away > 1.0) & (off < 90.0) & (points > 1.0)  # off the sector's smoothed edges
    assert inner.sum() > 1000
    assert cells[inner] == pytest.approx(points[inner], rel=0.02, abs=0.15)


def test_a_leaning_head_throws_less_far_to_where_it_leans(square: Any) -> None:
    head = square(1, tilt_deg=5.0, tilt_towards_deg=0.0)
    north, south = point_rate_mm_h(head, np.zeros(2), np.array([17.0, -17.0]))[:, 0]
    assert north < south


def test_outside_the_sector_is_dry_and_a_missing_place_is_missing(square: Any) -> None:
    head = square(1, arc_deg=90.0, bearing_deg=0.0)
    rate = point_rate_mm_h(head, np.array([0.0, 5.0, np.nan]), np.array([5.0, 0.0, 1.0]))[:, 0]
    assert rate[0] > 0
    assert rate[1] == 0
    assert np.isnan(rate[2])
