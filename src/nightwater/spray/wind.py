"""How wind drifts and stretches the pattern of a head: where each drop lands instead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, LinearNDInterpolator

from nightwater.findings import Finding, UserError, warning
from nightwater.spray.droplets import (
    GREATEST_DROP_MM,
    LEAST_DROP_MM,
    Start,
    jet_speed_m_s,
    landings,
)
from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.patches import Bend, Singles, longest_throw_m

GREATEST_WIND_M_S: Final = 8.0  # beyond it no trial of the model is known to us (from memory)
LEAST_GAUGE_M: Final = 0.5
_THROW_BEYOND: Final = 1.15  # throw over the greatest drop's reach that is told; our choice
_PRESSURE_STEP_KPA: Final = 25.0  # heads within it share one table
_THROW_STEP_M: Final = 5.0  # likewise
_LEAST_HEIGHT_M: Final = 0.01
_LATTICE_M: Final = 0.5
_DROPS, _TURNS = 24, 13

Numbers = NDArray[np.float64]
Places = NDArray[np.int64]


@dataclass(frozen=True)
class Wind:
    """Steady wind while heads run.

    Attributes:
        speed_m_s: at the gauge.
        from_deg: where it comes from, clockwise from north.
        height_m: height of the gauge over the turf.
    """

    speed_m_s: float
    from_deg: float
    height_m: float = 2.0

    def __post_init__(self) -> None:
        """Refuse what is no wind.

        Raises:
            UserError: a negative or missing speed, no direction, a gauge near the ground.
        """
        numbers = (self.speed_m_s, self.from_deg, self.height_m)
        if not np.isfinite(numbers).all() or self.speed_m_s < 0:
            raise UserError("A wind needs a speed of 0 or more, a direction and a gauge height.")
        if self.height_m < LEAST_GAUGE_M:
            raise UserError(
                f"A wind measured {self.height_m:g} m over the ground tells too little of the "
                f"wind above it; give one from {LEAST_GAUGE_M:g} m or higher."
            )

    @property
    def key(self) -> str:
        """Equal for winds that drift water alike."""
        blows = self.speed_m_s > 0
        return f"{self.speed_m_s} {self.from_deg % 360.0} {self.height_m}" if blows else ""


@dataclass(frozen=True)
class Drift:
    """From where, in still air, the water of each place comes; a table for every kind of head.

    The tables lie on lattices of half a metre around the head, x along the wind, y to its right;
    only y ≥ 0 is held, the other half being its mirror image.

    Attributes:
        table: rows of still-air x [m], still-air y [m] and how many m² of still-air ground a m²
            here stands for; float32, all kinds one after the other, y by y.
        first, width, height: of each kind, its first row, places along x and along y.
        west_m: x of each kind's first place.
        shift_m: greatest displacement of each kind.
        kind: of each head.
        to_deg: where the wind blows to.
    """

    table: Singles
    first: Places
    width: Places
    height: Places
    west_m: Numbers
    shift_m: Numbers
    kind: Places
    to_deg: float

    def margins(self, cell_m: float) -> Places:
        """Cells by which the square of each head grows."""
        cells: Places = np.ceil(self.shift_m[self.kind] / cell_m).astype(np.int64) + 1
        return cells

    def bend(self, heads: Places) -> Bend:
        """What turns places around some heads into those where their water falls in still air."""
        to, kind = np.radians(self.to_deg), self.kind[heads][:, None, None]
        sine, cosine = np.float32(np.sin(to)), np.float32(np.cos(to))

        def bent(east: Singles, north: Singles) -> tuple[Singles, Singles, Singles]:
            along, right = east * sine + north * cosine, east * cosine - north * sine
            x, y, thinned = self._looked_up(kind, along, np.abs(right))
            y *= np.sign(right)
            return x * sine + y * cosine, x * cosine - y * sine, thinned

        return bent

    def _looked_up(self, kind: Places, along: Singles, right: Singles) -> Any:
        """Rows of the table, straight between its places; off the lattice its dry rim."""
        width, height = self.width[kind], self.height[kind]
        x = np.clip((along - self.west_m[kind]) / _LATTICE_M, 0, width - 1.001)
        y = np.clip(right / _LATTICE_M, 0, height - 1.001)
        left, low = x.astype(np.int32), y.astype(np.int32)
        x, y = (x - left).astype(np.float32), (y - low).astype(np.float32)
        place = self.first[kind] + low * width + left
        above = place + width
        parts = []
        for part in np.ascontiguousarray(self.table.T):
            near = part[place] + x * (part[place + 1] - part[place])
            far = part[above] + x * (part[above + 1] - part[above])
            parts.append(near + y * (far - near))
        return parts


def _kinds(patterns: HeadPatterns) -> tuple[Numbers, Places]:
    """Pressure, trajectory, height and longest throw of kinds of jets; the kind of each head."""
    steps = np.maximum(np.round(patterns.pressure_kpa / _PRESSURE_STEP_KPA), 1.0)
    throw = np.ceil(longest_throw_m(patterns) / _THROW_STEP_M) * _THROW_STEP_M
    jets = np.column_stack(
        [
            steps * _PRESSURE_STEP_KPA,
            patterns.trajectory_deg,
            np.maximum(patterns.height_m, _LEAST_HEIGHT_M),
            throw,
        ]
    )
    kinds, kind = np.unique(jets, axis=0, return_inverse=True)
    return kinds, kind.ravel()


def _flights(kinds: Numbers, wind: Wind) -> tuple[Numbers, Numbers]:
    """Still-air distance of every drop size, and its shift along and across the wind by turn.

    Returns:
        Shapes (kinds, drops) and (2, kinds, turns, drops).
    """
    diameter = np.geomspace(LEAST_DROP_MM, GREATEST_DROP_MM, _DROPS)
    turns = np.linspace(0.0, 180.0, _TURNS)[:, None]
    speed = jet_speed_m_s(kinds[:, 0])[:, None, None]
    trajectory, height = kinds[:, 1, None, None], kinds[:, 2, None, None]
    calm = landings(Start(diameter, speed, trajectory, height, 0.0))
    start = Start(diameter, speed, trajectory, height, turns)
    blown = landings(start, wind.speed_m_s, wind.height_m)
    still = np.maximum.accumulate(calm.downwind_m[:, 0], axis=1)
    angle = np.radians(turns)
    along = blown.downwind_m - still[:, None, :] * np.cos(angle)
    across = blown.across_m - still[:, None, :] * np.sin(angle)
    return still, np.stack([along, across])


def _spread(still: Numbers, shift: Numbers, throw_m: float) -> tuple[Numbers, Numbers]:
    """Places of rings and turns around a head, still and in the wind; shapes (n, 2) both."""
    radius = np.append(np.arange(0.0, throw_m + 3.0, _LATTICE_M), throw_m + 3.0)
    turns = np.radians(np.linspace(0.0, 180.0, 2 * _TURNS - 1))
    known = np.radians(np.linspace(0.0, 180.0, _TURNS))
    # All turns meet at the head itself, where the smallest drops have one mean shift.
    heart = np.broadcast_to(shift[:, :, :1].mean(axis=1, keepdims=True), (2, _TURNS, 1))
    by_drop = np.concatenate([heart, shift], axis=2)
    by_ring = np.stack(
        [
            [np.interp(radius, np.append(0.0, still), line) for line in side]
            for side in by_drop
        ]
    )  # fmt: skip
    fine = CubicSpline(known, by_ring, axis=1)(turns)
    x, y = np.cos(turns)[:, None] * radius, np.sin(turns)[:, None] * radius
    calm = np.stack([x, y], axis=-1)[:, 1:].reshape(-1, 2)
    calm = np.vstack([[0.0, 0.0], calm])
    moved = np.moveaxis(fine, 0, -1)
    moved = np.vstack([moved[0, 0], moved[:, 1:].reshape(-1, 2)]) + calm
    axis = calm[:, 1] < 1e-9
    moved[axis, 1] = calm[axis, 1] = 0.0
    return calm, moved


def _lattice(still: Numbers, shift: Numbers, throw_m: float) -> tuple[Numbers, float, float]:
    """One kind's table of shape (height, width, 3), its west edge and its greatest shift."""
    calm, moved = _spread(still, shift, throw_m)
    far = float(np.hypot(*(moved - calm).T).max())
    west = -np.ceil(throw_m + 2.0)
    x = np.arange(west, np.ceil(throw_m + far + 3.0) + _LATTICE_M, _LATTICE_M)
    y = np.arange(0.0, np.ceil(throw_m + 3.0) + _LATTICE_M, _LATTICE_M)
    places = np.stack(np.meshgrid(x, y), axis=-1)
    source = LinearNDInterpolator(moved, calm)(places.reshape(-1, 2)).reshape(places.shape)
    (x_y, x_x), (y_y, y_x) = (np.gradient(source[..., side], _LATTICE_M) for side in (0, 1))
    thinned = np.abs(x_x * y_y - x_y * y_x)
    dry = np.isnan(thinned)
    thinned[dry] = 0.0
    # Straight out, so that nothing between a wet place and a dry one comes from near the head.
    source[dry] = 3.0 * throw_m * places[dry] / np.hypot(*places[dry].T)[:, None]
    return np.dstack([source, thinned]), float(west), far


