"""Radiation from sun, sky and ground, after FAO-56 chapter 3 and ASCE-EWRI 2005.

Everywhere: arrays of any shape that broadcast, NaN in and NaN out. Latitude and
longitude are degrees, north and east positive. `day_of_year` is 1 on 1 January.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from nightwater.weather.air import Numbers, numbers

SOLAR_CONSTANT_MJ_M2_H: Final = 4.92  # 0.0820 MJ m⁻² min⁻¹
BOLTZMANN_MJ_K4_M2_DAY: Final = 4.901e-9  # ASCE; FAO-56 prints 4.903e-9
BOLTZMANN_MJ_K4_M2_H: Final = 2.042e-10  # ASCE; FAO-56 prints 2.043e-10
ALBEDO: Final = 0.23  # of the reference grass
INTERIOR_ADJUSTMENT: Final = 0.16  # k_Rs of FAO-56 equation 50, away from the coast
COASTAL_ADJUSTMENT: Final = 0.19
LEAST_CLEARNESS: Final = 0.3  # ASCE holds Rs/Rso between 0.3 and 1 in the cloud term
LOW_SUN_RAD: Final = 0.3  # below it Rs/Rso says nothing of clouds (ASCE, hourly)


def _year_angle(day_of_year: ArrayLike) -> Numbers:
    return 2 * np.pi * numbers(day_of_year) / 365


def declination_rad(day_of_year: ArrayLike) -> Numbers:
    """Declination of the sun [rad], same shape as the day of the year.

    Reference: FAO-56 equation 24; ASCE equation 24.
    """
    return 0.409 * np.sin(_year_angle(day_of_year) - 1.39)


def sun_nearness(day_of_year: ArrayLike) -> Numbers:
    """Inverse relative distance earth to sun, squared, same shape as the day of the year.

    Reference: FAO-56 equation 23; ASCE equation 23.
    """
    return 1 + 0.033 * np.cos(_year_angle(day_of_year))


def sunset_angle_rad(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> Numbers:
    """Hour angle of sunset [rad] in the broadcast shape: 0 in polar night, π in polar day.

    Reference: FAO-56 equation 25; ASCE equation 27.
    """
    tangents = np.tan(np.radians(numbers(latitude_deg))) * np.tan(declination_rad(day_of_year))
    return numbers(np.arccos(np.clip(-tangents, -1, 1)))


def daylight_hours(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> Numbers:
    """Longest possible sunshine of a day [h], in the broadcast shape.

    Reference: FAO-56 equation 34.
    """
    return 24 / np.pi * sunset_angle_rad(latitude_deg, day_of_year)


def extraterrestrial_mj_m2(latitude_deg: ArrayLike, day_of_year: ArrayLike) -> Numbers:
    """Solar radiation of a whole day on top of the atmosphere.

    Args:
        latitude_deg: north positive [°].
        day_of_year: 1 … 366. The two broadcast.

    Returns:
        Radiation [MJ m⁻² d⁻¹], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 21; ASCE equation 21.
    """
    latitude, sunset = (
        np.radians(numbers(latitude_deg)),
        sunset_angle_rad(latitude_deg, day_of_year),
    )
    declination = declination_rad(day_of_year)
    height = sunset * np.sin(latitude) * np.sin(declination)
    height = height + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return numbers(24 / np.pi * SOLAR_CONSTANT_MJ_M2_H * sun_nearness(day_of_year) * height)


def equation_of_time_h(day_of_year: ArrayLike) -> Numbers:
    """Seasonal correction of solar time [h], same shape as the day of the year.

    Reference: FAO-56 equations 32 and 33; ASCE equations 57 and 58.
    """
    angle = 2 * np.pi * (numbers(day_of_year) - 81) / 364
    return 0.1645 * np.sin(2 * angle) - 0.1255 * np.cos(angle) - 0.025 * np.sin(angle)


def hour_angle_rad(
    utc_hour: ArrayLike, longitude_deg: ArrayLike, day_of_year: ArrayLike
) -> Numbers:
    """Hour angle of the sun, 0 at solar noon.

    Args:
        utc_hour: hour of the UTC day with its fraction.
        longitude_deg: east positive [°].
        day_of_year: of the place's own (solar) date. The three broadcast.

    Returns:
        Angle [rad] from -π to π, in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 31; ASCE equation 55, with longitudes counted from Greenwich.
    """
    solar = numbers(utc_hour) + numbers(longitude_deg) / 15 + equation_of_time_h(day_of_year)
    return numbers((np.pi / 12 * (solar - 12) + np.pi) % (2 * np.pi) - np.pi)


def sun_height_rad(
    latitude_deg: ArrayLike, hour_angle: ArrayLike, day_of_year: ArrayLike
) -> Numbers:
    """Angle of the sun above the horizon [rad], in the broadcast shape.

    Reference: ASCE equation 62.
    """
    latitude, declination = np.radians(numbers(latitude_deg)), declination_rad(day_of_year)
    across = np.cos(latitude) * np.cos(declination) * np.cos(numbers(hour_angle))
    height = np.sin(latitude) * np.sin(declination) + across
    return numbers(np.arcsin(np.clip(height, -1, 1)))


def extraterrestrial_hour_mj_m2(
    latitude_deg: ArrayLike, middle_angle_rad: ArrayLike, day_of_year: ArrayLike
) -> Numbers:
    """Solar radiation of one hour on top of the atmosphere.

    The hour is cut at sunrise and sunset.

    Args:
        latitude_deg: north positive [°].
        middle_angle_rad: hour angle of the sun at the middle of the hour [rad].
        day_of_year: 1 … 366. The three broadcast.

    Returns:
        Radiation [MJ m⁻² h⁻¹], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equations 28 to 30; ASCE equations 48, 53, 54 and 56.
    """
    latitude, declination = np.radians(numbers(latitude_deg)), declination_rad(day_of_year)
    sunset = sunset_angle_rad(latitude_deg, day_of_year)
    start = np.clip(numbers(middle_angle_rad) - np.pi / 24, -sunset, sunset)
    end = np.clip(numbers(middle_angle_rad) + np.pi / 24, -sunset, sunset)
    height = (end - start) * np.sin(latitude) * np.sin(declination)
    height = height + np.cos(latitude) * np.cos(declination) * (np.sin(end) - np.sin(start))
    return numbers(12 / np.pi * SOLAR_CONSTANT_MJ_M2_H * sun_nearness(day_of_year) * height)


def clear_sky_mj_m2(extraterrestrial: ArrayLike, elevation_m: ArrayLike) -> Numbers:
    """Solar radiation under a clear sky, by the simple rule.

    Args:
        extraterrestrial: radiation on top of the atmosphere [MJ m⁻² in any time].
        elevation_m: height above the sea [m], not feet. The two broadcast.

    Returns:
        Radiation [MJ m⁻² in the same time], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 37; ASCE equation 19.
    """
    return (0.75 + 2e-5 * numbers(elevation_m)) * numbers(extraterrestrial)


def radiation_from_sunshine_mj_m2(
    extraterrestrial: ArrayLike, sunshine_h: ArrayLike, longest_h: ArrayLike
) -> Numbers:
    """Solar radiation of a day from its hours of sunshine (Ångström).

    Args:
        extraterrestrial: radiation on top of the atmosphere [MJ m⁻² d⁻¹].
        sunshine_h: observed sunshine [h].
        longest_h: longest possible sunshine [h]. The three broadcast.

    Returns:
        Radiation [MJ m⁻² d⁻¹], in the broadcast shape. NaN in, NaN out; where the sun
        does not rise, NaN.

    Reference: FAO-56 equation 35 with a = 0.25 and b = 0.50.
    """
    longest = numbers(longest_h)
    share = numbers(sunshine_h) / np.where(longest > 0, longest, np.nan)
    return (0.25 + 0.50 * share) * numbers(extraterrestrial)


def radiation_from_range_mj_m2(
    extraterrestrial: ArrayLike,
    range_c: ArrayLike,
    clear_sky: ArrayLike,
    adjustment: float = INTERIOR_ADJUSTMENT,
) -> Numbers:
    """Solar radiation from the day's temperature range (Hargreaves and Samani).

    Args:
        extraterrestrial: radiation on top of the atmosphere [MJ m⁻² in any time].
        range_c: highest less lowest air temperature of the day [°C].
        clear_sky: radiation under a clear sky [same unit], which it never exceeds.
        adjustment: 0.16 inland, 0.19 on a coast [°C^-0.5].

    Returns:
        Radiation [same unit], in the broadcast shape. NaN in, NaN out; a negative range
        has no meaning and gives NaN.

    Reference: FAO-56 equation 50.
    """
    spread = numbers(range_c)
    root = np.sqrt(np.where(spread >= 0, spread, np.nan))
    return np.minimum(adjustment * root * numbers(extraterrestrial), numbers(clear_sky))


def cloudiness(solar: ArrayLike, clear_sky: ArrayLike, least: float = LEAST_CLEARNESS) -> Numbers:
    """The cloud factor of the long-wave loss: 1 under a clear sky.

    Args:
        solar, clear_sky: measured and clear-sky radiation in one unit; they broadcast.
        least: least ratio of the two that is used (ASCE 0.3; 0 for FAO-56).

    Returns:
        1.35 · Rs/Rso − 0.35, in the broadcast shape, with Rs/Rso held between `least`
        and 1. NaN in, NaN out; without sun, NaN.

    Reference: ASCE equations 18 and 45; the term in FAO-56 equation 39.
    """
    clear = numbers(clear_sky)
    ratio = numbers(solar) / np.where(clear > 0, clear, np.nan)
    return 1.35 * np.clip(ratio, least, 1.0) - 0.35


def _net_emissivity(vapour_pressure_kpa: ArrayLike) -> Numbers:
    return 0.34 - 0.14 * np.sqrt(numbers(vapour_pressure_kpa))


def net_long_wave_mj_m2(
    tmax_c: ArrayLike, tmin_c: ArrayLike, vapour_pressure_kpa: ArrayLike, cloud_factor: ArrayLike
) -> Numbers:
    """Net outgoing long-wave radiation of a day.

    Args:
        tmax_c, tmin_c: extremes of air temperature [°C].
        vapour_pressure_kpa: actual vapour pressure [kPa].
        cloud_factor: from `cloudiness`. All broadcast.

    Returns:
        Radiation [MJ m⁻² d⁻¹], positive upwards, in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equation 39; ASCE equation 17.
    """
    warmth = ((numbers(tmax_c) + 273.16) ** 4 + (numbers(tmin_c) + 273.16) ** 4) / 2
    loss = BOLTZMANN_MJ_K4_M2_DAY * warmth * numbers(cloud_factor)
    return loss * _net_emissivity(vapour_pressure_kpa)


def net_long_wave_hour_mj_m2(
    temperature_c: ArrayLike, vapour_pressure_kpa: ArrayLike, cloud_factor: ArrayLike
) -> Numbers:
    """Net outgoing long-wave radiation of an hour [MJ m⁻² h⁻¹]; rules as for the day.

    Reference: ASCE equation 44.
    """
    warmth = BOLTZMANN_MJ_K4_M2_H * (numbers(temperature_c) + 273.16) ** 4
    return warmth * numbers(cloud_factor) * _net_emissivity(vapour_pressure_kpa)


def net_radiation_mj_m2(solar: ArrayLike, net_long_wave: ArrayLike) -> Numbers:
    """What the reference surface keeps: solar less reflected (23 %) less long-wave loss.

    Args:
        solar: incoming radiation [MJ m⁻² in any time].
        net_long_wave: outgoing, same time. The two broadcast.

    Returns:
        Radiation [same unit], in the broadcast shape. NaN in, NaN out.

    Reference: FAO-56 equations 38 and 40; ASCE equations 15 and 16.
    """
    return (1 - ALBEDO) * numbers(solar) - numbers(net_long_wave)
