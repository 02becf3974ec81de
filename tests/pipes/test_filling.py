"""Filling empty pipes: volume, flow, time and air."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.ground.record import Ground
from nightwater.pipes.filling import FILL_VELOCITY_M_S, FillPlan, fill_plan, pipe_volume_m3
from nightwater.pipes.isolation import isolate
from nightwater.pipes.segments import build_segments
from nightwater.units import L_PER_GALLON

MAIN_M3 = math.pi / 4 * 0.2**2 * 100
BRANCH_M3 = math.pi / 4 * 0.1**2 * 60


@pytest.fixture
def tee(network_ground: Callable[..., Ground]) -> Ground:
    """100 m of 200 mm main from a pump, and 60 m of 100 mm branch off its middle."""
    ground = network_ground(
        {"main": [(0, 0), (100, 0)], "branch": [(50, 0), (50, 60)]},
        {"h": (50, 55)},
        pumps={"pump": (0, 0)},
        diameter_mm={"main": 200.0, "branch": 100.0},
    )
    kinds = {
        "iso": ("isolation", (50, 5)),
        "air-far": ("air", (50, 60)),
        "air-near": ("air", (20, 0)),
        "quick": ("quick_coupler", (90, 2)),
        "drain": ("drain", (30, 0)),
    }
    rows = pd.DataFrame.from_dict(
        {n: {"kind": k, "open": True, "geometry": Point(p)} for n, (k, p) in kinds.items()},
        orient="index",
    )
    table = ground.table("valves").reindex(rows.index)
    return ground.with_table("valves", table.assign(**{c: rows[c] for c in rows.columns}))


def filled(ground: Ground, **more: Any) -> FillPlan:
    return fill_plan(build_segments(ground), ground.pipes, ground.valves["kind"], **more)


def test_volume_of_a_pipe_is_its_bore_times_its_length() -> None:
    assert float(pipe_volume_m3(100, 200)) == pytest.approx(MAIN_M3)
    assert pipe_volume_m3([[1.0], [2.0]], [100, 200, 300]).shape == (2, 3)
    assert np.isnan(pipe_volume_m3([np.nan, 1, 1], [100, 0, -5])).all()


def test_a_main_of_ten_inches_fills_at_245_gpm() -> None:
    """1 ft/s in 10.00 in of bore: 0.4085 gpm/d² turned round, 244.8 gpm (handbook formula)."""
    flow_l_s = FILL_VELOCITY_M_S * math.pi / 4 * 0.254**2 * 1000
    assert flow_l_s / L_PER_GALLON * 60 == pytest.approx(100 / 0.4085, rel=1e-3)


def test_the_whole_network_is_filled_through_the_pipe_at_the_pump(tee: Ground) -> None:
    plan = filled(tee)
    assert plan.volume_m3 == pytest.approx(MAIN_M3 + BRANCH_M3)
    assert plan.entry == "main"
    flow_m3_s = math.pi / 4 * 0.2**2 * 0.3048
    assert plan.flow_l_s == pytest.approx(flow_m3_s * 1000)
    assert plan.volume_min == pytest.approx((MAIN_M3 + BRANCH_M3) / flow_m3_s / 60)
    assert plan.way_min == pytest.approx(110 / 0.3048 / 60)
    assert plan.least_min == max(plan.volume_min, plan.way_min)
    assert plan.without_bore == ()


def test_air_comes_out_in_the_order_in_which_water_arrives(tee: Ground) -> None:
    air = filled(tee).air
    assert [point.valve for point in air] == ["air-near", "quick", "air-far"]
    assert [round(point.way_m, 6) for point in air] == [20.0, 90.0, 110.0]
    assert all(math.isclose(p.earliest_min, p.way_m / 0.3048 / 60) for p in air)


def test_a_part_is_filled_through_its_own_valve(tee: Ground) -> None:
    segments = build_segments(tee)
    answer = isolate(segments, [segments.piece_at(50, 40)])
    (valve,) = (segments.valves.ids.index(name) for name in answer.close)
    starts = np.array([segments.valves.one[valve], segments.valves.other[valve]])
    plan = filled(tee, pieces=answer.dry, starts=starts)
    assert plan.entry == "branch"
    assert plan.volume_m3 == pytest.approx(BRANCH_M3 * 55 / 60)
    assert plan.way_min == pytest.approx(55 / 0.3048 / 60)
    assert [point.valve for point in plan.air] == ["air-far"]


def test_a_pipe_without_a_bore_is_named_and_counts_nothing(tee: Ground) -> None:
    bores = [np.nan if name == "branch" else 200.0 for name in tee.pipes.index]
    plan = filled(tee.with_table("pipes", tee.pipes.assign(diameter_mm=bores)))
    assert plan.without_bore == ("branch",)
    assert plan.volume_m3 == pytest.approx(MAIN_M3)


def test_without_a_bore_at_the_pump_the_way_alone_says_how_long(tee: Ground) -> None:
    plan = filled(tee.with_table("pipes", tee.pipes.assign(diameter_mm=np.nan)))
    assert math.isnan(plan.volume_min)
    assert plan.least_min == plan.way_min


def test_of_two_pipes_side_by_side_the_way_is_counted_once(
    network_ground: Callable[..., Ground],
) -> None:
    ground = network_ground(
        {"one": [(0, 0), (100, 0)], "two": [(0, 0), (50, 40), (100, 0)]},
        {"h": (100, 0)},
        pumps={"pump": (0, 0)},
    )
    assert filled(ground).way_min == pytest.approx(100 / 0.3048 / 60)