def drift(patterns: HeadPatterns, wind: Wind) -> Drift:
    """Tables of all kinds of heads in a wind.

    Every distance from the head is reached, in still air, by drops of one size; where those
    drops land in the wind is where the water of that distance goes. Nearer than the smallest
    drop flies (0.2 mm) and farther than the greatest does (7 mm), the shift is theirs.

    Args:
        patterns: the heads.
        wind: the wind.

    Reference: ballistic model after Fukui, Nakanishi and Okamura 1980 and Carrión et al. 2001;
    one drop size for each distance is its usual simplification.
    """
    kinds, kind = _kinds(patterns)
    still, shift = _flights(kinds, wind)
    made = [_lattice(still[k], shift[:, k], kinds[k, 3]) for k in range(len(kinds))]
    shapes = np.array([table.shape[:2] for table, _, _ in made], dtype=np.int64).reshape(-1, 2)
    sizes = shapes.prod(axis=1)
    return Drift(
        table=np.vstack([table.reshape(-1, 3) for table, _, _ in made]).astype(np.float32),
        first=np.cumsum(sizes) - sizes,
        width=shapes[:, 1],
        height=shapes[:, 0],
        west_m=np.array([west for _, west, _ in made]),
        shift_m=np.array([far for _, _, far in made]),
        kind=kind,
        to_deg=(wind.from_deg + 180.0) % 360.0,
    )


