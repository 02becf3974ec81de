"""Stations whose heads carry several nozzles, and water at unlike rates for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import MATCHED_RATIO, Linked

CODE: Final = "station-mixes-nozzles"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each station with more than one; silent where the rates are known and match."""
    for identity, values in linked.mixed("nozzle"):
        slowest, fastest = linked.station_rates_mm_h(identity)
        if fastest <= MATCHED_RATIO * slowest:
            continue
        shown = " and ".join(values)
        rates = "" if np.isnan(fastest) else f" They water {slowest:.1f} to {fastest:.1f} mm/h."
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} has heads of several nozzles: {shown}."
            f"{rates}",
            "One run time cannot suit them all; split the station or correct the heads.",
        )
