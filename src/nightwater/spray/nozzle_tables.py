"""What a nozzle's row tells: flow and throw against pressure, and its profile."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError, error, warning
from nightwater.ground.nozzle_performance import nozzle_performance, pairs
from nightwater.spray.profile import (
    DEFAULT_PROFILE,
    Profile,
    leg_closure,
    leg_profile,
    named_profile,
)

CLOSES_WITHIN: Final = 0.1  # a leg's volume against the flow; our choice, cans are no better

Numbers = NDArray[np.float64]


def nozzle_leg(nozzle: str, row: Mapping[str, Any]) -> Numbers | None:
    """Distance [m] and rate [mm/h] of a nozzle's leg, shape (n, 2); None where it is not used.

    A leg is used where the nozzle names no profile, or "measured".

    Raises:
        UserError: a leg that is no pairs of numbers.
    """
    leg, name = row.get("leg"), row.get("profile")
    if not isinstance(leg, str) or not leg.strip():
        return None
    if isinstance(name, str) and name not in ("", "measured"):
        return None
    return pairs(leg, 2, f"The leg of nozzle {nozzle}")


def _closure(nozzle: str, row: Mapping[str, Any]) -> list[Finding]:
    """A doubt where the water under a nozzle's leg is not the flow that it has."""
    table = nozzle_leg(nozzle, row)
    if table is None:
        return []
    ratio = leg_closure(table[:, 0], table[:, 1], float(row["radius_m"]), float(row["flow_l_s"]))
    if abs(ratio - 1.0) <= CLOSES_WITHIN:
        return []
    return [
        warning(
            "leg-does-not-close",
            f"nozzles:{nozzle}",
            f"The measured leg of nozzle {nozzle} holds {ratio:.2f} times the flow that the "
            "nozzle has. Only the leg's form is used, scaled to the flow.",
            "Check its unit, the time of the test, the throw and the flow; or measure it again.",
        )
    ]


def nozzle_profile(nozzle: str, row: Mapping[str, Any]) -> Profile:
    """The profile of a nozzle: what it names, its measured leg, else a triangle.

    Raises:
        UserError: "measured" without a leg, or a leg that is none.
    """
    table, name = nozzle_leg(nozzle, row), row.get("profile")
    stated = isinstance(name, str) and name != ""
    if table is not None:
        return leg_profile(table[:, 0], table[:, 1], float(row["radius_m"]))
    if name == "measured":
        raise UserError(
            f"Nozzle {nozzle} names a measured profile and has no leg. Enter its 'leg', as "
            "m:mm/h pairs."
        )
    return named_profile(str(name) if stated else DEFAULT_PROFILE)


@dataclass(frozen=True)
class Nozzles:
    """Tables, exponents and profiles by nozzle id, with what cannot be used."""

    points: dict[str, Numbers]
    profile: dict[str, int]
    profiles: list[Profile]
    rows: pd.DataFrame
    findings: list[Finding]


def read_nozzles(nozzles: pd.DataFrame) -> Nozzles:
    """Every nozzle of the record that can be used; a finding for each that cannot.

    Args:
        nozzles: the record's nozzles.
    """
    usual = named_profile(DEFAULT_PROFILE)  # of heads whose nozzle tells none
    read = Nozzles({}, {}, [usual], nozzles, [])
    places: dict[bytes, int] = {usual.density.tobytes(): 0}
    for name, row in zip(nozzles.index, nozzles.to_dict("records"), strict=True):
        fields = {str(key): value for key, value in row.items()}
        try:
            points = nozzle_performance(str(name), fields)
            profile = nozzle_profile(str(name), fields)
            doubts = _closure(str(name), fields)
        except UserError as wrong:
            read.findings.append(
                error("nozzle-not-usable", f"nozzles:{name}", str(wrong), "Correct the nozzle.")
            )
            continue
        read.findings.extend(doubts)
        key = profile.density.tobytes()
        if key not in places:
            places[key] = len(read.profiles)
            read.profiles.append(profile)
        read.points[str(name)] = points
        read.profile[str(name)] = places[key]
    return read
