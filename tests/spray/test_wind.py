"""Patterns in the wind: no water lost, moved as single drops say, the same from every side."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.spray.droplets import Start, jet_speed_m_s, landings, wind_at_m_s
from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.matrix import head_keys, picked, wetting_matrix
from nightwater.spray.patches import batches, patches
from nightwater.spray.wind import Wind, drift, wind_findings

Grids = Callable[..., TurfGrid]
Heads = Callable[..., HeadPatterns]


def laid(grid: TurfGrid, heads: HeadPatterns, wind: Wind | None) -> np.ndarray:
    """Rate [mm/min] of all heads, as an image."""
    rate = wetting_matrix(grid, heads, None, wind).rate_mm_min @ np.ones(len(heads))
    return np.asarray(rate, dtype=float).reshape(grid.rows, grid.columns)


@given(
    name=st.sampled_from(["triangle", "ellipse", "doughnut", "uniform"]),
    wind=st.tuples(st.floats(0, 9), st.floats(0, 360), st.sampled_from([0.5, 1.0, 2.0])),
    head=st.tuples(st.floats(2, 18), st.floats(10, 360), st.floats(0, 360), st.floats(250, 600)),
)
@settings(max_examples=30, deadline=None)
def test_wind_moves_water_and_loses_none(
    grid_of: Grids, patterns_of: Heads, name: str, wind: Any, head: Any
) -> None:
    radius, arc, bearing, pressure = head
    speed, from_deg, cell = wind
    size = math.ceil(100 / cell)
    grid = grid_of(size, size, cell, -50.0, 50.0)
    heads = patterns_of(0.3, -0.2, name, radius_m=radius, arc_deg=arc, bearing_deg=bearing,
                        pressure_kpa=pressure)  # fmt: skip
    matrix = wetting_matrix(grid, heads, None, Wind(speed, from_deg))
    assert float(matrix.rate_mm_min.sum()) * cell**2 == pytest.approx(60.0, rel=1e-4)
    assert (matrix.rate_mm_min.data >= 0).all()


@pytest.mark.parametrize("speed", [1.0, 3.0, 5.0, 8.0])
@pytest.mark.parametrize("name", ["triangle", "doughnut", "uniform"])
def test_scaling_hides_no_error_of_the_map(
    grid_of: Grids, patterns_of: Heads, speed: float, name: str
) -> None:
    """Before scaling the moved samples hold the flow within 4 %: the map folds nowhere."""
    grid = grid_of(1, 1, 1.0, 0.0, 0.0)
    heads = patterns_of(0.3, 0.1, name, radius_m=18.0)
    found = drift(heads, Wind(speed, 200))
    (batch,) = batches(grid, heads, found.margins(1.0))
    volume = patches(grid, heads, batch.half, batch.samples, found.bend(batch.heads)).sampled
    assert volume == pytest.approx(1.0, abs=0.04)


def by_drops(radius: float, pressure: float, wind: Wind) -> tuple[np.ndarray, np.ndarray]:
    """Where many equal parts of a triangle's water land: each ring's own drop, flown alone."""
    diameter = np.geomspace(0.2, 7, 60)
    speed = float(jet_speed_m_s(pressure))
    still = landings(Start(diameter, speed, 25.0, 0.1, 0.0)).downwind_m
    # Equal parts of the cone's volume: 3ρ² − 2ρ³ of it lie within ρ.
    parts, shares = (np.arange(40) + 0.5) / 40, np.linspace(0, 1, 2001)
    rings = np.interp(parts, 3 * shares**2 - 2 * shares**3, shares) * radius
    turns = np.arange(0, 360, 7.5)
    size = np.interp(rings, still, diameter)
    towards = turns[:, None] - (wind.from_deg + 180)
    flown = landings(Start(size, speed, 25.0, 0.1, towards), wind.speed_m_s, wind.height_m)
    at_home = np.interp(size, diameter, still) - rings
    to = math.radians(wind.from_deg + 180)
    along = flown.downwind_m - at_home * np.cos(np.radians(towards))
    across = flown.across_m - at_home * np.sin(np.radians(towards))
    east = along * math.sin(to) + across * math.cos(to)
    north = along * math.cos(to) - across * math.sin(to)
    return east.ravel(), north.ravel()


@pytest.mark.parametrize(("speed", "from_deg"), [(2.0, 270.0), (5.0, 30.0), (7.0, 145.0)])
def test_the_map_agrees_with_drops_flown_one_by_one(
    grid_of: Grids, patterns_of: Heads, speed: float, from_deg: float
) -> None:
    """Middle and spread of the moved water, by a forward count of 1,920 parts; within 0.25 m."""
    grid, wind = grid_of(110, 110, 1.0, -55.0, 55.0), Wind(speed, from_deg)
    rate = laid(grid, patterns_of(0.0, 0.0, radius_m=18.0), wind).ravel()
    east, north = by_drops(18.0, 400.0, wind)
    for places, parts in ((grid.x_m, east), (grid.y_m, north)):
        middle = float((places * rate).sum() / rate.sum())
        spread = math.sqrt(float(((places - middle) ** 2 * rate).sum() / rate.sum()))
        assert middle == pytest.approx(parts.mean(), abs=0.25)
        assert spread == pytest.approx(parts.std(), abs=0.25)


@pytest.mark.parametrize("diameter_mm", [0.6, 1.5, 3.0, 5.0])
@pytest.mark.parametrize("towards_deg", [0.0, 40.0, 90.0, 160.0, 270.0])
def test_a_landing_place_asks_where_its_drop_would_have_landed(
    patterns_of: Heads, diameter_mm: float, towards_deg: float
) -> None:
    """One drop flown with and without wind: the table leads from the one to the other, 0.3 m."""
    wind = Wind(4.0, 180.0)  # blows to the north
    heads = patterns_of(0, 0, radius_m=20.0)
    speed = float(jet_speed_m_s(400))
    still = landings(Start(diameter_mm, speed, 25.0, 0.1, 0.0)).downwind_m
    flown = landings(Start(diameter_mm, speed, 25.0, 0.1, towards_deg), 4.0)
    found = drift(heads, wind)
    east, north, thinned = found.bend(np.array([0]))(
        np.full((1, 1, 1), flown.across_m, dtype=np.float32),
        np.full((1, 1, 1), flown.downwind_m, dtype=np.float32),
    )
    turn = math.radians(towards_deg)
    assert float(east[0, 0, 0]) == pytest.approx(float(still) * math.sin(turn), abs=0.3)
    assert float(north[0, 0, 0]) == pytest.approx(float(still) * math.cos(turn), abs=0.3)
    assert thinned[0, 0, 0] > 0
    assert found.margins(1.0)[0] >= np.hypot(east - flown.across_m, north - flown.downwind_m) - 0.3


def test_far_beside_a_head_nothing_is_wet(patterns_of: Heads) -> None:
    """Off the table the rim counts: dry, and from beyond the throw."""
    bend = drift(patterns_of(0, 0, radius_m=12.0), Wind(6.0, 90.0)).bend(np.array([0]))
    away = np.array([[[-300.0, 300.0, 70.0]]], dtype=np.float32)
    for east, north in ((away, away * 0), (away * 0, away), (away, away)):
        from_east, from_north, thinned = bend(east, north)
        assert (thinned == 0).all()
        assert (np.hypot(from_east, from_north) > 12.0).all()


def test_one_wind_by_two_gauges(grid_of: Grids, patterns_of: Heads) -> None:
    """What 3 m/s at 2 m is at 10 m by the logarithmic law gives the same pattern."""
    grid, heads = grid_of(60, 60, 1.0, -30.0, 30.0), patterns_of(0.0, 0.0, radius_m=15.0)
    high = float(wind_at_m_s(3.0, 2.0, 10.0))
    low, other = laid(grid, heads, Wind(3.0, 45.0)), laid(grid, heads, Wind(high, 45.0, 10.0))
    assert other == pytest.approx(low, abs=2e-4 * low.max())


@pytest.mark.parametrize(
    ("field", "calmer", "wilder"),
    [("trajectory_deg", 15.0, 30.0), ("height_m", 0.1, 2.0)],
)
def test_higher_jets_drift_farther(
    grid_of: Grids, patterns_of: Heads, field: str, calmer: float, wilder: float
) -> None:
    grid, middles = grid_of(70, 70, 1.0, -35.0, 35.0), []
    for value in (calmer, wilder):
        heads = patterns_of(0.0, 0.0, radius_m=14.0, **{field: value})
        rate = laid(grid, heads, Wind(4.0, 270.0)).ravel()
        middles.append(float((grid.x_m * rate).sum() / rate.sum()))
    assert 0.5 < middles[0] < middles[1]


def test_water_goes_with_the_wind(grid_of: Grids, patterns_of: Heads) -> None:
    """From the west it goes east, by some metres, and no more to the north than to the south."""
    grid = grid_of(90, 90, 1.0, -45.0, 45.0)
    heads = patterns_of(0.0, 0.0, radius_m=18.0)
    middles = []
    for speed in (0.0, 2.0, 4.0, 6.0):
        rate = laid(grid, heads, Wind(speed, 270.0)).ravel()
        middles.append((grid.x_m * rate).sum() / rate.sum())
        assert float((grid.y_m * rate).sum() / rate.sum()) == pytest.approx(0, abs=0.02)
    assert middles[0] == pytest.approx(0, abs=0.01)
    assert np.diff(middles).min() > 1.0
    assert middles[-1] < 9


def test_calm_is_still_air_to_the_last_bit(grid_of: Grids, patterns_of: Heads) -> None:
    grid, heads = grid_of(50, 50, 1.0, -25.0, 25.0), patterns_of([0.0, 3.0], 0.4)
    calm = wetting_matrix(grid, heads, None, Wind(0.0, 77.0))
    still = wetting_matrix(grid, heads)
    assert calm.keys == still.keys
    assert (calm.rate_mm_min != still.rate_mm_min).nnz == 0


def test_quarter_turns_of_head_and_wind(grid_of: Grids, patterns_of: Heads) -> None:
    grid = grid_of(81, 81, 1.0, -40.5, 40.5)
    first = laid(grid, patterns_of(0, 0, arc_deg=120.0, bearing_deg=20.0), Wind(5, 250))
    turned = laid(grid, patterns_of(0, 0, arc_deg=120.0, bearing_deg=110.0), Wind(5, 340))
    mirrored = laid(grid, patterns_of(0, 0, arc_deg=120.0, bearing_deg=340.0), Wind(5, 110))
    assert np.abs(np.rot90(first, -1) - turned).max() < 1e-3 * first.max()
    assert np.abs(np.fliplr(first) - mirrored).max() < 1e-3 * first.max()


def test_one_wind_is_one_key(grid_of: Grids, patterns_of: Heads) -> None:
    grid, heads = grid_of(9, 9, 1.0, 0.0, 9.0), patterns_of(4, 4)
    keys = {
        head_keys(grid, heads, wind)
        for wind in (None, Wind(3, 90), Wind(3, 450), Wind(3, 91), Wind(4, 90), Wind(3, 90, 10))
    }
    assert len(keys) == 5


def test_columns_in_the_wind_hang_on_their_head_alone(grid_of: Grids, patterns_of: Heads) -> None:
    random = np.random.default_rng(3)
    heads = patterns_of(
        random.uniform(0, 60, 20), random.uniform(0, 60, 20), "ellipse",
        radius_m=random.uniform(4, 19, 20), pressure_kpa=random.uniform(250, 500, 20),
        arc_deg=random.choice([90.0, 360.0], 20),
    )  # fmt: skip
    grid, wind = grid_of(60, 60, 1.0, 0.0, 60.0), Wind(4, 123)
    whole = wetting_matrix(grid, heads, None, wind)
    part = wetting_matrix(grid, picked(heads, np.arange(10)), None, wind)
    again = wetting_matrix(grid, heads, part, wind)
    assert (again.rate_mm_min != whole.rate_mm_min).nnz == 0
    other = wetting_matrix(grid, heads, part, Wind(5, 123))
    assert (other.rate_mm_min != whole.rate_mm_min).nnz > 0


@pytest.mark.parametrize(
    "values", [(-1, 0, 2), (math.nan, 0, 2), (3, math.nan, 2), (3, math.inf, 2), (3, 0, math.nan)]
)
def test_what_is_no_wind_is_refused(values: tuple[float, ...]) -> None:
    with pytest.raises(UserError, match="A wind needs"):
        Wind(*values)


def test_a_gauge_in_the_grass_is_refused() -> None:
    with pytest.raises(UserError, match=r"from 0\.5 m or higher"):
        Wind(3, 0, 0.1)


def test_doubts_of_the_model_are_told(patterns_of: Heads) -> None:
    usual = patterns_of(0, 0, radius_m=18.0)
    assert wind_findings(usual, Wind(4, 0)) == []
    (strong,) = wind_findings(usual, Wind(8.5, 0))
    assert strong.code == "wind-beyond-model"
    assert "8.5 m/s" in strong.message
    far = patterns_of([0, 9], 0, radius_m=[18.0, 30.0])
    (found,) = wind_findings(far, Wind(4, 0))
    assert found.code == "throw-beyond-drops"
    assert "1 heads throw" in found.message
    assert "head H1 the most (30.0 m against" in found.message
    assert wind_findings(far, Wind(0, 0)) == []
