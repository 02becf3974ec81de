"""Moist air: vapour pressure, air pressure and wind, after FAO-56 chapter 3.

"FAO-56" is FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), "ASCE" the ASCE
Standardized Reference Evapotranspiration Equation (ASCE-EWRI 2005). Everywhere: arrays
of any shape that broadcast, NaN in and NaN out.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers: TypeAlias = NDArray[np.float64]

WIND_PROFILE_LOWEST_M: Final = 0.1  # below it the logarithm of the profile has no meaning


def numbers(values: ArrayLike) -> Numbers:
    """Values as an array of floats; the input is never changed."""
    return np.asarray(values, dtype=float)


def saturation_vapour_pressure_kpa(temperature_c: ArrayLike) -> Numbers:
    """Vapour pressure of air that is saturated over water.

    Args:
        temperature_c: air temperature [°C], any shape.

    Returns:
        Pressure [kPa], same shape. NaN in, NaN out.

    Reference: FAO-56 equation 11; ASCE equation 7.
    """
    temperature = numbers(temperature_c)
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def dew_point_c(vapour_pressure_kpa: ArrayLike) -> Numbers:
    """Temperature at which air of this vapour pressure is saturated.

    Args:
        vapour_pressure_kpa: actual vapour pressure [kPa], any shape.

    Returns:
        Dew point [°C], same shape. NaN in, NaN out; zero or less gives NaN.

    Reference: the inverse of FAO-56 equation 11.
    """
    pressure = numbers(vapour_pressure_kpa)
    ratio = np.log(np.where(pressure > 0, pressure, np.nan) / 0.6108)
    return 237.3 * ratio / (17.27 - ratio)


def mean_saturation_vapour_pressure_kpa(tmax_c: ArrayLike, tmin_c: ArrayLike) -> Numbers:
    """Saturation vapour pressure of a day: mean of that at its two extremes.

    Args:
        tmax_c, tmin_c: highest and lowest air temperature [°C]; they broadcast.

    Returns:
        Pressure [kPa], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 12; ASCE equation 6.
    """
    highest = saturation_vapour_pressure_kpa(tmax_c)
    return (highest + saturation_vapour_pressure_kpa(tmin_c)) / 2


def vapour_pressure_slope_kpa_c(temperature_c: ArrayLike) -> Numbers:
    """Slope of the saturation vapour pressure curve.

    Args:
        temperature_c: air temperature [°C], any shape.

    Returns:
        Slope [kPa/°C], same shape. NaN in, NaN out.

    Reference: FAO-56 equation 13 (4098 · es / (T + 237.3)²); ASCE equation 5 rounds
    4098 · 0.6108 to 2503, which is a difference of 0.002 %.
    """
    temperature = numbers(temperature_c)
    return 4098 * saturation_vapour_pressure_kpa(temperature) / (temperature + 237.3) ** 2


def air_pressure_kpa(elevation_m: ArrayLike) -> Numbers:
    """Mean air pressure at a height above the sea, for a standard air of 20 °C.

    Args:
        elevation_m: height [m], any shape.

    Returns:
        Pressure [kPa], same shape. NaN in, NaN out.

    Reference: FAO-56 equation 7; ASCE equation 3.
    """
    return 101.3 * ((293 - 0.0065 * numbers(elevation_m)) / 293) ** 5.26


def psychrometric_constant_kpa_c(pressure_kpa: ArrayLike) -> Numbers:
    """Psychrometric constant of the Penman–Monteith equation.

    Args:
        pressure_kpa: air pressure [kPa], any shape.

    Returns:
        Constant [kPa/°C], same shape. NaN in, NaN out.

    Reference: FAO-56 equation 8; ASCE equation 4.
    """
    return 0.000665 * numbers(pressure_kpa)


def vapour_pressure_from_wet_bulb_kpa(
    dry_c: ArrayLike, wet_c: ArrayLike, pressure_kpa: ArrayLike
) -> Numbers:
    """Actual vapour pressure from a ventilated psychrometer (about 5 m/s).

    Args:
        dry_c, wet_c: dry and wet bulb temperature [°C].
        pressure_kpa: air pressure [kPa]. The three broadcast.

    Returns:
        Pressure [kPa], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equations 15 and 16, coefficient 0.000662.
    """
    dry, wet = numbers(dry_c), numbers(wet_c)
    return saturation_vapour_pressure_kpa(wet) - 0.000662 * numbers(pressure_kpa) * (dry - wet)


def vapour_pressure_from_humidity_kpa(
    tmax_c: ArrayLike, tmin_c: ArrayLike, rh_max_pct: ArrayLike, rh_min_pct: ArrayLike
) -> Numbers:
    """Actual vapour pressure of a day from its two extremes of relative humidity.

    The highest humidity is taken to fall on the lowest temperature and the other way round.

    Args:
        tmax_c, tmin_c: extremes of air temperature [°C].
        rh_max_pct, rh_min_pct: extremes of relative humidity [%]. The four broadcast.

    Returns:
        Pressure [kPa], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 17; ASCE equation 11.
    """
    night = saturation_vapour_pressure_kpa(tmin_c) * numbers(rh_max_pct)
    noon = saturation_vapour_pressure_kpa(tmax_c) * numbers(rh_min_pct)
    return (night + noon) / 200


def wind_at_2_m_m_s(wind_m_s: ArrayLike, height_m: ArrayLike) -> Numbers:
    """Wind at 2 m over clipped grass from wind measured at another height.

    Args:
        wind_m_s: mean wind [m/s].
        height_m: height of the sensor [m]. The two broadcast.

    Returns:
        Wind [m/s], in the broadcast shape. NaN in, NaN out; a height below 0.1 m or a
        negative wind has no meaning and gives NaN.

    Reference: FAO-56 equation 47; ASCE equation 33.
    """
    wind, height = np.broadcast_arrays(numbers(wind_m_s), numbers(height_m))
    known = (wind >= 0) & (height >= WIND_PROFILE_LOWEST_M)
    profile = np.log(67.8 * np.where(known, height, np.nan) - 5.42)
    return wind * 4.87 / profile
