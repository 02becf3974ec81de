"""What a spot gets: the profile holds the head's flow, in its sector and nowhere else."""

from __future__ import annotations

import math
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.ground.record import Ground, ground_from
from nightwater.spray.point_rate import is_in_sector
from nightwater.spray.spot import heads_at, rates_at_mm_h
from nightwater.units import SECONDS_PER_HOUR

CRS = "EPSG:32612"


def course(**more: dict[str, Any]) -> Ground:
    """Heads at the places given, each 1.5 L/s at 20 m unless told otherwise."""
    heads = more or {"H": {"nozzle": "N", "geometry": Point(0, 0)}}
    rows = gpd.GeoDataFrame(pd.DataFrame.from_dict(heads, orient="index"), geometry="geometry")
    nozzles = pd.DataFrame(
        {"pressure_kpa": [400.0], "flow_l_s": [1.5], "radius_m": [20.0]}, index=["N"]
    )
    return ground_from(CRS, {"heads": rows, "nozzles": nozzles})


def rates(ground: Ground, x: float, y: float) -> dict[str, float]:
    found = heads_at(ground, x, y)
    return dict(zip(found["id"], found["rate_mm_h"], strict=True))


def test_a_head_by_hand() -> None:
    """1.5 L/s on 20 m: the cone's peak is 3 q / (π R²), 12.892 mm/h; halfway out, half of it."""
    peak = 3 * 1.5 / (math.pi * 400) * 3600
    assert peak == pytest.approx(12.892, abs=0.0005)
    assert rates(course(), 0, 0)["H"] == pytest.approx(peak)
    assert rates(course(), 6, 8)["H"] == pytest.approx(peak / 2)
    assert heads_at(course(), 6, 8)["distance_m"].tolist() == [10.0]


@given(
    arc=st.floats(10, 360),
    radius=st.floats(1, 40),
    bearing=st.floats(0, 360),
    share=st.floats(0, 1.2),
)
def test_a_triangle_is_its_closed_form(
    patterns_of: Any, arc: float, radius: float, bearing: float, share: float
) -> None:
    """P(r) = P0 (1 − r/R), P0 = 6 q / (a R²): the volume of a cone's sector is a R² P0 / 6."""
    patterns = patterns_of(3, 4, flow_l_s=1.5, radius_m=radius, arc_deg=arc, bearing_deg=bearing)
    east = radius * share * math.sin(math.radians(bearing))
    north = radius * share * math.cos(math.radians(bearing))
    expected = 6 * 1.5 / (math.radians(arc) * radius**2) * max(1 - share, 0) * SECONDS_PER_HOUR
    found = float(rates_at_mm_h(patterns, 3 + east, 4 + north)[0])
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-6)


def test_the_head_s_own_profile_throw_and_lean_count() -> None:
    """Level to its throw: q over πR²; at 25° a lean of 10° throws sin 30°/sin 50° downhill."""
    rows = gpd.GeoDataFrame(
        {"nozzle": ["N", "N"], "measured_radius_m": [10.0, 10.0], "tilt_deg": [0.0, 10.0]},
        index=["upright", "leaning"],
        geometry=[Point(0, 0), Point(0, 0)],
    ).assign(tilt_towards_deg=90.0)
    ground = course().with_table("heads", ground_from(CRS, {"heads": rows}).heads)
    level = ground.nozzles.assign(profile="uniform")
    ground = ground.with_table("nozzles", level)
    rate = 1.5 / (math.pi * 100) * SECONDS_PER_HOUR
    down = math.sin(math.radians(30)) / math.sin(math.radians(50))
    up = math.sin(math.radians(70)) / math.sin(math.radians(50))
    found = rates(ground, 5, 0)
    assert found["upright"] == pytest.approx(rate)
    assert found["leaning"] == pytest.approx(rate / down**2)
    assert "leaning" not in rates(ground, 7, 0)  # beyond 6.53 m
    assert rates(ground, -11, 0) == {"leaning": pytest.approx(rate / up**2)}
    assert rates(ground, 0, 9.99)["leaning"] == pytest.approx(rate, rel=0.01)


