"""Power and energy of pumping."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.units import KPA_PER_M_WATER, SECONDS_PER_HOUR

USUAL_PUMP_EFFICIENCY: Final = 0.75
USUAL_MOTOR_EFFICIENCY: Final = 0.92

Numbers = NDArray[np.float64]


def _share(efficiency: ArrayLike) -> Numbers:
    """An efficiency, NaN where it is none: not over 0 and up to 1."""
    value = np.asarray(efficiency, dtype=float)
    return np.where((value > 0) & (value <= 1), value, np.nan)


def water_power_kw(flow_l_s: ArrayLike, head_m: ArrayLike) -> Numbers:
    """Power that the water takes up, ρ g Q H.

    Args:
        flow_l_s: flow [L/s], any shape.
        head_m: total dynamic head [m]. The two broadcast.

    Returns:
        Power [kW]. NaN in, NaN out.

    Reference: hydraulics; in US units bhp = gpm · ft / (3960 · efficiency).
    """
    flow, head = np.asarray(flow_l_s, dtype=float), np.asarray(head_m, dtype=float)
    power: Numbers = flow * head * KPA_PER_M_WATER / 1000
    return power


def shaft_power_kw(flow_l_s: ArrayLike, head_m: ArrayLike, pump_efficiency: ArrayLike) -> Numbers:
    """Power at the pump's shaft [kW]; an efficiency outside 0 to 1 gives NaN.

    Args and reference: see `water_power_kw`.
    """
    return water_power_kw(flow_l_s, head_m) / _share(pump_efficiency)


def pump_energy_kwh(
    volume_m3: ArrayLike,
    head_m: ArrayLike,
    pump_efficiency: ArrayLike,
    motor_efficiency: ArrayLike,
) -> Numbers:
    """Energy drawn to lift a volume.

    Args:
        volume_m3: water [m³], any shape.
        head_m: total dynamic head [m].
        pump_efficiency: water power over shaft power, 0 to 1.
        motor_efficiency: shaft power over power drawn, 0 to 1. All broadcast.

    Returns:
        Energy [kWh]. NaN in, NaN out; an efficiency outside 0 to 1 gives NaN.

    Reference: ρ g V H over the efficiencies.
    """
    volume, head = np.asarray(volume_m3, dtype=float), np.asarray(head_m, dtype=float)
    lifted_kj = volume * head * KPA_PER_M_WATER
    drawn: Numbers = lifted_kj / _share(pump_efficiency) / _share(motor_efficiency)
    return drawn / SECONDS_PER_HOUR


def power_per_flow_kw_s_l(pumps: pd.DataFrame) -> float:
    """Power that a litre a second draws, at the pumps' stated head and efficiencies.

    Args:
        pumps: rows with capacity_l_s, head_m (else set_pressure_kpa as a height), and
            efficiencies, the usual ones where they are not stated.

    Returns:
        Mean over the pumps by capacity [kW per L/s]; NaN where a pump states neither head nor
        set pressure.

    Reference: ρ g H over the efficiencies.
    """
    head = pumps["head_m"].fillna(pumps["set_pressure_kpa"] / KPA_PER_M_WATER)
    efficiency = pumps["pump_efficiency"].fillna(USUAL_PUMP_EFFICIENCY)
    motor = pumps["motor_efficiency"].fillna(USUAL_MOTOR_EFFICIENCY)
    each = shaft_power_kw(1.0, head, efficiency) / _share(motor)
    return float(np.average(each, weights=pumps["capacity_l_s"]))
