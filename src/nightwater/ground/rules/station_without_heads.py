"""Stations that fire nothing the record knows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "station-without-heads"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each station without a head."""
    for identity, heads in linked.station_heads.items():
        if not heads:
            yield Finding(
                SEVERITY,
                CODE,
                f"stations:{identity}",
                f"Station {linked.name('stations', identity)} has no head, so no plan runs it.",
                "Name the station on its heads, or list its heads.",
            )