@pytest.mark.parametrize(
    ("arc", "bearing"), [(360.0, None), (180.0, 90.0), (90.0, 315.0), (45.0, 5.0), (270.0, 0.0)]
)
def test_the_water_of_a_head_on_a_grid_of_spots_is_its_flow(
    arc: float, bearing: float | None
) -> None:
    """The same through `heads_at`, turned about: like heads on a grid of 0.2 m, and one spot."""
    cells = np.arange(-20.7, 21, 0.2)
    x, y = (grid.ravel() for grid in np.meshgrid(cells + 0.013, cells - 0.007))
    rows = {"nozzle": "N", "arc_deg": arc, "bearing_deg": bearing}
    heads = gpd.GeoDataFrame(
        pd.DataFrame(rows, index=[str(n) for n in range(len(x))]),
        geometry=gpd.points_from_xy(x, y),
    )
    ground = course().with_table("heads", heads)
    water = heads_at(ground, 0, 0)["rate_mm_h"].sum() * 0.2**2
    assert water / SECONDS_PER_HOUR == pytest.approx(1.5, rel=0.005)


def test_a_half_circle_gives_twice_as_much_ahead_and_nothing_behind() -> None:
    half = course(H={"nozzle": "N", "arc_deg": 180.0, "bearing_deg": 90.0, "geometry": Point(0, 0)})
    assert rates(half, 10, 0)["H"] == pytest.approx(2 * rates(course(), 10, 0)["H"])
    assert rates(half, 0, 10)["H"] == pytest.approx(rates(half, 10, 0)["H"])  # on its edge
    assert rates(half, -1, 0) == {}
    assert rates(half, 0, 0)["H"] > 0  # the ground under the head itself


@pytest.mark.parametrize(
    ("towards", "arc", "bearing", "inside"),
    [
        (350, 40, 0, 1),
        (20, 40, 0, 1),
        (21, 40, 0, 0),
        (0, 20, 355, 1),
        (180, 350, 0, 0),
        (-170, 30, 190, 1),
        (123, 360, math.nan, 1),
        (123, 90, math.nan, math.nan),
        (math.nan, 90, 0, math.nan),
        (0, math.nan, 0, math.nan),
    ],
)
def test_directions_around_north(towards: float, arc: float, bearing: float, inside: float) -> None:
    assert float(is_in_sector(towards, arc, bearing)) == pytest.approx(inside, nan_ok=True)


def test_pressure_and_measured_flow_count() -> None:
    ground = course(
        low={"nozzle": "N", "pressure_kpa": 100.0, "geometry": Point(0, 0)},
        short={"nozzle": "N", "pressure_kpa": 100.0, "geometry": Point(0, 0)},
        measured={"nozzle": "N", "measured_flow_l_s": 3.0, "geometry": Point(0, 0)},
    )
    ground = ground.with_table(
        "heads", ground.heads.assign(measured_radius_m=[20.0, math.nan, math.nan])
    )
    full = rates(course(), 5, 0)["H"]
    found = rates(ground, 5, 0)
    assert found["low"] == pytest.approx(full / 2)  # √(100/400)
    assert found["measured"] == pytest.approx(2 * full)
    # Half the flow on a throw of 10 m: four times as thick, and halfway out instead of a quarter.
    assert found["short"] == pytest.approx(full / 2 * 4 * 0.5 / 0.75)


def test_what_is_not_known_is_nan_or_left_out() -> None:
    ground = course(
        far={"nozzle": "N", "geometry": Point(90, 0)},
        aimless={"nozzle": "N", "arc_deg": 90.0, "geometry": Point(3, 0)},
        unreached={"nozzle": None, "measured_flow_l_s": 1.0, "geometry": Point(1, 0)},
        nowhere={"nozzle": "N", "geometry": None},
        sound={"nozzle": "N", "geometry": Point(2, 0)},
    )
    found = heads_at(ground, 0, 0)
    assert found["id"].tolist() == ["sound", "aimless"]
    assert found["rate_mm_h"].isna().tolist() == [False, True]


def test_the_nearest_comes_first_and_a_dry_spot_has_none() -> None:
    ground = course(
        b={"nozzle": "N", "geometry": Point(12, 0)}, a={"nozzle": "N", "geometry": Point(5, 0)}
    )
    assert heads_at(ground, 0, 0)["id"].tolist() == ["a", "b"]
    for spot in ((60.0, 0.0), (math.nan, 0.0), (-15.0, 0.0)):
        assert heads_at(ground, *spot).empty
    assert list(heads_at(ground, 60, 0).columns) == ["id", "distance_m", "rate_mm_h"]


def test_an_empty_record_wets_nothing() -> None:
    assert heads_at(ground_from(CRS, {}), 0, 0).empty
