"""Flow and throw of heads."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.spray.flow import (
    flow_at_pressure_l_s,
    head_radius_m,
    orifice_flow_l_s,
)


def nozzles() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "pressure_kpa": [480.0, 400.0],
            "flow_l_s": [1.6, 1.0],
            "radius_m": [19.5, 15.0],
            "flow_exponent": [np.nan, 0.4],
        },
        index=["big", "small"],
    )


def heads(**columns: list[object]) -> pd.DataFrame:
    size = len(next(iter(columns.values())))
    usual = {
        "nozzle": ["big"] * size,
        "pressure_kpa": [np.nan] * size,
        "measured_flow_l_s": [np.nan] * size,
    }
    return pd.DataFrame(usual | columns, index=[f"H{i}" for i in range(size)])


class TestFlowAtPressure:
    def test_four_times_the_pressure_is_twice_the_flow(self) -> None:
        assert float(flow_at_pressure_l_s(1.6, 480, 1920)) == pytest.approx(3.2)

    def test_another_exponent(self) -> None:
        expected = 1.6 * (520 / 480) ** 0.415
        assert float(flow_at_pressure_l_s(1.6, 480, 520, 0.415)) == pytest.approx(expected)

    def test_integers_shapes_and_no_change_in_place(self) -> None:
        pressure = np.array([[120], [480]])
        flow = flow_at_pressure_l_s(np.array([1, 2, 3]), 480, pressure)
        assert flow.shape == (2, 3)
        assert flow[0] == pytest.approx([0.5, 1.0, 1.5])
        assert pressure.tolist() == [[120], [480]]

    def test_no_pressure_gives_no_flow(self) -> None:
        assert float(flow_at_pressure_l_s(1.6, 480, 0)) == 0.0

    @pytest.mark.parametrize(
        "values",
        [
            (math.nan, 480, 480), (1.6, math.nan, 480), (1.6, 480, math.nan), (1.6, 0, 480),
            (1.6, -1, 480), (1.6, 480, -1), (-1.6, 480, 480), (1.6, 480, 480, math.nan),
        ],
    )  # fmt: skip
    def test_missing_or_senseless_gives_nan(self, values: tuple[float, ...]) -> None:
        assert math.isnan(float(flow_at_pressure_l_s(*values)))

    @given(st.floats(50, 1200), st.floats(50, 1200), st.floats(50, 1200), st.floats(0.3, 0.6))
    def test_by_way_of_a_third_pressure_is_the_same(
        self, first: float, second: float, third: float, power: float
    ) -> None:
        straight = flow_at_pressure_l_s(1.5, first, third, power)
        halfway = flow_at_pressure_l_s(1.5, first, second, power)
        around = flow_at_pressure_l_s(halfway, second, third, power)
        assert float(around) == pytest.approx(float(straight))


class TestHeads:
    def test_at_the_nozzles_own_pressure_where_none_is_known(self) -> None:
        assert head_flow_l_s(heads(nozzle=["big", "small"]), nozzles()).tolist() == [1.6, 1.0]

    def test_each_nozzle_follows_its_own_exponent(self) -> None:
        flow = head_flow_l_s(heads(nozzle=["big", "small"], pressure_kpa=[600.0, 600.0]), nozzles())
        assert flow.tolist() == pytest.approx([1.6 * 1.25**0.5, 1.5**0.4])

    def test_a_measurement_wins_even_without_a_nozzle(self) -> None:
        rows = heads(nozzle=["big", None], measured_flow_l_s=[1.1, 0.7], pressure_kpa=[600, 300])
        assert head_flow_l_s(rows, nozzles()).tolist() == [1.1, 0.7]

    def test_unknown_nozzles_give_nan_and_keep_the_index(self) -> None:
        flow = head_flow_l_s(heads(nozzle=["big", "other", None]), nozzles())
        assert flow.index.tolist() == ["H0", "H1", "H2"]
        assert flow.isna().tolist() == [False, True, True]

    def test_throw_is_the_nozzles(self) -> None:
        throw = head_radius_m(heads(nozzle=["small", None, "big"]), nozzles())
        assert throw.tolist()[::2] == [15.0, 19.5]
        assert math.isnan(throw["H1"])

    def test_no_heads_at_all(self) -> None:
        assert head_flow_l_s(heads(nozzle=[]), nozzles()).empty


class TestOrifice:
    def test_torricelli_by_hand(self) -> None:
        # 10 m of water: 14.0 m/s through 78.54 mm² is 1.1 L/s.
        assert float(orifice_flow_l_s(10, 98.0665)) == pytest.approx(
            math.pi / 4 * 1e-4 * math.sqrt(2 * 98.0665) * 1000
        )
        assert float(orifice_flow_l_s(10, 98.0665)) == pytest.approx(1.1, abs=0.005)

    def test_coefficient_and_bore_scale(self) -> None:
        flow = orifice_flow_l_s(np.array([4, 8]), 300, 0.98)
        assert flow[1] == pytest.approx(4 * flow[0])
        assert flow[0] == pytest.approx(0.98 * float(orifice_flow_l_s(4, 300)))

    @pytest.mark.parametrize(
        "values",
        [(0, 300, 1), (-4, 300, 1), (4, -1, 1), (4, 300, 0), (math.nan, 300, 1), (4, math.nan, 1)],
    )
    def test_missing_or_senseless_gives_nan(self, values: tuple[float, ...]) -> None:
        assert math.isnan(float(orifice_flow_l_s(*values)))

    def test_it_is_the_law_that_flow_at_pressure_assumes(self) -> None:
        known = float(orifice_flow_l_s(6, 400))
        assert float(flow_at_pressure_l_s(known, 400, 625)) == pytest.approx(
            float(orifice_flow_l_s(6, 625))
        )
