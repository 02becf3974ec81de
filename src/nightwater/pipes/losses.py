"""Head loss, velocity, surge and filling of pipes."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.units import KPA_PER_M_WATER

FLOW_POWER: Final = 1.852
DIAMETER_POWER: Final = 4.8704
# h [m] = 10.667 L Q^1.852 / (C^1.852 d^4.8704), Q in m³/s, d and L in m: the SI form of EPANET 2.2.
HAZEN_WILLIAMS: Final = 10.667
USUAL_C: Final = 140.0
_L_PER_M3: Final = 1000.0
_MM_PER_M: Final = 1000.0
_GRAVITY_M_S2: Final = 9.80665

Numbers = NDArray[np.float64]


def _floats(*values: ArrayLike) -> list[Numbers]:
    arrays = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in values))
    return [np.asarray(array) for array in arrays]


def bore_m2(diameter_mm: ArrayLike) -> Numbers:
    """Cross-section of a pipe of this inside diameter [m²]; zero or less gives NaN."""
    diameter = np.asarray(diameter_mm, dtype=float)
    area = np.pi / 4 * (diameter / _MM_PER_M) ** 2
    return np.where(diameter > 0, area, np.nan)


def velocity_m_s(flow_l_s: ArrayLike, diameter_mm: ArrayLike) -> Numbers:
    """Mean velocity of a flow in a pipe.

    Args:
        flow_l_s: flow [L/s], any shape; its sign is kept.
        diameter_mm: inside diameter [mm]. The two broadcast.

    Returns:
        Velocity [m/s]. NaN in, NaN out; a diameter of zero or less gives NaN.

    Reference: continuity. In US units v(ft/s) = 0.4085 · gpm / d²(in).
    """
    flow, diameter = _floats(flow_l_s, diameter_mm)
    return flow / _L_PER_M3 / bore_m2(diameter)


def flow_at_velocity_l_s(velocity: ArrayLike, diameter_mm: ArrayLike) -> Numbers:
    """Flow that a pipe carries at a velocity [m/s]; the inverse of `velocity_m_s`."""
    speed, diameter = _floats(velocity, diameter_mm)
    return speed * bore_m2(diameter) * _L_PER_M3


def resistance(length_m: ArrayLike, diameter_mm: ArrayLike, roughness_c: ArrayLike) -> Numbers:
    """r of h = r · Q^1.852, h in m and Q in m³/s, by Hazen–Williams.

    Args:
        length_m: length [m], any shape.
        diameter_mm: inside diameter [mm].
        roughness_c: Hazen–Williams coefficient. All broadcast.

    Returns:
        Resistance. NaN in, NaN out; a diameter or coefficient of zero or less gives NaN.

    Reference: EPANET 2.2 User Manual, table 3.1 (Hazen–Williams), in SI.
    """
    length, diameter, roughness = _floats(length_m, diameter_mm, roughness_c)
    sound = (diameter > 0) & (roughness > 0) & (length >= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        easy = roughness**FLOW_POWER * (diameter / _MM_PER_M) ** DIAMETER_POWER
        value = HAZEN_WILLIAMS * length / easy
    return np.where(sound, value, np.nan)


def hazen_williams_loss_m(
    flow_l_s: ArrayLike, length_m: ArrayLike, diameter_mm: ArrayLike, roughness_c: ArrayLike
) -> Numbers:
    """Friction loss of a pipe, with the sign of its flow.

    Args:
        flow_l_s: flow [L/s], any shape.
        length_m, diameter_mm, roughness_c: see `resistance`. All broadcast.

    Returns:
        Loss [m of water]. NaN in, NaN out.

    Reference: EPANET 2.2 User Manual, table 3.1. In US units psi per 100 ft is
    452 Q^1.852 / (C^1.852 d^4.8704).
    """
    flow = np.asarray(flow_l_s, dtype=float) / _L_PER_M3
    return (
        resistance(length_m, diameter_mm, roughness_c) * np.sign(flow) * np.abs(flow) ** FLOW_POWER
    )


def christiansen_factor(outlets: ArrayLike, power: float = FLOW_POWER) -> Numbers:
    """Loss of a lateral with equal outlets over that of a plain pipe with the same inflow.

    Args:
        outlets: number of outlets, one spacing from the inlet, any shape.
        power: exponent of flow in the loss formula.

    Returns:
        F = 1/(m+1) + 1/(2N) + √(m−1)/(6N²). NaN in, NaN out; less than one outlet gives NaN.

    Reference: Christiansen 1942, California Agric. Exp. Station Bulletin 670.
    """
    count = np.asarray(outlets, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = 1 / (power + 1) + 1 / (2 * count) + np.sqrt(power - 1) / (6 * count**2)
    return np.where(count >= 1, factor, np.nan)


def surge_kpa(velocity: ArrayLike, wave_m_s: ArrayLike) -> Numbers:
    """Pressure rise of a sudden stop, Joukowsky's ρ a Δv.

    Args:
        velocity: velocity that is stopped [m/s], any shape.
        wave_m_s: speed of the pressure wave in the pipe [m/s]. The two broadcast.

    Returns:
        Rise [kPa] for water. NaN in, NaN out.

    Reference: Joukowsky 1898. It is an estimate of the worst case; slow closing makes less.
    """
    speed, wave = _floats(velocity, wave_m_s)
    return speed * wave / _GRAVITY_M_S2 * KPA_PER_M_WATER


def fill_time_min(volume_m3: ArrayLike, flow_l_s: ArrayLike) -> Numbers:
    """Minutes to fill a volume at a flow; a flow of zero or less gives NaN."""
    volume, flow = _floats(volume_m3, flow_l_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        minutes = volume * _L_PER_M3 / flow / 60.0
    return np.where(flow > 0, minutes, np.nan)
