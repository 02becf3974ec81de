"""Every head's pattern as arrays: place, flow, throw, sector, profile, lean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError, error, warning
from nightwater.ground.record import Ground
from nightwater.spray.flow import FLOW_EXPONENT, flow_at_pressure_l_s
from nightwater.spray.profile import DEFAULT_PROFILE, Profile, leg_profile, named_profile, pairs
from nightwater.spray.rate import FULL_CIRCLE_DEG

DEFAULT_TRAJECTORY_DEG: Final = 25.0  # common practice for large rotors, no source
DEFAULT_HEIGHT_M: Final = 0.1  # a pop-up standing over the turf; common practice, no source

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


def nozzle_performance(nozzle: str, row: Mapping[str, Any]) -> Numbers:
    """Pressure [kPa], flow [L/s] and throw [m] of a nozzle, rising in pressure, shape (n, 3).

    Its reference point and those of its `performance`; a point at the reference pressure in
    the latter takes the former's place.

    Raises:
        UserError: a performance that is not triples of numbers above 0, or names a pressure twice.
    """
    reference = [float(row[name]) for name in ("pressure_kpa", "flow_l_s", "radius_m")]
    stated = row.get("performance")
    words = stated if isinstance(stated, str) else ""
    what = f"The performance of nozzle {nozzle}"
    points = pairs(words, 3, what)
    if (points <= 0).any() or len(np.unique(points[:, 0])) < len(points):
        raise UserError(
            f"{what} holds a number of 0 or less, or a pressure twice. Correct 'performance'."
        )
    if not np.isin(reference[0], points[:, 0]):
        points = np.vstack([points, reference])
    return points[np.argsort(points[:, 0])]


def flow_and_radius(
    points: Numbers, pressure_kpa: Numbers, exponent: float = FLOW_EXPONENT
) -> tuple[Numbers, Numbers]:
    """Flow [L/s] and throw [m] of a nozzle at pressures.

    Between two points of the table the coefficient K = q / p^x and the throw are
    interpolated straight over pressure; outside it K stays that of the nearest
    point, and the throw stays level above and goes with √p below: no table tells more.

    Args:
        points: as `nozzle_performance` gives them.
        pressure_kpa: pressures [kPa], any shape.
        exponent: x, 0.5 for an orifice.

    Returns:
        The two, in the shape of the pressures; NaN for a missing or negative one.

    Reference: orifice equation; the √p of the throw below the table is a choice of ours.
    """
    table_p, table_q, table_r = points.T
    pressure = np.where(np.asarray(pressure_kpa) >= 0, pressure_kpa, np.nan)
    coefficient = np.interp(pressure, table_p, table_q / table_p**exponent)
    flow = coefficient * pressure**exponent
    below = np.sqrt(np.minimum(pressure / table_p[0], 1.0))
    return flow, np.interp(pressure, table_p, table_r) * below


def nozzle_profile(nozzle: str, row: Mapping[str, Any]) -> Profile:
    """The profile of a nozzle: what it names, its measured leg, else a triangle.

    Raises:
        UserError: "measured" without a leg, or a leg that is none.
    """
    leg = row.get("leg")
    name = row.get("profile")
    stated = isinstance(name, str) and name != ""
    if isinstance(leg, str) and leg.strip() and (not stated or name == "measured"):
        table = pairs(leg, 2, f"The leg of nozzle {nozzle}")
        return leg_profile(table[:, 0], table[:, 1], float(row["radius_m"]))
    if name == "measured":
        raise UserError(
            f"Nozzle {nozzle} names a measured profile and has no leg. Enter its 'leg', as "
            "m:mm/h pairs."
        )
    return named_profile(str(name) if stated else DEFAULT_PROFILE)


@dataclass(frozen=True)
class _Nozzles:
    """Tables, exponents and profiles by nozzle id, with what cannot be used."""

    points: dict[str, Numbers]
    profile: dict[str, int]
    profiles: list[Profile]
    rows: pd.DataFrame
    findings: list[Finding]


def _read_nozzles(nozzles: pd.DataFrame) -> _Nozzles:
    usual = named_profile(DEFAULT_PROFILE)  # of heads whose nozzle tells none
    read = _Nozzles({}, {}, [usual], nozzles, [])
    places: dict[bytes, int] = {usual.density.tobytes(): 0}
    for name, row in zip(nozzles.index, nozzles.to_dict("records"), strict=True):
        fields = {str(key): value for key, value in row.items()}
        try:
            points = nozzle_performance(str(name), fields)
            profile = nozzle_profile(str(name), fields)
        except UserError as wrong:
            read.findings.append(
                error("nozzle-not-usable", f"nozzles:{name}", str(wrong), "Correct the nozzle.")
            )
            continue
        key = profile.density.tobytes()
        if key not in places:
            places[key] = len(read.profiles)
            read.profiles.append(profile)
        read.points[str(name)] = points
        read.profile[str(name)] = places[key]
    return read


def _flows_and_throws(
    heads: pd.DataFrame, read: _Nozzles, pressure: Numbers
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


_REASONS: Final = (
    "has no place",
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
    ground: Ground, read: _Nozzles, modelled_kpa: pd.Series[float] | None
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
        each head that is left out.
    """
    heads = ground.heads
    read = _read_nozzles(ground.nozzles)
    columns = _columns(ground, read, pressure_kpa)
    known = [
        np.isnan(columns["x_m"]),
        ~((columns["flow_l_s"] > 0) & (columns["radius_m"] > 0)),
        np.isnan(columns["bearing_deg"]),
    ]
    why = np.select(known, _REASONS, "").astype(object)
    kept = why == ""
    arrays: dict[str, Any] = {name: values[kept] for name, values in columns.items()}
    patterns = HeadPatterns(
        ids=heads.index.to_numpy(dtype=object)[kept], profiles=tuple(read.profiles), **arrays
    )
    return patterns, [*read.findings, *_left_out(heads, why)]
