"""Stations that flow more than all pumps can lift."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "station-beyond-pumps"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each such station, where every pump's capacity is known."""
    capacity_l_s = float(linked.ground.pumps["capacity_l_s"].astype(float).sum(skipna=False))
    if linked.ground.pumps.empty or not capacity_l_s > 0:
        return
    total = linked.heads.dropna(subset=["station"]).groupby("station")["flow_l_s"].sum()
    for identity, flow in total[total > capacity_l_s].items():
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"The heads of station {linked.name('stations', identity)} flow {flow:.1f} L/s; all "
            f"pumps together lift {capacity_l_s:.1f} L/s.",
            "Check its heads, their nozzles and the pumps' capacity, and the units of each.",
        )
