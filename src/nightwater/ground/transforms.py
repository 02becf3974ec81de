"""Transforms from a picture's pixels to the record's metres, fitted to pairs of points.

Pixels are counted as (column, row) from the picture's upper left corner, so that the middle of
the first pixel is (0.5, 0.5) and rows grow downwards; metres are (x east, y north).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError

Floats = NDArray[np.float64]
_STEPS: Final = 25
_SMALL: Final = 1e-9  # relative rank and step limit, far above rounding of 8-byte numbers


class TransformKind(StrEnum):
    """How a picture may be turned into a map, from stiff to flexible."""

    SIMILARITY = "similarity"  # turn, one scale, shift: 4 numbers
    AFFINE = "affine"  # two scales and a shear besides: 6 numbers
    PROJECTIVE = "projective"  # a flat ground seen aslant: 8 numbers


PARAMETERS: Final[Mapping[TransformKind, int]] = {
    TransformKind.SIMILARITY: 4,
    TransformKind.AFFINE: 6,
    TransformKind.PROJECTIVE: 8,
}


@dataclass(frozen=True)
class Transform:
    """A picture's place: `matrix` takes (column, row, 1) to (x, y, 1) times a factor."""

    kind: TransformKind
    matrix: tuple[tuple[float, float, float], ...]

    @property
    def array(self) -> Floats:
        """The matrix, shape (3, 3)."""
        return np.array(self.matrix, dtype=float)

    def to_map_m(self, image_px: ArrayLike) -> Floats:
        """Places on the map [m] of pixels (column, row), shape (…, 2); NaN in, NaN out."""
        return _applied(self.array, np.asarray(image_px, dtype=float))

    def to_image_px(self, map_m: ArrayLike) -> Floats:
        """The inverse of `to_map_m`, same shape and NaN rule."""
        places = np.asarray(map_m, dtype=float)
        # Metres of a map are large; taking an origin in the picture off keeps the digits.
        origin = self.array[:2, 2] / self.array[2, 2]
        near = _moved(-origin) @ self.array
        return _applied(np.asarray(np.linalg.inv(near), dtype=np.float64), places - origin)

    def distance_to_horizon(self, image_px: ArrayLike) -> Floats:
        """The divisor of the projection, 1 at the origin; it must stay positive in the picture."""
        return np.asarray(_divisor(self.array, np.asarray(image_px, dtype=float)))

    def metres_per_pixel(self, image_px: ArrayLike) -> float:
        """Side [m] of the square as large as the pixel at (column, row)."""
        column, row = np.asarray(image_px, dtype=float)
        corners = self.to_map_m([(column, row), (column + 1, row), (column, row + 1)])
        (ax, ay), (bx, by) = corners[1] - corners[0], corners[2] - corners[0]
        return float(np.sqrt(abs(ax * by - ay * bx)))

    @property
    def mirrored(self) -> bool:
        """Whether the picture shows the ground as from below."""
        return bool(np.linalg.det(self.array) > 0)  # rows grow downwards, y upwards


def transform_from(kind: TransformKind, matrix: ArrayLike) -> Transform:
    """A transform out of nine numbers, scaled so that the last is 1."""
    array = np.asarray(matrix, dtype=float).reshape(3, 3)
    array = array / array[2, 2]
    return Transform(kind, tuple((float(a), float(b), float(c)) for a, b, c in array))


def _moved(by: Floats) -> Floats:
    return np.array([[1.0, 0.0, by[0]], [0.0, 1.0, by[1]], [0.0, 0.0, 1.0]])


def _divisor(matrix: Floats, points: Floats) -> Floats:
    return np.asarray(points @ matrix[2, :2] + matrix[2, 2])


