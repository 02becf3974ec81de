"""How the rate of a head falls with distance: a small family, or a measured leg."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError

NODES: Final = 121  # so that the family's corners fall on nodes
DEFAULT_PROFILE: Final = "triangle"
# Places (share of the throw) and heights of the family's corners; only their ratios count.
_CORNERS: Final[Mapping[str, tuple[tuple[float, float], ...]]] = {
    "triangle": ((0.0, 1.0), (1.0, 0.0)),
    "doughnut": ((0.0, 0.4), (0.6, 1.0), (1.0, 0.0)),
    "trapezoid": ((0.0, 1.0), (0.6, 1.0), (1.0, 0.0)),
    "uniform": ((0.0, 1.0), (1.0, 1.0)),
}

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Profile:
    """Rate against distance of a full circle of throw 1 and flow 1: ∫ 2π ρ f(ρ) dρ = 1.

    Attributes:
        name: which of the family, or "measured".
        density: f at `NODES` places evenly from 0 (the head) to 1 (the throw), straight
            between them.
    """

    name: str
    density: Numbers


def _ring_volume(places: Numbers, heights: Numbers) -> float:
    """∫ 2π ρ f dρ of straight pieces, exact: Simpson's rule is exact for the quadratic ρ·f."""
    left, right = places[:-1], places[1:]
    middle = (left + right) / 2 * (heights[:-1] + heights[1:]) / 2
    ends = left * heights[:-1] + right * heights[1:]
    return float(2 * np.pi * np.sum((right - left) / 6 * (ends + 4 * middle)))


def _normalised(name: str, heights: Numbers) -> Profile:
    places = np.linspace(0.0, 1.0, heights.size)
    return Profile(name, heights / _ring_volume(places, heights))


def named_profile(name: str) -> Profile:
    """A profile of the family.

    triangle: evenly down to nothing at the throw. ellipse: √(1 − ρ²). doughnut: 40 % of its
    peak at the head, the peak at 0.6 of the throw. trapezoid: level to 0.6 of the throw, then
    evenly to nothing. uniform: level to the throw, which no rotor does; for checks and drip.

    Raises:
        UserError: no profile of that name.

    Reference: shapes of this kind stand in every handbook of sprinkler irrigation; the corner
    places are a choice of ours.
    """
    places = np.linspace(0.0, 1.0, NODES)
    if name == "ellipse":
        return _normalised(name, np.sqrt(1.0 - places**2))
    if name not in _CORNERS:
        known = ", ".join(sorted([*_CORNERS, "ellipse"]))
        raise UserError(f"There is no spray profile '{name}'. Known: {known}; or give a leg.")
    corners = np.array(_CORNERS[name])
    return _normalised(name, np.interp(places, corners[:, 0], corners[:, 1]))


def leg_profile(distance_m: ArrayLike, rate_mm_h: ArrayLike, radius_m: float) -> Profile:
    """The profile of a measured single leg.

    Its form only: the volume under a measured leg seldom equals the flow that was measured
    with it, so the leg is scaled to volume 1 and `leg_closure` tells by how much it was off.
    Within the innermost can the rate is taken as level; between the outermost can and the
    throw it falls evenly to nothing.

    Args:
        distance_m: places of the cans from the head [m], rising, shape (n,), n ≥ 2.
        rate_mm_h: rate there [mm/h], 0 or more, not all 0.
        radius_m: throw; cans beyond it are left out.

    Raises:
        UserError: a leg that is none.
    """
    places, heights = _checked_leg(distance_m, rate_mm_h)
    return _normalised("measured", _leg_heights(places, heights, radius_m))


def _checked_leg(distance_m: ArrayLike, rate_mm_h: ArrayLike) -> tuple[Numbers, Numbers]:
    places = np.asarray(distance_m, dtype=float).ravel()
    heights = np.asarray(rate_mm_h, dtype=float).ravel()
    sound = (
        places.size == heights.size >= 2
        and bool(np.isfinite(places).all() and np.isfinite(heights).all())
        and bool((np.diff(places) > 0).all() and places[0] >= 0 and (heights >= 0).all())
        and bool(heights.max() > 0)
    )
    if not sound:
        raise UserError(
            "A measured leg needs at least two cans, their distances rising from the head, and "
            "rates of 0 or more that are not all 0. Correct the nozzle's leg."
        )
    return places, heights


def _leg_heights(places: Numbers, heights: Numbers, radius_m: float) -> Numbers:
    if not radius_m > places[0]:
        raise UserError(
            f"The throw of {radius_m:g} m ends before the leg's first can at {places[0]:g} m. "
            "Correct the nozzle's throw or leg."
        )
    inside = places < radius_m
    if not heights[inside].any():
        raise UserError(
            f"The leg holds no water within the throw of {radius_m:g} m. Correct the nozzle's "
            "throw or leg."
        )
    distance = np.linspace(0.0, 1.0, NODES) * radius_m
    level = np.interp(distance, [*places[inside], radius_m], [*heights[inside], 0.0])
    return np.asarray(level, dtype=float)


def leg_closure(
    distance_m: ArrayLike, rate_mm_h: ArrayLike, radius_m: float, flow_l_s: float
) -> float:
    """Volume under a measured leg, turned round the head, over the flow; 1 would close.

    Args:
        distance_m, rate_mm_h, radius_m: as for `leg_profile`.
        flow_l_s: flow of the head while the leg was measured [L/s].

    Returns:
        Ratio; over 1 where the cans hold more than flowed. NaN for a flow of 0 or less.

    Raises:
        UserError: a leg that is none.
    """
    places, heights = _checked_leg(distance_m, rate_mm_h)
    level = _leg_heights(places, heights, radius_m)
    rings = np.linspace(0.0, radius_m, NODES)
    volume_l_s = _ring_volume(rings, level) / 3600.0  # mm/h on m² is L/h
    return volume_l_s / flow_l_s if flow_l_s > 0 else float("nan")
