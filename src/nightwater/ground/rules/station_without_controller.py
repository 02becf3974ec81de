"""Stations that name no controller or path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "station-without-controller"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such station."""
    rows = linked.ground.stations
    for identity in rows.index[rows["controller"].isna()]:
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} names no controller or path.",
            "Enter it; until then its heads count against no limit.",
        )
