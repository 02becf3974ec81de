"""Every head's pattern as arrays: place, flow, throw, sector, profile, lean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, note, warning
from nightwater.ground.nozzle_performance import FLOW_EXPONENT, flow_and_radius
from nightwater.ground.record import Ground
from nightwater.spray.flow import flow_at_pressure_l_s
from nightwater.spray.nozzle_tables import Nozzles, read_nozzles
from nightwater.spray.nozzle_tables import nozzle_profile as nozzle_profile
from nightwater.spray.profile import Profile
from nightwater.spray.rate import FULL_CIRCLE_DEG

DEFAULT_TRAJECTORY_DEG: Final = 25.0  # common practice for large rotors, no source
DEFAULT_HEIGHT_M: Final = 0.1  # a pop-up standing over the turf; common practice, no source

LEAST_JET_DEG: Final = 5.0  # a jet that leaning brings below or above is beyond the formula;
GREATEST_JET_DEG: Final = 80.0  # both ends are choices of ours
_BEYOND_TABLE: Final = 0.2  # share beyond the ends of a nozzle's table that is told; our choice

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class HeadPatterns:
    """What is needed to lay a head's water on the ground; arrays of one length, one per head.

    Attributes:
        ids: head ids.
        x_m, y_m: place in the record's system.
        flow_l_s, radius_m: at the pressure that the head has.
        arc_deg, bearing_deg: sector; bearing is 0 for a full circle.
        profile: place in `profiles`.
        pressure_kpa: pressure at the nozzle.
        trajectory_deg, height_m: of the nozzle's jet.
        tilt_deg, tilt_towards_deg: lean of the head; 0 for upright.
        profiles: the profiles in use.
    """

    ids: NDArray[Any]
    x_m: Numbers
    y_m: Numbers
    flow_l_s: Numbers
    radius_m: Numbers
    arc_deg: Numbers
    bearing_deg: Numbers
    profile: NDArray[np.int64]
    pressure_kpa: Numbers
    trajectory_deg: Numbers
    height_m: Numbers
    tilt_deg: Numbers
    tilt_towards_deg: Numbers
    profiles: tuple[Profile, ...]

    def __len__(self) -> int:
        return len(self.ids)


ARRAYS: Final = (
    "x_m", "y_m", "flow_l_s", "radius_m", "arc_deg", "bearing_deg", "profile", "pressure_kpa",
    "trajectory_deg", "height_m", "tilt_deg", "tilt_towards_deg",
)  # fmt: skip


def _flows_and_throws(
    heads: pd.DataFrame, read: Nozzles, pressure: Numbers
) -> tuple[Numbers, Numbers]:
    flow, radius = np.full(len(heads), np.nan), np.full(len(heads), np.nan)
    names = heads["nozzle"].to_numpy(dtype=object)
    for nozzle, points in read.points.items():
        mine = names == nozzle
        exponent = float(read.rows["flow_exponent"].get(nozzle, np.nan))
        power = FLOW_EXPONENT if np.isnan(exponent) else exponent
        flow[mine], radius[mine] = flow_and_radius(points, pressure[mine], power)
    return flow, radius


def _or_else(values: pd.Series[Any], usual: float) -> Numbers:
    return np.asarray(values.astype(float).fillna(usual), dtype=float)


def _measured_or(heads: pd.DataFrame, column: str, computed: Numbers) -> Numbers:
    measured = heads[column].to_numpy(dtype=float)
    return np.where(np.isnan(measured), computed, measured)


def _nozzle_values(heads: pd.DataFrame, nozzles: pd.DataFrame, column: str) -> pd.Series[Any]:
    return nozzles[column].reindex(heads["nozzle"].to_numpy())


def _left_out(heads: pd.DataFrame, why: NDArray[Any]) -> list[Finding]:
    return [
        warning(
            "pattern-not-known",
            f"heads:{head}",
            f"Head {head} {reason}, so nothing tells where its water lands.",
            "Enter it in the record; until then maps and minutes leave the head out.",
        )
        for head, reason in zip(heads.index, why, strict=True)
        if reason
    ]


def tilt_is_modelled(trajectory_deg: Any, tilt_deg: Any) -> NDArray[np.bool_]:
    """Whether the pattern of a leaning head can be computed.

    The jet must leave at 5° to 80° on every side.

    Args:
        trajectory_deg: of the nozzle, over level ground [degrees], any shape.
        tilt_deg: lean of the head [degrees]. The two broadcast.
    """
    trajectory, tilt = np.broadcast_arrays(trajectory_deg, tilt_deg)
    lowest, highest = trajectory - tilt, trajectory + tilt
    return np.asarray((tilt <= 0) | ((lowest >= LEAST_JET_DEG) & (highest <= GREATEST_JET_DEG)))


def _too_tilted(heads: pd.DataFrame, kept: NDArray[Any], columns: dict[str, Any]) -> list[Finding]:
    """Heads that lean beyond the formula, which are set upright."""
    modelled = tilt_is_modelled(columns["trajectory_deg"], columns["tilt_deg"])
    beyond = kept & ~modelled
    columns["tilt_deg"] = np.where(modelled, columns["tilt_deg"], 0.0)
    return [
        warning(
            "tilt-beyond-model",
            f"heads:{head}",
            f"Head {head} leans so far that its jet leaves below {LEAST_JET_DEG:g}° or above "
            f"{GREATEST_JET_DEG:g}°; its pattern is shown as if it stood upright.",
            "Set it upright in the ground, or correct its lean or its nozzle's trajectory.",
        )
        for head in heads.index[beyond]
    ]


def _beyond_tables(heads: pd.DataFrame, read: Nozzles, pressure: Numbers) -> list[Finding]:
    """Nozzles whose heads run far from every pressure of their table."""
    names, found = heads["nozzle"].to_numpy(dtype=object), []
    for nozzle, points in read.points.items():
        mine = pressure[names == nozzle]
        low, high = points[0, 0] * (1 - _BEYOND_TABLE), points[-1, 0] * (1 + _BEYOND_TABLE)
        beyond = mine[(mine < low) | (mine > high)]
        if beyond.size:
            found.append(
                note(
                    "pressure-beyond-table",
                    f"nozzles:{nozzle}",
                    f"{beyond.size} heads with nozzle {nozzle} run at {beyond.min():.0f} to "
                    f"{beyond.max():.0f} kPa; its table tells of {points[0, 0]:.0f} to "
                    f"{points[-1, 0]:.0f} kPa. Their flow follows the orifice law, their throw "
                    "is a guess.",
                    "Load flow and throw at these pressures into the nozzle's performance.",
                )
            )
    return found


_REASONS: Final = (
    "has no place",
    "has no water pressure",
    "has no nozzle with flow and throw",
    "has an arc and no bearing",
)


def _pressures(ground: Ground, modelled_kpa: pd.Series[float] | None) -> tuple[Numbers, Numbers]:
    """Pressure at each head as the record has it, and as it counts [kPa]."""
    reference = _nozzle_values(ground.heads, ground.nozzles, "pressure_kpa").to_numpy(dtype=float)
    recorded = _measured_or(ground.heads, "pressure_kpa", reference)
    if modelled_kpa is None:
        return recorded, recorded
    modelled = modelled_kpa.reindex(ground.heads.index).to_numpy(dtype=float)
    return recorded, np.where(np.isnan(modelled), recorded, modelled)


def _columns(
    ground: Ground, read: Nozzles, modelled_kpa: pd.Series[float] | None
) -> dict[str, Any]:
    """Every array of the patterns, of all heads."""
    heads, nozzles = ground.heads, ground.nozzles
    recorded, pressure = _pressures(ground, modelled_kpa)
    flow, radius = _flows_and_throws(heads, read, pressure)
    measured = flow_at_pressure_l_s(heads["measured_flow_l_s"], recorded, pressure)
    points = np.asarray(heads.geometry.to_numpy(), dtype=object)
    arc = np.minimum(_or_else(heads["arc_deg"], FULL_CIRCLE_DEG), FULL_CIRCLE_DEG)
    bearing = heads["bearing_deg"].to_numpy(dtype=float)
    profile = [read.profile.get(str(name), 0) for name in heads["nozzle"]]
    trajectory = _nozzle_values(heads, nozzles, "trajectory_deg")
    return {
        "x_m": shapely.get_x(points),
        "y_m": shapely.get_y(points),
        "flow_l_s": np.where(np.isnan(heads["measured_flow_l_s"]), flow, measured),
        "radius_m": _measured_or(heads, "measured_radius_m", radius),
        "arc_deg": arc,
        "bearing_deg": np.where(arc >= FULL_CIRCLE_DEG, 0.0, bearing),
        "profile": np.array(profile, dtype=np.int64),
        "pressure_kpa": pressure,
        "trajectory_deg": _or_else(trajectory, DEFAULT_TRAJECTORY_DEG),
        "height_m": _or_else(_nozzle_values(heads, nozzles, "height_m"), DEFAULT_HEIGHT_M),
        "tilt_deg": _or_else(heads["tilt_deg"], 0.0),
        "tilt_towards_deg": _or_else(heads["tilt_towards_deg"], 0.0),
    }


def head_patterns(
    ground: Ground, pressure_kpa: pd.Series[float] | None = None
) -> tuple[HeadPatterns, list[Finding]]:
    """The patterns of all heads whose place, nozzle and sector are known.

    Flow is what was measured at the head, else its nozzle's at the head's pressure; throw
    likewise. The pressure is that of the pipe model where it is given, else the record's, else
    the nozzle's reference. An arc that is not entered is a full circle.

    Args:
        ground: the record.
        pressure_kpa: pressures of a pipe model by head id; heads it does not name keep the
            record's. A measured flow is then moved from the record's pressure to this one.

    Returns:
        The patterns in the record's order; a finding for each nozzle that cannot be used and
        each head that is left out; doubts of legs, leans and pressures.
    """
    heads = ground.heads
    read = read_nozzles(ground.nozzles)
    columns = _columns(ground, read, pressure_kpa)
    known = [
        np.isnan(columns["x_m"]),
        columns["pressure_kpa"] <= 0,
        ~((columns["flow_l_s"] > 0) & (columns["radius_m"] > 0)),
        np.isnan(columns["bearing_deg"]),
    ]
    why = np.select(known, _REASONS, "").astype(object)
    kept = why == ""
    doubts = [*read.findings, *_left_out(heads, why), *_too_tilted(heads, kept, columns)]
    doubts += _beyond_tables(heads, read, columns["pressure_kpa"])
    arrays: dict[str, Any] = {name: values[kept] for name, values in columns.items()}
    patterns = HeadPatterns(
        ids=heads.index.to_numpy(dtype=object)[kept], profiles=tuple(read.profiles), **arrays
    )
    return patterns, doubts
