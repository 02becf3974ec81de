"""Power and energy of pumping."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.pipes.energy import pump_energy_kwh, shaft_power_kw, water_power_kw

shares = st.floats(0.05, 1.0)


def test_water_power_by_hand() -> None:
    # 100 L/s · 9.80665 kN/m³ · 50 m = 49.03 kW
    assert float(water_power_kw(100, 50)) == pytest.approx(49.03325)


def test_shaft_power_is_more_than_water_power() -> None:
    assert float(shaft_power_kw(100, 50, 0.8)) == pytest.approx(49.03325 / 0.8)


def test_energy_by_hand() -> None:
    # 360 m³ lifted 50 m: 360 · 9.80665 · 50 kJ = 49.03 kWh of water, over 0.8 · 0.9
    assert float(pump_energy_kwh(360, 50, 0.8, 0.9)) == pytest.approx(49.03325 / 0.72)


@pytest.mark.parametrize("efficiency", [0.0, -0.2, 1.01, 78.0, math.nan])
def test_an_efficiency_that_is_none_gives_nan(efficiency: float) -> None:
    assert np.isnan(shaft_power_kw(10, 50, efficiency))
    assert np.isnan(pump_energy_kwh(10, 50, efficiency, 0.9))
    assert np.isnan(pump_energy_kwh(10, 50, 0.8, efficiency))


def test_a_perfect_pump_is_allowed() -> None:
    assert float(shaft_power_kw(100, 50, 1)) == pytest.approx(49.03325)


def test_shapes_broadcast_and_nan_stays() -> None:
    found = pump_energy_kwh(np.array([[1.0], [np.nan]]), np.array([10, 20, 30]), 0.8, 0.9)
    assert found.shape == (2, 3)
    assert np.isnan(found[1]).all()
    assert found[0, 2] == pytest.approx(3 * found[0, 0])


@given(st.floats(0.1, 200), st.floats(1, 200), shares, shares, st.integers(1, 600))
def test_energy_is_power_times_time(
    flow_l_s: float, head_m: float, pump: float, motor: float, minutes: int
) -> None:
    volume_m3 = flow_l_s * 60 * minutes / 1000
    drawn_kw = float(shaft_power_kw(flow_l_s, head_m, pump)) / motor
    energy = float(pump_energy_kwh(volume_m3, head_m, pump, motor))
    assert energy == pytest.approx(drawn_kw * minutes / 60)


@given(st.lists(st.floats(0, 500), min_size=1, max_size=20))
def test_energy_adds_up_over_any_split_of_the_night(volumes_m3: list[float]) -> None:
    parts = pump_energy_kwh(np.array(volumes_m3), 89, 0.78, 0.93).sum()
    assert parts == pytest.approx(float(pump_energy_kwh(sum(volumes_m3), 89, 0.78, 0.93)))
