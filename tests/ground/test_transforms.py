"""Transforms recovered from their own points, and against independent least squares."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from nightwater.findings import UserError
from nightwater.ground.transforms import (
    PARAMETERS,
    Transform,
    TransformKind,
    fit_transform,
    slopes,
    transform_from,
)

KINDS = list(TransformKind)
EAST, NORTH = 413_000.0, 4_340_000.0
SIMILARITY = [[0.31, 0.05, EAST], [0.05, -0.31, NORTH], [0, 0, 1]]
AFFINE = [[0.31, 0.09, EAST], [0.02, -0.27, NORTH], [0, 0, 1]]
SLANT = np.array([[0.31, 0.09, 0], [0.02, -0.27, 0], [5e-5, 8e-5, 1]])
MOVE = np.array([[1, 0, EAST], [0, 1, NORTH], [0, 0, 1]])
TRUTH = {
    TransformKind.SIMILARITY: transform_from(TransformKind.SIMILARITY, SIMILARITY),
    TransformKind.AFFINE: transform_from(TransformKind.AFFINE, AFFINE),
    TransformKind.PROJECTIVE: transform_from(TransformKind.PROJECTIVE, MOVE @ SLANT),
}
IMAGE = np.array(
    [[120, 80], [2900, 150], [2700, 1900], [200, 1850], [1500, 900], [800, 1300], [2200, 500]],
    dtype=float,
)


@pytest.mark.parametrize("kind", KINDS)
def test_exact_points_give_back_the_transform(kind: TransformKind) -> None:
    found = fit_transform(kind, IMAGE, TRUTH[kind].to_map_m(IMAGE))
    grid = np.array([[c, r] for c in (0, 1500, 3000) for r in (0, 1000, 2000)], dtype=float)
    np.testing.assert_allclose(found.to_map_m(grid), TRUTH[kind].to_map_m(grid), atol=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_the_inverse_leads_back(kind: TransformKind) -> None:
    back = TRUTH[kind].to_image_px(TRUTH[kind].to_map_m(IMAGE))
    np.testing.assert_allclose(back, IMAGE, atol=1e-5)


def _numbers(kind: TransformKind, p: np.ndarray, image: np.ndarray) -> np.ndarray:
    """The transform written out by hand, about an origin near the points."""
    column, row = image.T / 1000
    if kind is TransformKind.SIMILARITY:
        a, b, c, d = p
        return np.column_stack([a * column + b * row + c, b * column - a * row + d])
    divisor = 1.0 if kind is TransformKind.AFFINE else p[6] * column + p[7] * row + 1
    x = (p[0] * column + p[1] * row + p[2]) / divisor
    y = (p[3] * column + p[4] * row + p[5]) / divisor
    return np.column_stack([x, y])


@pytest.mark.parametrize("kind", KINDS)
def test_noisy_points_agree_with_an_independent_solver(kind: TransformKind) -> None:
    noise = np.random.default_rng(3).normal(0, 0.4, IMAGE.shape)
    places = TRUTH[kind].to_map_m(IMAGE) + noise
    start = np.zeros(PARAMETERS[kind])
    start[0] = 300.0
    local = places - [EAST, NORTH]
    solved = least_squares(
        lambda p: (_numbers(kind, p, IMAGE) - local).ravel(), start, xtol=1e-14, ftol=1e-14
    )
    found = fit_transform(kind, IMAGE, places)
    ours = found.to_map_m(IMAGE) - [EAST, NORTH]
    np.testing.assert_allclose(ours, _numbers(kind, solved.x, IMAGE), atol=1e-4)
    assert np.sum((ours - local) ** 2) <= np.sum(solved.fun**2) * (1 + 1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_noisy_points_recover_the_truth_within_three_sigma(kind: TransformKind) -> None:
    """Errors at a point in the middle, over 200 draws, against error propagation."""
    random, sigma = np.random.default_rng(8), 0.3
    at = np.array([[1400.0, 1000.0]])
    true = TRUTH[kind].to_map_m(IMAGE)
    known = slopes(TRUTH[kind], IMAGE, IMAGE).reshape(2 * len(IMAGE), -1)
    here = slopes(TRUTH[kind], IMAGE, at)[0]
    expected = sigma * np.sqrt(np.trace(here @ np.linalg.inv(known.T @ known) @ here.T))
    off = np.array(
        [
            fit_transform(kind, IMAGE, true + random.normal(0, sigma, true.shape)).to_map_m(at)[0]
            - TRUTH[kind].to_map_m(at)[0]
            for _ in range(200)
        ]
    )
    bias = np.abs(off.mean(axis=0))
    assert (bias < 3 * expected / np.sqrt(200)).all()
    assert np.sqrt((off**2).sum(axis=1).mean()) == pytest.approx(expected, rel=0.15)
    assert (np.linalg.norm(off, axis=1) < 3 * expected).mean() > 0.98


@pytest.mark.parametrize("kind", KINDS)
def test_slopes_span_what_numbers_can_change(kind: TransformKind) -> None:
    """Derivatives by difference of the fitted place with the control places lie in the span."""
    places = TRUTH[kind].to_map_m(IMAGE)
    span = slopes(TRUTH[kind], IMAGE, IMAGE).reshape(2 * len(IMAGE), -1)
    assert np.linalg.matrix_rank(span) == PARAMETERS[kind]
    shifted = places.copy()
    shifted[2, 0] += 1e-3
    change = (fit_transform(kind, IMAGE, shifted).to_map_m(IMAGE) - places).ravel()
    left = change - span @ np.linalg.lstsq(span, change, rcond=None)[0]
    assert np.abs(left).max() < 1e-6


def test_the_middle_of_the_first_pixel_is_a_half() -> None:
    transform = transform_from(TransformKind.AFFINE, [[2, 0, 100], [0, -2, 900], [0, 0, 1]])
    assert transform.to_map_m((0.5, 0.5)).tolist() == [101.0, 899.0]
    assert transform.to_map_m((0, 0)).tolist() == [100.0, 900.0]


def test_any_shape_and_whole_numbers_and_nan() -> None:
    transform = TRUTH[TransformKind.PROJECTIVE]
    block = np.arange(24).reshape(3, 4, 2)
    assert transform.to_map_m(block).shape == (3, 4, 2)
    np.testing.assert_array_equal(transform.to_map_m(block)[1, 2], transform.to_map_m(block[1, 2]))
    assert np.isnan(transform.to_map_m([np.nan, 5.0])).all()
    assert np.isnan(transform.to_image_px([np.nan, 5.0])).all()


def test_inputs_are_left_as_they_are() -> None:
    image, places = IMAGE.copy(), TRUTH[TransformKind.PROJECTIVE].to_map_m(IMAGE)
    kept = places.copy()
    fit_transform(TransformKind.PROJECTIVE, image, places)
    np.testing.assert_array_equal(image, IMAGE)
    np.testing.assert_array_equal(places, kept)


def test_pixel_size_and_which_way_up() -> None:
    right = TRUTH[TransformKind.SIMILARITY]
    assert right.metres_per_pixel((10, 10)) == pytest.approx(np.hypot(0.31, 0.05))
    assert not right.mirrored
    flipped = transform_from(TransformKind.AFFINE, [[0.3, 0, EAST], [0, 0.3, NORTH], [0, 0, 1]])
    assert flipped.mirrored


def test_a_similarity_never_mirrors() -> None:
    flipped = np.column_stack([IMAGE[:, 0], IMAGE[:, 1]]) * 0.3
    assert not fit_transform(TransformKind.SIMILARITY, IMAGE, flipped).mirrored


def test_distance_to_horizon_changes_sign_where_the_ground_ends() -> None:
    aslant = transform_from(TransformKind.PROJECTIVE, [[1, 0, 0], [0, -1, 0], [0, -1e-3, 1]])
    assert aslant.distance_to_horizon([[0, 0], [0, 999], [0, 1001]]).tolist() == pytest.approx(
        [1.0, 0.001, -0.001]
    )


@pytest.mark.parametrize(
    ("kind", "image"),
    [
        (TransformKind.SIMILARITY, [[5, 5]]),
        (TransformKind.SIMILARITY, [[5, 5], [5, 5]]),
        (TransformKind.AFFINE, [[0, 0], [10, 10], [20, 20]]),
        (TransformKind.AFFINE, [[0, 0], [10, 5]]),
        (TransformKind.PROJECTIVE, [[0, 0], [10, 10], [20, 20], [5, 80]]),
        (TransformKind.PROJECTIVE, [[0, 0], [10, 0], [0, 10]]),
    ],
)
def test_points_that_do_not_fix_it_are_refused(
    kind: TransformKind, image: list[list[float]]
) -> None:
    places = np.array(image, dtype=float) * [2.0, -2.0] + 1000.0
    with pytest.raises(UserError, match="do not fix the picture"):
        fit_transform(kind, image, places)


def test_a_transform_is_a_value() -> None:
    one, other = (transform_from(TransformKind.AFFINE, AFFINE) for _ in range(2))
    assert one == other
    assert isinstance(one, Transform)
    doubled = transform_from(TransformKind.AFFINE, 2 * np.array(AFFINE))
    assert doubled == one
