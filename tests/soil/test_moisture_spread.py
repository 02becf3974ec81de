"""Readings spread over an area, against kriging done by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from nightwater.soil.moisture_spread import (
    LEAST_FITTED,
    LENGTH_BOUNDS_M,
    LENGTH_M,
    PATTERN_STD_PCT,
    STD_BOUNDS_PCT,
    moisture_pattern,
)
from nightwater.soil.readings import AreaReadings

Numbers = NDArray[np.float64]


def readings(
    x: list[float], y: list[float], drier: list[float], std: float | list[float] = 2.0
) -> AreaReadings:
    deviation = np.broadcast_to(np.asarray(std, dtype=float), (len(x),)).copy()
    places = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    return AreaReadings("A-F", "probe 1", 200.0, *places, np.asarray(drier, dtype=float), deviation)


def covariance(one: Numbers, other: Numbers, std: float, length: float) -> Numbers:
    """Matérn 3/2: s² (1 + √3 d/l) exp(−√3 d/l)."""
    apart = np.linalg.norm(one[:, None, :] - other[None, :, :], axis=2) * np.sqrt(3.0) / length
    return std**2 * (1 + apart) * np.exp(-apart)


def kriged(
    given: AreaReadings, places: Numbers, std: float, length: float
) -> tuple[float, float, Numbers, Numbers]:
    """Level, its deviation, pattern and its deviation, by inverting the covariance."""
    at = np.column_stack((given.x_m, given.y_m))
    inverse = np.linalg.inv(covariance(at, at, std, length) + np.diag(given.std_pct**2))
    level = inverse.sum(axis=0) @ given.drier_pct / inverse.sum()
    across = covariance(places, at, std, length)
    mean = across @ inverse @ (given.drier_pct - level)
    left = std**2 - np.einsum("ij,jk,ik->i", across, inverse, across)
    return float(level), float(inverse.sum() ** -0.5), mean, np.sqrt(left)


SPOTS = readings(
    [0, 4, 30, 55, 80], [0, 3, 10, -8, 20], [3.0, 4.0, -1.0, 0.5, 2.0], [2, 2, 3, 2, 5]
)


def test_it_is_kriging_by_hand() -> None:
    places = np.random.default_rng(1).uniform(-20, 100, (40, 2))
    level, level_std, mean, std = kriged(SPOTS, places, PATTERN_STD_PCT, LENGTH_M)
    pattern = moisture_pattern(SPOTS)
    ours, deviation = pattern.at(places[:, 0], places[:, 1])
    assert pattern.level_pct == pytest.approx(level)
    assert pattern.level_std_pct == pytest.approx(level_std)
    np.testing.assert_allclose(ours, mean, atol=1e-8)
    np.testing.assert_allclose(deviation, std, atol=1e-6)


def test_it_is_kriging_by_hand_with_fitted_parameters_too() -> None:
    rng = np.random.default_rng(2)
    x, y = rng.uniform(0, 100, (2, 30))
    given = readings(list(x), list(y), list(4 * np.sin(x / 15) + rng.normal(0, 0.5, 30)), 0.5)
    pattern = moisture_pattern(given)
    places = rng.uniform(0, 100, (20, 2))
    _, _, mean, std = kriged(given, places, pattern.std_pct, pattern.length_m)
    assert pattern.fitted
    ours, deviation = pattern.at(places[:, 0], places[:, 1])
    np.testing.assert_allclose(ours, mean, atol=1e-6)
    np.testing.assert_allclose(deviation, std, atol=1e-5)


def test_at_a_reading_it_says_the_reading_within_its_noise() -> None:
    pattern = moisture_pattern(SPOTS)
    mean, _ = pattern.at(SPOTS.x_m, SPOTS.y_m)
    assert (np.abs(pattern.level_pct + mean - SPOTS.drier_pct) < SPOTS.std_pct).all()


def test_an_exact_meter_is_taken_at_its_word() -> None:
    exact = readings([0, 40, 80], [0, 5, 0], [3.0, -1.0, 2.0], 1e-3)
    pattern = moisture_pattern(exact)
    mean, std = pattern.at(exact.x_m, exact.y_m)
    np.testing.assert_allclose(pattern.level_pct + mean, exact.drier_pct, atol=1e-4)
    assert std.max() < 2e-3


def test_uncertainty_grows_with_distance_up_to_what_was_believed() -> None:
    pattern = moisture_pattern(readings([0.0], [0.0], [4.0]))
    _, std = pattern.at(np.array([0.0, 5, 10, 20, 40, 400]), np.zeros(6))
    assert (np.diff(std) > 0).all()
    assert std[-1] == pytest.approx(PATTERN_STD_PCT)


def test_far_from_every_reading_there_is_no_pattern() -> None:
    mean, _ = moisture_pattern(SPOTS).at(np.array([5000.0]), np.array([5000.0]))
    assert mean == pytest.approx([0.0], abs=1e-9)


def test_ten_readings_of_one_knoll_do_not_speak_for_the_fairway() -> None:
    knoll, rest = [8.0] * 10, [0.0] * 3
    x = [float(n) / 10 for n in range(10)] + [100.0, 200.0, 300.0]
    pattern = moisture_pattern(readings(x, [0.0] * 13, knoll + rest))
    assert pattern.level_pct < np.mean(knoll + rest) / 1.5


def test_few_readings_keep_what_is_believed() -> None:
    n = LEAST_FITTED - 1
    pattern = moisture_pattern(readings([*map(float, range(n))], [0.0] * n, [9.0, 0] * 3 + [1.0]))
    assert (pattern.fitted, pattern.std_pct, pattern.length_m) == (
        False,
        pytest.approx(PATTERN_STD_PCT),
        LENGTH_M,
    )


@pytest.mark.parametrize("size", [0.0, 50.0])
def test_what_is_fitted_stays_within_bounds(size: float) -> None:
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, 60, (2, 20))
    pattern = moisture_pattern(readings(list(x), list(y), list(size * rng.standard_normal(20))))
    assert STD_BOUNDS_PCT[0] * 0.999 <= pattern.std_pct <= STD_BOUNDS_PCT[1] * 1.001
    assert LENGTH_BOUNDS_M[0] * 0.999 <= pattern.length_m <= LENGTH_BOUNDS_M[1] * 1.001


def test_turning_the_course_turns_the_map() -> None:
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    at = np.column_stack((SPOTS.x_m, SPOTS.y_m)) @ turn.T
    turned = readings(list(at[:, 0]), list(at[:, 1]), list(SPOTS.drier_pct), list(SPOTS.std_pct))
    place = np.array([[12.0, 7.0]])
    there = place @ turn.T
    before = moisture_pattern(SPOTS).at(place[:, 0], place[:, 1])
    after = moisture_pattern(turned).at(there[:, 0], there[:, 1])
    np.testing.assert_allclose(after, before)


def test_nowhere_is_nothing() -> None:
    mean, std = moisture_pattern(SPOTS).at(np.empty(0), np.empty(0))
    assert (mean.shape, std.shape) == ((0,), (0,))
