"""Reference evapotranspiration itself: one equation, its constants, and Hargreaves' rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightwater.weather.air import Numbers, numbers

MM_PER_MJ_M2: Final = 0.408  # 1 / latent heat of 2.45 MJ/kg; FAO-56 equation 20


@dataclass(frozen=True)
class Surface:
    """Constants of the reference surface for one time step.

    Attributes:
        numerator: Cn [K mm s³ Mg⁻¹ per step].
        by_day, by_night: Cd [s/m]; night is where net radiation is below zero.
        ground_by_day, ground_by_night: ground heat flux as a share of net radiation.
    """

    numerator: float
    by_day: float
    by_night: float
    ground_by_day: float
    ground_by_night: float


# ASCE-EWRI 2005, table 1 and equations 65 and 66 (from memory, checked against the
# Fallon and Maricopa files); FAO-56 equations 6, 45, 46 and 53.
SHORT_DAY: Final = Surface(900, 0.34, 0.34, 0, 0)
TALL_DAY: Final = Surface(1600, 0.38, 0.38, 0, 0)
SHORT_HOUR: Final = Surface(37, 0.24, 0.96, 0.1, 0.5)
TALL_HOUR: Final = Surface(66, 0.25, 1.7, 0.04, 0.2)
FAO56_HOUR: Final = Surface(37, 0.34, 0.34, 0.1, 0.5)


def penman_monteith_mm(
    *,
    net_radiation: ArrayLike,
    ground_heat: ArrayLike,
    temperature_c: ArrayLike,
    wind_2_m_m_s: ArrayLike,
    deficit_kpa: ArrayLike,
    slope_kpa_c: ArrayLike,
    gamma_kpa_c: ArrayLike,
    numerator: ArrayLike,
    denominator: ArrayLike,
) -> Numbers:
    """Standardised Penman–Monteith equation for one step.

    Args:
        net_radiation, ground_heat: Rn and G [MJ m⁻² per step].
        temperature_c: mean air temperature [°C].
        wind_2_m_m_s: wind at 2 m [m/s].
        deficit_kpa: es − ea [kPa].
        slope_kpa_c, gamma_kpa_c: Δ and γ [kPa/°C].
        numerator, denominator: Cn and Cd of the surface. All broadcast.

    Returns:
        Reference ET [mm per step], in the broadcast shape; negative where dew forms.
        NaN in, NaN out.

    Reference: ASCE equation 1; with Cn 900 and Cd 0.34 it is FAO-56 equation 6.
    """
    slope, gamma, wind = numbers(slope_kpa_c), numbers(gamma_kpa_c), numbers(wind_2_m_m_s)
    energy = MM_PER_MJ_M2 * slope * (numbers(net_radiation) - numbers(ground_heat))
    air = gamma * numbers(numerator) / (numbers(temperature_c) + 273)
    below = slope + gamma * (1 + numbers(denominator) * wind)
    return (energy + air * wind * numbers(deficit_kpa)) / below


def surface_et_mm(
    surface: Surface,
    *,
    net_radiation: ArrayLike,
    temperature_c: ArrayLike,
    wind_2_m_m_s: ArrayLike,
    deficit_kpa: ArrayLike,
    slope_kpa_c: ArrayLike,
    gamma_kpa_c: ArrayLike,
) -> Numbers:
    """Penman–Monteith with a surface's constants, by day or night of each step.

    Args and returns as `penman_monteith_mm`; night is where `net_radiation` is below
    zero (ASCE-EWRI 2005, page 44).
    """
    net = numbers(net_radiation)
    night = net < 0
    denominator = np.where(night, surface.by_night, surface.by_day)
    ground = net * np.where(night, surface.ground_by_night, surface.ground_by_day)
    return penman_monteith_mm(
        net_radiation=net,
        ground_heat=ground,
        temperature_c=temperature_c,
        wind_2_m_m_s=wind_2_m_m_s,
        deficit_kpa=deficit_kpa,
        slope_kpa_c=slope_kpa_c,
        gamma_kpa_c=gamma_kpa_c,
        numerator=surface.numerator,
        denominator=denominator,
    )


def hargreaves_mm(tmax_c: ArrayLike, tmin_c: ArrayLike, extraterrestrial: ArrayLike) -> Numbers:
    """Reference ET of a day from temperatures alone, for comparison.

    Args:
        tmax_c, tmin_c: extremes of air temperature [°C].
        extraterrestrial: radiation on top of the atmosphere [MJ m⁻² d⁻¹]. All broadcast.

    Returns:
        ETo [mm/d], in the broadcast shape. NaN in, NaN out; tmax below tmin gives NaN.

    Reference: FAO-56 equation 52.
    """
    highest, lowest = numbers(tmax_c), numbers(tmin_c)
    spread = np.where(highest >= lowest, highest - lowest, np.nan)
    evaporable_mm = MM_PER_MJ_M2 * numbers(extraterrestrial)
    return 0.0023 * ((highest + lowest) / 2 + 17.8) * np.sqrt(spread) * evaporable_mm
