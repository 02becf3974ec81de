"""Where a picture lies: the transform chosen for its control points, and how sure it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightwater.findings import UserError
from nightwater.ground.transforms import (
    PARAMETERS,
    Floats,
    Transform,
    TransformKind,
    fit_transform,
    slopes,
)
from nightwater.ground.wrong_pairs import distances_m, fewest_points, wrong_pairs

FEWEST_POINTS: Final = 3
CLEARLY: Final = 0.7  # a more flexible kind must bring the distance down to this share
SAME_PX: Final = 0.1  # and by more than this: nobody picks a tenth of a pixel
KEEPS_ALL: Final = 4.0  # a kind that fits all points is taken unless it is this much worse
_NEAREST_PX: Final = 1.0
_NEAREST_M: Final = 0.01
_THINNEST: Final = 0.02  # breadth over length of points that still count as no line


@dataclass(frozen=True)
class Placement:
    """A picture's transform and what speaks for it.

    Attributes:
        transform: fitted to the points that are `used`.
        residual_m: map place of each point as the picture says, minus the picked one [m],
            shape (n, 2), wrong pairs too.
        wrong: indices of the pairs that do not agree with the others; they are not used.
        left_out_m: per kind that could be tried, the root mean square distance [m] of each used
            point from where the *others* put it.
        reason: why this kind, as a sentence.
        worst_inside_m: largest expected error [m] (one standard deviation of the distance)
            among the points' own hull; NaN where no point is left over to tell.
        worst_outside_m: the same at the picture's corners.
    """

    transform: Transform
    residual_m: Floats
    wrong: tuple[int, ...]
    left_out_m: Mapping[TransformKind, float]
    reason: str
    worst_inside_m: float
    worst_outside_m: float

    @property
    def distance_m(self) -> Floats:
        """How far each point falls from its place on the map [m], shape (n,)."""
        return np.asarray(np.linalg.norm(self.residual_m, axis=1))

    @property
    def used(self) -> tuple[int, ...]:
        """The points the transform was fitted to."""
        return tuple(i for i in range(len(self.residual_m)) if i not in self.wrong)

    @property
    def rms_m(self) -> float:
        """Root mean square distance of the used points [m]."""
        return float(np.sqrt(np.mean(self.distance_m[list(self.used)] ** 2)))

    @property
    def worst(self) -> int:
        """The point that falls farthest from its place."""
        return int(np.argmax(self.distance_m))


@dataclass(frozen=True)
class _Explanation:
    """One kind's view of the points: which it takes for wrong, and how well the rest foretells."""

    kind: TransformKind
    wrong: tuple[int, ...]
    left_out_m: float


def place_image(
    image_px: ArrayLike,
    map_m: ArrayLike,
    size_px: tuple[int, int],
    kind: TransformKind | None = None,
) -> Placement:
    """Place a picture by three or more control points.

    Without `kind` the stiffest of similarity, affine and projective is taken; a more flexible
    one only where every point is foretold by the others clearly better: the root mean square
    falls to 0.7 of it or less, and by more than a tenth of a pixel. Which pairs look wrong is asked
    under each kind (`wrong_pairs`); a kind under which no pair is wrong is preferred unless
    the points it keeps are foretold four times worse. Shares chosen here, no source.

    Args:
        image_px: column and row of each point, shape (n, 2), in pixels from the upper left corner.
        map_m: x and y [m] in the record's system, shape (n, 2).
        size_px: width and height of the picture.
        kind: takes this kind instead of choosing.

    Raises:
        UserError: fewer than three points, points outside the picture, in one place or in one
            line, or too few for the kind asked for.
    """
    image, places = np.asarray(image_px, dtype=float), np.asarray(map_m, dtype=float)
    _check_points(image, places, size_px)
    kinds = [k for k in TransformKind if _can_be_judged(k, image, places, size_px)]
    views = [_explanation(k, image, places) for k in kinds]
    if kind is not None:
        chosen, reason = _asked_for(kind, views), f"{kind.value} was asked for"
    else:
        chosen, reason = _chosen(views, _pixel_m(image, places))
    used = [i for i in range(len(image)) if i not in chosen.wrong]
    transform = fit_transform(chosen.kind, image[used], places[used])
    _check_horizon(transform, size_px)
    inside, outside = _expected_errors_m(transform, image[used], places[used], size_px)
    return Placement(
        transform,
        transform.to_map_m(image) - places,
        chosen.wrong,
        {view.kind: view.left_out_m for view in views},
        reason,
        inside,
        outside,
    )


