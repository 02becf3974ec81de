"""Energy of a night: metered where it was, else estimated from lift and efficiency."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.pipes.energy import (
    USUAL_MOTOR_EFFICIENCY,
    USUAL_PUMP_EFFICIENCY,
    pump_energy_kwh,
    shaft_power_kw,
)
from nightwater.units import KPA_PER_M_WATER


@dataclass(frozen=True)
class Lift:
    """What the pumps of the record do, as means weighed by their capacity.

    Attributes:
        head_m: total dynamic head, else the set pressure as a head; NaN without either.
        pump_efficiency, motor_efficiency: 0.75 and 0.92 where none is stated.
    """

    head_m: float
    pump_efficiency: float
    motor_efficiency: float


def _mean(values: pd.Series[float], weights: pd.Series[float]) -> float:
    known = values.notna() & weights.notna()
    total = float(weights[known].sum())
    return float((values * weights)[known].sum()) / total if total > 0 else math.nan


def lift_of(pumps: pd.DataFrame) -> Lift:
    """The pumps' lift and efficiencies; a pump without its head counts by its pressure."""
    capacity = pumps["capacity_l_s"]
    head = pumps["head_m"].fillna(pumps["set_pressure_kpa"] / KPA_PER_M_WATER)
    return Lift(
        _mean(head, capacity),
        _mean(pumps["pump_efficiency"].fillna(USUAL_PUMP_EFFICIENCY), capacity),
        _mean(pumps["motor_efficiency"].fillna(USUAL_MOTOR_EFFICIENCY), capacity),
    )


def estimated_energy_kwh(volume_m3: float, lift: Lift) -> float:
    """Energy to lift a volume [kWh]; NaN where the lift is not known.

    Reference: ρ g V H over the efficiencies; 292 ft, 0.78 and 0.93 give 1.26 kWh per
    1,000 US gallons.
    """
    energy = pump_energy_kwh(volume_m3, lift.head_m, lift.pump_efficiency, lift.motor_efficiency)
    return float(np.asarray(energy))


def power_series_kw(
    flow_l_s: ArrayLike, lift: Lift, head_m: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Power drawn in each minute: water power over the pumps' and the motors' efficiency.

    Args:
        flow_l_s: flow of all pumps [L/s], shape (minutes,).
        lift: head and efficiencies of the record.
        head_m: total dynamic head in each minute where it was solved [m]; the record's where None.

    Returns:
        Power [kW]; NaN where flow runs and the head is not known, 0 where nothing flows.
    """
    flow = np.asarray(flow_l_s, dtype=float)
    head = np.broadcast_to(np.asarray(lift.head_m if head_m is None else head_m), flow.shape)
    drawn = shaft_power_kw(flow, head, lift.pump_efficiency) / lift.motor_efficiency
    return np.where(flow > 0, drawn, np.where(flow == 0, 0.0, np.nan))
