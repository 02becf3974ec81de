"""Heads that are not as they should be: how each is found, and what the repaired one is like."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree

from nightwater.ground.links import head_areas
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import Ground
from nightwater.spray.evidence import Evidence
from nightwater.spray.flow import head_radius_m

LEAN_DEG: Final = 2.0  # a lean that counts; common practice, no source
LOW_PRESSURE: Final = 0.9  # of the nozzle's reference pressure; common practice, no source
FLOW_OFF: Final = 0.1  # measured over the nozzle's flow; common practice, no source
NEIGHBOURS: Final = 6
ALIKE: Final = 0.75  # of the neighbours that must agree before a nozzle is odd; own choice
# Throw of a head whose state is told and not measured, over that of a sound one; own choice.
THROW_OF_CONDITION: Final[Mapping[str, float]] = {
    "low": 0.85,
    "tilted": 0.9,
    "worn": 0.95,
    "broken": 0.5,
}
_CAUSES: Final = {
    "low": "sunken-head",
    "tilted": "tilted-head",
    "worn": "worn-nozzle",
    "broken": "broken-head",
}


@dataclass(frozen=True)
class Remedy:
    """One kind of repair, of all heads that want it.

    Attributes:
        cause: code of what is wrong.
        values: index = head id; columns of the record with their values once repaired. What a
            column holds NaN for is emptied.
        pressure_kpa: pressure at the nozzle once repaired, for those where that is the repair.
        evidence: by head id.
    """

    cause: str
    values: pd.DataFrame
    pressure_kpa: pd.Series[float]
    evidence: Mapping[str, Evidence]


def _remedy(
    cause: str,
    values: pd.DataFrame,
    evidence: Mapping[str, Evidence],
    pressure_kpa: pd.Series[float] | None = None,
) -> Remedy:
    none = pd.Series(dtype=float)
    return Remedy(cause, values, none if pressure_kpa is None else pressure_kpa, evidence)


def as_found(ground: Ground) -> Ground:
    """The record with a throw for heads whose state is told and not measured.

    A head that is low, tilted, worn or broken throws the share of `THROW_OF_CONDITION` of what
    its nozzle throws, unless its throw or its lean was measured.
    """
    heads = ground.heads
    share = heads["condition"].map(THROW_OF_CONDITION).to_numpy(dtype=float)
    told = np.isnan(heads["measured_radius_m"].to_numpy(dtype=float))
    told &= np.isnan(heads["tilt_deg"].to_numpy(dtype=float)) & np.isfinite(share)
    if not told.any():
        return ground
    throw = heads["measured_radius_m"].to_numpy(dtype=float).copy()
    sound = head_radius_m(heads.assign(measured_radius_m=np.nan), ground.nozzles)
    throw[told] = (sound.to_numpy(dtype=float) * share)[told]
    return ground.with_table("heads", heads.assign(measured_radius_m=throw))


def remedied(ground: Ground, remedy: Remedy, only: Any = None) -> Ground:
    """The record once some heads are repaired.

    Args:
        ground: the record.
        remedy: the repair.
        only: ids of the heads that get it; None for all that want it.
    """
    values = remedy.values if only is None else remedy.values.loc[list(only)]
    heads = ground.heads.copy()
    for column in values.columns:
        heads.loc[values.index, column] = values[column]
    return ground.with_table("heads", heads)


def _leaning(heads: pd.DataFrame) -> Remedy:
    lean = heads["tilt_deg"].to_numpy(dtype=float)
    found = heads[lean >= LEAN_DEG]
    evidence = {
        str(name): Evidence(f"leans {row['tilt_deg']:.0f}° from upright")
        for name, row in found.iterrows()
    }
    values = pd.DataFrame(
        {"tilt_deg": 0.0, "tilt_towards_deg": np.nan, "condition": "good"}, index=found.index
    )
    return _remedy("tilted-head", values, evidence)


def _in_condition(heads: pd.DataFrame, condition: str) -> Remedy:
    lean = heads["tilt_deg"].to_numpy(dtype=float)
    mine = (heads["condition"] == condition).to_numpy() & ~(lean >= LEAN_DEG)
    found = heads[mine]
    measured = found["measured_radius_m"]
    share = THROW_OF_CONDITION[condition]
    evidence = {
        str(name): Evidence(f"was seen {condition} and throws {{0}}", ((float(throw), "m"),))
        if pd.notna(throw)
        else Evidence(f"was seen {condition}; taken to throw {share:.0%} of a sound one")
        for name, throw in measured.items()
    }
    values = pd.DataFrame({"measured_radius_m": np.nan, "condition": "good"}, index=found.index)
    return _remedy(_CAUSES[condition], values, evidence)


def _wrong_flow(heads: pd.DataFrame, nozzles: pd.DataFrame) -> Remedy:
    """Heads whose measured flow is not that of their nozzle at their pressure."""
    listed = head_flow_l_s(heads.assign(measured_flow_l_s=np.nan), nozzles)
    measured = heads["measured_flow_l_s"].astype(float)
    off = (measured / listed - 1.0).abs() > FLOW_OFF
    found = heads[off.to_numpy()]
    evidence = {
        str(name): Evidence(
            "gives {0}, its nozzle is listed with {1}",
            ((float(measured[name]), "l_s"), (float(listed[name]), "l_s")),
        )
        for name in found.index
    }
    values = pd.DataFrame(
        {"measured_flow_l_s": np.nan, "measured_radius_m": np.nan}, index=found.index
    )
    return _remedy("worn-nozzle", values, evidence)


def _low_pressure(
    heads: pd.DataFrame, nozzles: pd.DataFrame, modelled_kpa: pd.Series[float] | None
) -> Remedy:
    names = heads["nozzle"].to_numpy()
    wanted = nozzles["pressure_kpa"].reindex(names).to_numpy(dtype=float)
    pressure = heads["pressure_kpa"].to_numpy(dtype=float)
    if modelled_kpa is not None:
        modelled = modelled_kpa.reindex(heads.index).to_numpy(dtype=float)
        pressure = np.where(np.isnan(modelled), pressure, modelled)
    low = pressure < LOW_PRESSURE * wanted
    found = heads.index[low]
    evidence = {
        str(name): Evidence("has {0} where its nozzle wants {1}", ((has, "kpa"), (want, "kpa")))
        for name, has, want in zip(found, pressure[low], wanted[low], strict=True)
    }
    values = pd.DataFrame({"measured_radius_m": np.nan}, index=found)
    return _remedy("low-pressure", values, evidence, pd.Series(wanted[low], index=found))


def _like_heads(ground: Ground) -> pd.DataFrame:
    """Heads with place, nozzle and throw, and what makes two of them alike."""
    heads = ground.heads
    points = np.asarray(heads.geometry.to_numpy(), dtype=object)
    kinds = ground.areas["kind"].reindex(head_areas(ground).to_numpy()).to_numpy(dtype=object)
    full = heads["arc_deg"].isna() | (heads["arc_deg"] >= 360.0)
    table = pd.DataFrame(
        {
            "x": shapely.get_x(points),
            "y": shapely.get_y(points),
            "nozzle": heads["nozzle"].to_numpy(dtype=object),
            "kind": pd.Series(kinds, index=heads.index).fillna("").astype(str),
            "full": full.to_numpy(),
            "throw": head_radius_m(heads.assign(measured_radius_m=np.nan), ground.nozzles).to_numpy(
                dtype=float
            ),
        },
        index=heads.index,
    )
    return table[table["x"].notna() & table["nozzle"].notna() & table["throw"].notna()]


def _odd_nozzles(rows: pd.DataFrame) -> dict[str, str]:
    """Head → the nozzle that most of its neighbours have, where its own is another one."""
    if len(rows) <= NEIGHBOURS // 2:
        return {}
    places, nozzle = rows[["x", "y"]].to_numpy(), rows["nozzle"].to_numpy()
    count = min(NEIGHBOURS, len(rows) - 1)
    away, near = (np.asarray(part) for part in KDTree(places).query(places, k=count + 1))
    odd = {}
    # Neighbours stand within two throws: beyond, another design may begin.
    reach = 2.0 * float(rows["throw"].median())
    for place, (distances, others) in enumerate(zip(away[:, 1:], near[:, 1:], strict=True)):
        names = nozzle[others[distances <= reach]]
        if len(names) < NEIGHBOURS // 2:
            continue
        usual, votes = _commonest(names)
        if usual != nozzle[place] and votes >= ALIKE * len(names):
            odd[str(rows.index[place])] = usual
    return odd


def _commonest(names: NDArray[Any]) -> tuple[str, int]:
    found, votes = np.unique(names.astype(str), return_counts=True)
    return str(found[votes.argmax()]), int(votes.max())


def _wrong_nozzle(ground: Ground) -> Remedy:
    odd: dict[str, str] = {}
    for _, rows in _like_heads(ground).groupby(["kind", "full"]):
        odd |= _odd_nozzles(rows)
    labels, own = ground.nozzles["label"], ground.heads["nozzle"]

    def called(name: Any) -> str:
        return str(name) if pd.isna(labels.get(name)) else str(labels[name])

    evidence = {
        head: Evidence(f"has nozzle {called(own[head])}, its like neighbours have {called(usual)}")
        for head, usual in odd.items()
    }
    values = pd.DataFrame(
        {"nozzle": list(odd.values()), "measured_flow_l_s": np.nan, "measured_radius_m": np.nan},
        index=list(odd),
    )
    return _remedy("wrong-nozzle", values, evidence)


def head_remedies(
    ground: Ground,
    modelled_kpa: pd.Series[float] | None = None,
    arcs: pd.DataFrame | None = None,
) -> tuple[Remedy, ...]:
    """Every repair that some head wants; kinds of repair that none wants are left out.

    Args:
        ground: the record, not changed by `as_found`.
        modelled_kpa: pressures of a pipe model by head id.
        arcs: arcs and bearings that differ from the ground, index = head id, columns
            arc_deg, bearing_deg, reason; see `ground.arcs.propose_arcs`.
    """
    heads, nozzles = ground.heads, ground.nozzles
    found = [
        _leaning(heads),
        *(_in_condition(heads, condition) for condition in THROW_OF_CONDITION),
        _wrong_flow(heads, nozzles),
        _low_pressure(heads, nozzles, modelled_kpa),
        _wrong_nozzle(ground),
    ]
    if arcs is not None and len(arcs):
        reasons = {str(name): Evidence(str(why)) for name, why in arcs["reason"].items()}
        found.append(_remedy("wrong-arc", arcs[["arc_deg", "bearing_deg"]], reasons))
    return tuple(remedy for remedy in found if len(remedy.values))
