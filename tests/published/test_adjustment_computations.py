"""Two-dimensional similarity transform: a textbook's worked example.

Adjustment Computations: Spatial Data Analysis, chapter "Coordinate transformations",
example 18.1 (4th edition and later). Numbers from memory, not looked up; that three observed
points give back the printed parameters and residuals to their last digit confirms them.
"""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.ground.transforms import Transform, TransformKind, fit_transform

# x and y measured on a photo with y upwards; ours are (column, row) with rows downwards.
PHOTO = np.array([[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]])
CONTROL = np.array(
    [[1_049_422.40, 51_089.20], [1_049_413.95, 49_659.30], [1_049_244.95, 49_884.95]]
)
RESIDUALS = np.array([[0.004, -0.029], [0.101, -0.077], [-0.105, 0.106]])


@pytest.fixture
def fitted() -> Transform:
    return fit_transform(TransformKind.SIMILARITY, PHOTO * [1, -1], CONTROL)


def test_the_four_numbers(fitted: Transform) -> None:
    (a, b, east), (_b, _a, north), _last = fitted.matrix
    assert a == pytest.approx(-4.51249, abs=0.5e-5)
    assert b == pytest.approx(-0.25371, abs=0.5e-5)  # -b of the book, whose y grows upwards
    assert east == pytest.approx(1_050_003.715, abs=0.5e-3)
    assert north == pytest.approx(50_542.131, abs=0.5e-3)


def test_the_residuals(fitted: Transform) -> None:
    found = fitted.to_map_m(PHOTO * [1, -1]) - CONTROL
    np.testing.assert_allclose(found, RESIDUALS, atol=0.5e-3 + 1e-6)