def wind_findings(patterns: HeadPatterns, wind: Wind) -> list[Finding]:
    """Doubts of a wind that the model was not made for, and of throws that it cannot explain.

    Args:
        patterns: the heads.
        wind: the wind.
    """
    doubts = []
    if wind.speed_m_s > GREATEST_WIND_M_S:
        doubts.append(
            warning(
                "wind-beyond-model",
                "spray:wind",
                f"A wind of {wind.speed_m_s:.1f} m/s is beyond the {GREATEST_WIND_M_S:g} m/s up "
                "to which the drift of drops was tried; the pattern was computed all the same.",
                "Do not rely on it. In such a wind, better do not water.",
            )
        )
    if not len(patterns) or wind.speed_m_s == 0:
        return doubts
    kinds, kind = _kinds(patterns)
    pressure, trajectory, height, _ = kinds.T
    start = Start(GREATEST_DROP_MM, jet_speed_m_s(pressure), trajectory, height, 0.0)
    reach = landings(start).downwind_m[kind]
    far = patterns.radius_m > _THROW_BEYOND * reach
    if far.any():
        worst = int(np.argmax(patterns.radius_m / reach))
        doubts.append(
            warning(
                "throw-beyond-drops",
                "spray:wind",
                f"{int(far.sum())} heads throw farther than drops of {GREATEST_DROP_MM:g} mm fly "
                f"from a nozzle at their pressure, head {patterns.ids[worst]} the most "
                f"({patterns.radius_m[worst]:.1f} m against {reach[worst]:.1f} m). There the "
                "drift is taken from those drops.",
                "Check their pressure, throw and trajectory.",
            )
        )
    return doubts
