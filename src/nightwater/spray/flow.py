"""Flow and throw of heads from nozzle and pressure."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.ground.nozzle_performance import FLOW_EXPONENT


def flow_at_pressure_l_s(
    reference_flow_l_s: ArrayLike,
    reference_kpa: ArrayLike,
    pressure_kpa: ArrayLike,
    exponent: ArrayLike = FLOW_EXPONENT,
) -> NDArray[np.float64]:
    """Flow of a nozzle away from its reference pressure, q = q_ref · (p / p_ref)^x.

    Args:
        reference_flow_l_s: flow at the reference pressure [L/s], any shape.
        reference_kpa: reference pressure [kPa].
        pressure_kpa: pressure at the nozzle [kPa].
        exponent: x; 0.5 for an orifice, less for some measured sprinklers. All broadcast.

    Returns:
        Flow [L/s]. NaN in, NaN out; a reference pressure of zero or less, or a negative
        pressure, gives NaN.

    Reference: orifice equation; a measured sprinkler with x = 0.415 is among the tests' data.
    """
    flow, reference, pressure, power = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=float)
            for value in (reference_flow_l_s, reference_kpa, pressure_kpa, exponent)
        )
    )
    # 1 to the power NaN is 1, so a missing exponent must be told apart.
    sound = (reference > 0) & (pressure >= 0) & (flow >= 0) & ~np.isnan(power)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(sound, pressure / reference, np.nan)
    return np.where(sound, flow * ratio**power, np.nan)


def orifice_flow_l_s(
    bore_mm: ArrayLike, pressure_kpa: ArrayLike, coefficient: ArrayLike = 1.0
) -> NDArray[np.float64]:
    """Flow through a round nozzle of known bore, q = C · π/4 · d² · √(2 p / ρ).

    A check on nozzles without a catalogue; water is taken as 1,000 kg/m³.

    Args:
        bore_mm: diameter of the bore [mm], any shape.
        pressure_kpa: pressure at the nozzle [kPa].
        coefficient: discharge coefficient C; 0.95 to 0.99 for a smooth taper. All broadcast.

    Returns:
        Flow [L/s]. NaN in, NaN out; a bore or coefficient of zero or less, or a negative
        pressure, gives NaN.

    Reference: Torricelli's law. In US units q = 29.82 C d² √p (gpm, in, psi); with the weight
    of water at 60 °F 29.84, as printed.
    """
    bore, pressure, share = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (bore_mm, pressure_kpa, coefficient))
    )
    sound = (bore > 0) & (share > 0) & (pressure >= 0)
    speed_m_s = np.sqrt(2.0 * np.where(sound, pressure, np.nan))
    return np.asarray(share * np.pi / 4.0 * bore**2 / 1000.0 * speed_m_s, dtype=float)


def _of_nozzle(heads: pd.DataFrame, nozzles: pd.DataFrame, column: str) -> NDArray[np.float64]:
    values = nozzles[column].reindex(heads["nozzle"].to_numpy())
    return values.to_numpy(dtype=float)


def head_radius_m(heads: pd.DataFrame, nozzles: pd.DataFrame) -> pd.Series[float]:
    """Throw of each head at its nozzle's reference pressure [m]; NaN without a nozzle."""
    return pd.Series(_of_nozzle(heads, nozzles, "radius_m"), index=heads.index, name="radius_m")
