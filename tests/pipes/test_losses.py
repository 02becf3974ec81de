"""Velocity, friction, outlets, surge and filling: by hand, with NaN, shapes and inverses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.pipes.losses import (
    bore_m2,
    christiansen_factor,
    fill_time_min,
    flow_at_velocity_l_s,
    hazen_williams_loss_m,
    resistance,
    surge_kpa,
    velocity_m_s,
)

sizes = st.floats(10, 1500)
flows = st.floats(0.01, 500)


def test_velocity_by_hand() -> None:
    # 100 mm bore is 0.007854 m²; 7.854 L/s through it is 1 m/s.
    assert float(velocity_m_s(7.853981634, 100)) == pytest.approx(1.0)


def test_velocity_keeps_the_direction() -> None:
    assert float(velocity_m_s(-7.853981634, 100)) == pytest.approx(-1.0)


@pytest.mark.parametrize("diameter_mm", [0, -5, math.nan])
def test_no_bore_gives_nan_not_infinity(diameter_mm: float) -> None:
    assert np.isnan(bore_m2(diameter_mm))
    assert np.isnan(velocity_m_s(1, diameter_mm))
    assert np.isnan(flow_at_velocity_l_s(1, diameter_mm))
    assert np.isnan(hazen_williams_loss_m(1, 100, diameter_mm, 140))


def test_shapes_broadcast_and_integers_are_welcome() -> None:
    found = velocity_m_s(np.array([[1], [2]]), np.array([50, 100, 150]))
    assert found.shape == (2, 3)
    assert found[1, 1] == pytest.approx(2 * found[0, 1])


@given(flows, sizes)
def test_flow_at_velocity_is_the_inverse(flow_l_s: float, diameter_mm: float) -> None:
    speed = velocity_m_s(flow_l_s, diameter_mm)
    assert float(flow_at_velocity_l_s(speed, diameter_mm)) == pytest.approx(flow_l_s)


def test_loss_by_hand() -> None:
    # 10 L/s in 100 m of 100 mm, C 140: 10.667·100·0.01^1.852 / (140^1.852 · 0.1^4.8704) = 1.661 m
    by_hand = 10.667 * 100 * 0.01**1.852 / (140**1.852 * 0.1**4.8704)
    assert float(hazen_williams_loss_m(10, 100, 100, 140)) == pytest.approx(by_hand)
    assert by_hand == pytest.approx(1.66, abs=0.01)


@given(flows, st.floats(0, 5000), sizes, st.floats(60, 160))
def test_loss_turns_with_the_flow_and_adds_along_the_pipe(
    flow_l_s: float, length_m: float, diameter_mm: float, roughness: float
) -> None:
    whole = float(hazen_williams_loss_m(flow_l_s, length_m, diameter_mm, roughness))
    half = float(hazen_williams_loss_m(flow_l_s, length_m / 2, diameter_mm, roughness))
    assert whole >= 0
    assert 2 * half == pytest.approx(whole)
    back = float(hazen_williams_loss_m(-flow_l_s, length_m, diameter_mm, roughness))
    assert back == pytest.approx(-whole)


@given(st.floats(1, 100), st.floats(1.1, 3))
def test_loss_grows_with_flow_to_the_1_852(flow_l_s: float, times: float) -> None:
    one = float(hazen_williams_loss_m(flow_l_s, 100, 150, 140))
    more = float(hazen_williams_loss_m(times * flow_l_s, 100, 150, 140))
    assert more / one == pytest.approx(times**1.852)


@pytest.mark.parametrize(
    ("length_m", "diameter_mm", "roughness"),
    [(-1, 100, 140), (100, 0, 140), (100, 100, 0), (100, 100, -3), (math.nan, 100, 140)],
)
def test_resistance_of_a_meaningless_pipe_is_nan(
    length_m: float, diameter_mm: float, roughness: float
) -> None:
    assert np.isnan(resistance(length_m, diameter_mm, roughness))


def test_resistance_of_no_length_is_nothing() -> None:
    assert float(resistance(0, 100, 140)) == 0.0


def test_one_outlet_at_the_end_loses_what_a_plain_pipe_does() -> None:
    # The formula is an approximation of the sum: 1.001 where the exact factor is 1.
    assert float(christiansen_factor(1)) == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("outlets", [2, 3, 7, 12, 40, 100])
def test_factor_is_the_sum_of_the_pieces(outlets: int) -> None:
    """The exact factor of N equal pieces is Σ(k/N)^m / N; Christiansen's is within 0.2 %."""
    exact = sum((k / outlets) ** 1.852 for k in range(1, outlets + 1)) / outlets
    assert float(christiansen_factor(outlets)) == pytest.approx(exact, rel=2e-3)


def test_factor_without_outlets_has_no_meaning() -> None:
    assert np.isnan(christiansen_factor(np.array([0, -3, 0.5, np.nan]))).all()


def test_factor_falls_to_a_third_and_a_bit() -> None:
    assert float(christiansen_factor(1e9)) == pytest.approx(1 / 2.852)


def test_surge_by_hand() -> None:
    # ρ a Δv = 1000 · 400 · 1.5 Pa
    assert float(surge_kpa(1.5, 400)) == pytest.approx(600)
    assert np.isnan(surge_kpa(np.nan, 400))


def test_filling_by_hand_and_without_flow() -> None:
    assert float(fill_time_min(60, 100)) == pytest.approx(10)
    assert np.isnan(fill_time_min(60, np.array([0.0, -1.0, np.nan]))).all()


@given(st.floats(0.1, 1000), st.floats(0.1, 200), st.floats(0.05, 0.95))
def test_filling_adds_up_over_parts(volume_m3: float, flow_l_s: float, share: float) -> None:
    parts = fill_time_min(np.array([share, 1 - share]) * volume_m3, flow_l_s)
    assert parts.sum() == pytest.approx(float(fill_time_min(volume_m3, flow_l_s)))
