"""Stations whose heads carry several nozzles, and water at unlike rates for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "station-mixes-nozzles"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE


def find(linked: Linked) -> Iterator[Finding]:
    """Each station with more than one; silent where the rates are known and match."""
    for identity, values, rates in linked.unmatched("nozzle"):
        shown = " and ".join(values)
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} has heads of several nozzles: {shown}."
            f"{rates}",
            "One run time cannot suit them all; split the station or correct the heads.",
        )