def _applied(matrix: Floats, points: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        places = (points @ matrix[:2, :2].T + matrix[:2, 2]) / _divisor(matrix, points)[..., None]
    return np.asarray(places)


def normalising(points: Floats) -> Floats:
    """The matrix that puts points around the origin at a mean distance of √2."""
    middle = points.mean(axis=0)
    spread = float(np.linalg.norm(points - middle, axis=1).mean())
    scale = np.sqrt(2.0) / spread if spread > 0 else 1.0
    return np.diag([scale, scale, 1.0]) @ _moved(-middle)


def _design(kind: TransformKind, image: Floats) -> Floats:
    """Rows x1, y1, x2, y2 … of the linear least-squares system of a stiff kind."""
    column, row = image.T
    one, zero = np.ones(len(image)), np.zeros(len(image))
    if kind is TransformKind.SIMILARITY:
        x, y = [column, row, one, zero], [-row, column, zero, one]
    else:
        x, y = [column, row, one, *[zero] * 3], [*[zero] * 3, column, row, one]
    return np.stack([np.stack(x, axis=1), np.stack(y, axis=1)], axis=1).reshape(2 * len(image), -1)


def _solved(design: Floats, wanted: Floats) -> Floats:
    found, _rest, rank, _sizes = np.linalg.lstsq(design, wanted, rcond=_SMALL)
    if rank < design.shape[1]:
        raise UserError(_TOO_FEW)
    return np.asarray(found)


_TOO_FEW: Final = (
    "These control points do not fix the picture: too few of them, or three or more in one line. "
    "Pick points spread over the whole picture."
)


def _similarity(image: Floats, places: Floats) -> Floats:
    a, b, x, y = _solved(_design(TransformKind.SIMILARITY, image), places.ravel())
    return np.array([[a, b, x], [b, -a, y], [0.0, 0.0, 1.0]])


def _affine(image: Floats, places: Floats) -> Floats:
    six = _solved(_design(TransformKind.AFFINE, image), places.ravel())
    return np.vstack([six.reshape(2, 3), [0.0, 0.0, 1.0]])


def _direct_linear(image: Floats, places: Floats) -> Floats:
    """Direct linear transformation of normalised points (Multiple View Geometry, alg. 4.2)."""
    ones = np.column_stack([image, np.ones(len(image))])
    none = np.zeros_like(ones)
    rows = np.vstack(
        [
            np.hstack([ones, none, -places[:, :1] * ones]),
            np.hstack([none, ones, -places[:, 1:] * ones]),
        ]
    )
    _left, sizes, right = np.linalg.svd(rows)
    if len(sizes) < PARAMETERS[TransformKind.PROJECTIVE] or sizes[7] < _SMALL * sizes[0]:
        raise UserError(_TOO_FEW)
    matrix = right[-1].reshape(3, 3)
    if abs(matrix[2, 2]) < _SMALL or abs(np.linalg.det(matrix / matrix[2, 2])) < _SMALL:
        raise UserError(_TOO_FEW)
    return np.asarray(matrix / matrix[2, 2])


def _projective_slopes(matrix: Floats, image: Floats) -> Floats:
    """How x and y of each point change with the eight numbers, shape (2 n, 8)."""
    ones = np.column_stack([image, np.ones(len(image))]) / _divisor(matrix, image)[:, None]
    places, none = _applied(matrix, image), np.zeros_like(ones)
    x = np.hstack([ones, none, -places[:, :1] * ones[:, :2]])
    y = np.hstack([none, ones, -places[:, 1:] * ones[:, :2]])
    return np.stack([x, y], axis=1).reshape(2 * len(image), 8)


def _projective(image: Floats, places: Floats) -> Floats:
    """From the direct solution to the least squares of distances on the map (Gauss-Newton)."""
    matrix = _direct_linear(image, places)
    for _ in range(_STEPS):
        missing = (places - _applied(matrix, image)).ravel()
        step = np.linalg.lstsq(_projective_slopes(matrix, image), missing, rcond=None)[0]
        better = matrix + np.append(step, 0.0).reshape(3, 3)
        if not _nearer(better, matrix, image, places):
            break
        matrix = better
        if float(np.abs(step).max()) < _SMALL:
            break
    return matrix


def _nearer(new: Floats, old: Floats, image: Floats, places: Floats) -> bool:
    sums = [float(np.sum((places - _applied(matrix, image)) ** 2)) for matrix in (new, old)]
    return bool(np.isfinite(sums[0]) and sums[0] <= sums[1])


_FITS: Final[Mapping[TransformKind, Callable[[Floats, Floats], Floats]]] = {
    TransformKind.SIMILARITY: _similarity,
    TransformKind.AFFINE: _affine,
    TransformKind.PROJECTIVE: _projective,
}


def fit_transform(kind: TransformKind, image_px: ArrayLike, map_m: ArrayLike) -> Transform:
    """The transform of a kind that brings pixels nearest to their places on the map.

    Least squares of the distances on the map: pixels are taken as exact, which costs little
    where both are picked by eye. A similarity never mirrors the picture.

    Args:
        kind: similarity (2 points or more), affine (3) or projective (4).
        image_px: column and row, shape (n, 2).
        map_m: x and y [m], shape (n, 2).

    Raises:
        UserError: too few points, or points that do not fix the transform.
    """
    image, places = np.asarray(image_px, dtype=float), np.asarray(map_m, dtype=float)
    if 2 * len(image) < PARAMETERS[kind]:
        raise UserError(_TOO_FEW)
    before, after = normalising(image), normalising(places)
    fitted = _FITS[kind](_applied(before, image), _applied(after, places))
    return transform_from(kind, np.linalg.inv(after) @ fitted @ before)


def slopes(transform: Transform, control_px: Floats, at_px: Floats) -> Floats:
    """How the places [m] of points change with the transform's numbers.

    Args:
        transform: fitted to points around `control_px`.
        control_px: column and row of the control points, shape (n, 2).
        at_px: where, shape (m, 2).

    Returns:
        Shape (m, 2, parameters). The numbers are those of normalised coordinates, so only
        their span has a meaning, not a single column.
    """
    before = normalising(control_px)
    origin = transform.to_map_m(control_px.mean(axis=0))
    near = _moved(-origin) @ transform.array @ np.linalg.inv(before)
    points = _applied(before, at_px)
    if transform.kind is TransformKind.PROJECTIVE:
        rows = _projective_slopes(near / near[2, 2], points)
    else:
        rows = _design(transform.kind, points)
    return rows.reshape(len(at_px), 2, -1)
