"""Nozzles whose flow and throw no sprinkler has together."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.scopes import Scope
from nightwater.units import SECONDS_PER_HOUR

CODE: Final = "flow-against-throw"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS
LEAST_MM_H: Final = 0.5  # over the whole circle thrown; large rotors stay above 2
MOST_MM_H: Final = 50.0  # small sprays stay below 40


def find(linked: Linked) -> Iterator[Finding]:
    """Each nozzle whose flow over its own circle is absurd."""
    nozzles = linked.ground.nozzles
    circle_m2 = np.pi * nozzles["radius_m"].astype(float) ** 2
    rate = nozzles["flow_l_s"].astype(float) / circle_m2 * SECONDS_PER_HOUR
    absurd = ((rate > 0) & (rate < LEAST_MM_H)) | (rate > MOST_MM_H)
    for identity, row in rows_where(nozzles.assign(rate_mm_h=rate), absurd):
        yield Finding(
            SEVERITY,
            CODE,
            f"nozzles:{identity}",
            f"Nozzle {linked.name('nozzles', identity)} gives {row['flow_l_s']:g} L/s over a throw "
            f"of {row['radius_m']:g} m: {row['rate_mm_h']:.2g} mm/h on its own circle, where "
            f"{LEAST_MM_H:g} to {MOST_MM_H:g} is all that sprinklers do.",
            "Check both numbers and the units they were read in.",
        )
