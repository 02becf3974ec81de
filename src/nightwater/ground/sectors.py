"""How much of each direction around a head lies on the ground it should wet, and the sector."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.ground.shapes import Geometries

STEP_DEG: Final = 5.0  # arcs are set to five degrees (common practice, no source)
RAYS: Final = 72
RINGS: Final = 21  # odd: half the throw lies between no two rings
RAY_DEG: Final = STEP_DEG * (np.arange(RAYS) + 0.5)
_OUT: Final = (np.arange(RINGS) + 0.5) / RINGS

Shares = NDArray[np.float64]


def _samples(x: float, y: float, throw_m: float) -> tuple[Shares, Shares]:
    turn = np.radians(RAY_DEG)[:, None]
    return x + throw_m * _OUT * np.sin(turn), y + throw_m * _OUT * np.cos(turn)


def _shares(x: float, y: float, throw_m: float, near: Geometries) -> Shares:
    ground: Any = near[0] if len(near) == 1 else shapely.union_all(near)
    shapely.prepare(ground)
    east, north = _samples(x, y, throw_m)
    return np.asarray(shapely.contains_xy(ground, east, north), dtype=float)


def samples_on(
    x: NDArray[np.float64], y: NDArray[np.float64], throw_m: NDArray[np.float64], ground: Geometries
) -> NDArray[np.float64]:
    """Whether samples of each head's throw lie on some ground, 1 or 0.

    Args:
        x, y: places of heads [m], shape (n,); finite.
        throw_m: how far they throw [m], shape (n,); above 0.
        ground: polygons, any number; they may overlap.

    Returns:
        Shape (n, 72, 21): clockwise from north in steps of 5°, and outwards in 21 equal steps
        of the throw.
    """
    found = np.zeros((len(x), RAYS, RINGS))
    if not len(x) or not len(ground):
        return found
    circles = shapely.buffer(shapely.points(x, y), throw_m)
    head, shape = shapely.STRtree(ground).query(circles, predicate="intersects")
    for place in np.unique(head):
        near = ground[shape[head == place]]
        found[place] = _shares(x[place], y[place], throw_m[place], near)
    return found


def area_share(samples: NDArray[np.float64]) -> Shares:
    """Share of each whole circle, shape (n,), from samples of shape (n, 72, 21)."""
    return np.asarray((samples * _OUT).sum(axis=(1, 2)) / (RAYS * _OUT.sum()))


def longest_run(wet: NDArray[np.bool_], gap_deg: float) -> tuple[int, int]:
    """First ray and length of the longest run around the circle; breaks of `gap_deg` are closed.

    Args:
        wet: shape (72,), clockwise from north.
        gap_deg: breaks no wider than this count as wet.

    Returns:
        First ray and how many rays; (0, 0) where none is wet, (0, 72) where all are.
    """
    if not wet.any():
        return 0, 0
    edges = np.flatnonzero(wet & ~np.roll(wet, 1))
    if not len(edges):
        return 0, RAYS
    ends = np.flatnonzero(wet & ~np.roll(wet, -1))
    ends = np.roll(ends, -int(np.searchsorted(ends, edges[0])))
    length = (ends - edges) % RAYS + 1
    return _joined(edges, length, round(gap_deg / STEP_DEG))


def _joined(first: NDArray[Any], length: NDArray[Any], most: int) -> tuple[int, int]:
    """The longest of the runs, those with breaks of at most `most` rays joined."""
    breaks = (np.roll(first, -1) - first - length) % RAYS
    if (breaks <= most).all():
        widest = int(np.argmax(breaks))
        return int((first[widest] + length[widest] + breaks[widest]) % RAYS), RAYS - int(
            breaks[widest]
        )
    start = int(np.flatnonzero(breaks > most)[0]) + 1  # no run goes over this break
    first, length, breaks = (np.roll(each, -start) for each in (first, length, breaks))
    group = np.concatenate([[0], np.cumsum(breaks[:-1] > most)])
    best = (0, 0)
    for number in range(int(group[-1]) + 1):
        run = np.flatnonzero(group == number)
        whole = int(length[run].sum() + breaks[run[:-1]].sum())
        if whole > best[1]:
            best = int(first[run[0]]), whole
    return best


def best_window(shares: Shares, rays: int) -> tuple[int, float]:
    """First ray of the window of so many rays with most ground, and how much better it is.

    Of equal windows in a row the middle one is taken.

    Returns:
        First ray, and mean share inside less mean share outside.
    """
    around = np.concatenate([shares, shares])
    sums = np.convolve(around, np.ones(rays), "valid")[:RAYS]
    first, length = longest_run(np.isclose(sums, sums.max()), 0.0)
    place = (first + (length - 1) // 2) % RAYS
    outside = (shares.sum() - sums[place]) / max(RAYS - rays, 1)
    return int(place), float(sums[place] / rays - outside)


def middle_deg(first: int, rays: int) -> float:
    """Middle of a sector of rays, clockwise from north [degrees]."""
    return float((first + rays / 2.0) * STEP_DEG % 360.0)
