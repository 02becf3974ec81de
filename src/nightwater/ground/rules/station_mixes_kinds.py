"""Stations whose heads water several kinds of ground."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "station-mixes-kinds"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE


def find(linked: Linked) -> Iterator[Finding]:
    """Each station with more than one."""
    for identity, values in linked.mixed("kind"):
        shown = " and ".join(values)
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} has heads of several kinds of "
            f"ground: {shown}.",
            "One run time cannot suit them all; split the station or correct the heads.",
        )
