"""Stations whose listed flow is not the sum of their heads."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.scopes import Scope

CODE: Final = "station-flow-differs"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
FLOW_SHARE: Final = 0.10  # rounding in lists


def find(linked: Linked) -> Iterator[Finding]:
    """Each station whose heads' flows are all known and add to something else."""
    known = linked.heads.dropna(subset=["station"])
    total = known.groupby("station")["flow_l_s"].agg(lambda flows: flows.sum(skipna=False))
    listed = linked.ground.stations["flow_listed_l_s"].astype(float)
    share = total.reindex(listed.index) / listed - 1.0
    flows = pd.DataFrame({"listed": listed, "total": total, "share": share}, index=listed.index)
    for identity, row in rows_where(flows, share.abs() > FLOW_SHARE):
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} lists {row['listed']:.2f} L/s; its heads "
            f"add to {row['total']:.2f} L/s ({row['share']:+.0%}).",
            "Check its nozzles and the number of its heads; the heads' flow counts meanwhile.",
        )
