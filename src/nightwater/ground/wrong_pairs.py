"""Which control points do not belong: consensus of the others, then a test of each.

Random sample consensus in its least-quantile form: how far a good point may lie off is not known
before (a drawing is metres wrong, an orthophoto centimetres), so the sample whose h-th smallest
distance is least stands for the good points, and the tolerance follows from them.
"""

from __future__ import annotations

from itertools import combinations
from math import comb
from typing import Final

import numpy as np

from nightwater.findings import UserError
from nightwater.ground.transforms import (
    PARAMETERS,
    Floats,
    Transform,
    TransformKind,
    fit_transform,
    slopes,
)

FEWEST_TO_NAME: Final = 5
FALSE_ALARM: Final = 0.01  # chance that a placement without a wrong pair names one
_MOST_SAMPLES: Final = 300
_SEED: Final = 20  # any number: the same points always give the same answer
_FLOOR_M: Final = 1e-6  # distances below say nothing: exact points differ by rounding


def fewest_points(kind: TransformKind) -> int:
    """Points that fix a transform of a kind without any left over."""
    return PARAMETERS[kind] // 2


def distances_m(transform: Transform, image_px: Floats, map_m: Floats) -> Floats:
    """How far each point falls from its place on the map [m], shape (n,)."""
    return np.asarray(np.linalg.norm(transform.to_map_m(image_px) - map_m, axis=-1))


def _samples(count: int, size: int) -> list[tuple[int, ...]]:
    if comb(count, size) <= _MOST_SAMPLES:
        return list(combinations(range(count), size))
    random = np.random.default_rng(_SEED)
    return [tuple(random.choice(count, size, replace=False)) for _ in range(_MOST_SAMPLES)]


def _best_sample(kind: TransformKind, image: Floats, places: Floats) -> Floats | None:
    """Distances under the sample with the least h-th distance; None where no sample fits."""
    fewest = fewest_points(kind)
    agreeing = (len(image) + fewest + 1) // 2  # Rousseeuw and Leroy 1987, chapter 3, eq. 4.7
    best, least = None, np.inf
    for sample in _samples(len(image), fewest):
        chosen = list(sample)
        try:
            transform = fit_transform(kind, image[chosen], places[chosen])
        except UserError:
            continue
        distances = distances_m(transform, image, places)
        quantile = float(np.sort(distances)[agreeing - 1])
        if quantile < least:
            best, least = distances, quantile
    return best


def _limit(free: int, choices: int) -> float:
    """The value that F with 2 and `free` degrees of freedom exceeds by chance (closed form)."""
    return float(free / 2 * ((FALSE_ALARM / choices) ** (-2 / free) - 1))


def _disagreement(kind: TransformKind, image: Floats, places: Floats) -> float:
    """How little the last point agrees with the others, as F of its predicted place."""
    others, one = np.arange(len(image) - 1), len(image) - 1
    transform = fit_transform(kind, image[others], places[others])
    free = 2 * len(others) - PARAMETERS[kind]
    rest = transform.to_map_m(image[others]) - places[others]
    variance = max(float((rest**2).sum()) / free, _FLOOR_M**2)
    known = slopes(transform, image[others], image[others]).reshape(2 * len(others), -1)
    here = slopes(transform, image[others], image[[one]])[0]
    covariance = np.eye(2) + here @ np.linalg.pinv(known.T @ known) @ here.T
    off = transform.to_map_m(image[one]) - places[one]
    return float(off @ np.linalg.solve(covariance, off)) / (2 * variance)


def _fails(kind: TransformKind, image: Floats, places: Floats, count: int) -> bool:
    """Whether the last point fails the test against the others, out of `count` points."""
    free = 2 * (len(image) - 1) - PARAMETERS[kind]
    if free <= 0:
        return False
    try:
        value = _disagreement(kind, image, places)
    except UserError:
        return False
    return value > _limit(free, comb(count, count - len(image) + 1))


def wrong_pairs(kind: TransformKind, image_px: Floats, map_m: Floats) -> tuple[int, ...]:
    """The points that do not agree with the consensus of the others.

    The points of the consensus are taken first; then the others join, the nearest first, until
    one fails the test for a single outlier (F test of its distance predicted from the
    others; Bonferroni over every choice of as many points to leave out). With n points, at most
    half of those beyond the fewest can be wrong.

    Args:
        kind: the kind of transform the good points follow.
        image_px: column and row, shape (n, 2).
        map_m: x and y [m], shape (n, 2).

    Returns:
        Indices, rising; empty below 5 points, and below two points more than `kind` needs.
    """
    if len(image_px) < max(FEWEST_TO_NAME, fewest_points(kind) + 2):
        return ()
    distances = _best_sample(kind, image_px, map_m)
    if distances is None:
        return ()
    order = [int(index) for index in np.argsort(distances, kind="stable")]
    joined = order[: (len(order) + fewest_points(kind) + 1) // 2]
    for index in order[len(joined) :]:
        trial = [*joined, index]
        if _fails(kind, image_px[trial], map_m[trial], len(order)):
            break
        joined = trial
    return tuple(sorted(set(order) - set(joined)))