def _check_points(image: Floats, places: Floats, size_px: tuple[int, int]) -> None:
    if image.ndim != 2 or image.shape != places.shape or image.shape[1] != 2:
        raise ValueError("control points need column and row, x and y each")
    if len(image) < FEWEST_POINTS:
        raise UserError(
            f"A picture is placed by three or more control points; there are {len(image)}. "
            "Pick points spread over the whole picture."
        )
    if not (np.isfinite(image).all() and np.isfinite(places).all()):
        raise UserError("A control point lacks its column, row, x or y. Fill it in or drop it.")
    outside = [i + 1 for i, p in enumerate(image) if not ((p >= 0) & (p <= size_px)).all()]
    if outside:
        raise UserError(
            f"Control point {outside[0]} lies outside the picture of {size_px[0]} × {size_px[1]} "
            "pixels. Count columns and rows from the upper left corner."
        )
    _check_apart(image, _NEAREST_PX, "in the picture")
    _check_apart(places, _NEAREST_M, "on the map")
    for points, where in ((image, "in the picture"), (places, "on the map")):
        sizes = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
        if sizes[1] < _THINNEST * sizes[0]:
            raise UserError(
                f"The control points lie in one line {where}, so nothing holds the picture across "
                "it. Add a point well beside the line."
            )


def _check_apart(points: Floats, nearest: float, where: str) -> None:
    for later in range(1, len(points)):
        near = np.linalg.norm(points[:later] - points[later], axis=1) < nearest
        if near.any():
            raise UserError(
                f"Control points {int(np.argmax(near)) + 1} and {later + 1} lie in the same place "
                f"{where}. Drop one of them or pick it anew."
            )


def _pixel_m(image: Floats, places: Floats) -> float:
    middle = fit_transform(TransformKind.SIMILARITY, image, places)
    return middle.metres_per_pixel(image.mean(axis=0))


def _can_be_judged(
    kind: TransformKind, image: Floats, places: Floats, size_px: tuple[int, int]
) -> bool:
    """Whether a kind fits, with a point left over to judge it by."""
    if len(image) <= fewest_points(kind):
        return False
    try:
        _check_horizon(fit_transform(kind, image, places), size_px)
    except UserError:
        return False
    return True


def _left_out_m(kind: TransformKind, image: Floats, places: Floats) -> float:
    """Root mean square distance [m] of each point from where the others put it."""
    off = []
    for one in range(len(image)):
        others = np.arange(len(image)) != one
        try:
            transform = fit_transform(kind, image[others], places[others])
        except UserError:
            return float("inf")
        off.append(float(distances_m(transform, image[[one]], places[[one]])[0]))
    return float(np.sqrt(np.mean(np.square(off))))


def _explanation(kind: TransformKind, image: Floats, places: Floats) -> _Explanation:
    wrong = wrong_pairs(kind, image, places)
    used = [i for i in range(len(image)) if i not in wrong]
    return _Explanation(kind, wrong, _left_out_m(kind, image[used], places[used]))


def _asked_for(kind: TransformKind, views: list[_Explanation]) -> _Explanation:
    return next((v for v in views if v.kind is kind), _Explanation(kind, (), float("nan")))


def _chosen(views: list[_Explanation], pixel_m: float) -> tuple[_Explanation, str]:
    whole = [view for view in views if not view.wrong]
    least = min(view.left_out_m for view in views)
    fair = KEEPS_ALL * max(least, SAME_PX * pixel_m)
    if whole and min(view.left_out_m for view in whole) <= fair:
        views = whole
    chosen = views[0]
    for view in views[1:]:
        gain = chosen.left_out_m - view.left_out_m
        if view.left_out_m <= CLEARLY * chosen.left_out_m and gain > SAME_PX * pixel_m:
            chosen = view
    return chosen, _reason(chosen, views)


def _reason(chosen: _Explanation, views: list[_Explanation]) -> str:
    told = ", ".join(f"{v.kind.value} {v.left_out_m:.2f} m" for v in views)
    if len(views) == 1:
        return f"{chosen.kind.value}: no other kind can be judged by these points ({told})"
    return f"{chosen.kind.value}: each point foretold by the others to {told}"


def _check_horizon(transform: Transform, size_px: tuple[int, int]) -> None:
    if (transform.distance_to_horizon(corners_px(size_px)) <= 0).any():
        raise UserError(
            "With these control points a part of the picture would lie beyond the horizon. Look "
            "for a wrong pair, or cut the sky off the picture."
        )


def corners_px(size_px: tuple[int, int]) -> Floats:
    """The corners of a picture as (column, row), from the upper left, clockwise."""
    width, height = size_px
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def _expected_errors_m(
    transform: Transform, image: Floats, places: Floats, size_px: tuple[int, int]
) -> tuple[float, float]:
    """One standard deviation of the distance [m]: worst at the points, worst at the corners.

    Error propagation of the least squares; what is worst in the hull of the points is worst
    at one of them, for the variance is convex in the place (for a projective picture nearly).
    """
    free = 2 * len(image) - PARAMETERS[transform.kind]
    if free <= 0:
        return float("nan"), float("nan")
    variance = float(((transform.to_map_m(image) - places) ** 2).sum()) / free
    known = slopes(transform, image, image).reshape(2 * len(image), -1)
    inverse = np.linalg.pinv(known.T @ known)

    def worst(points: Floats) -> float:
        here = slopes(transform, image, points)
        spread = np.einsum("nij,jk,nik->n", here, inverse, here)
        return float(np.sqrt(variance * spread.max()))

    return worst(image), worst(corners_px(size_px))
