"""Areas whose declared wetted ground is not what their heads answer for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "wetted-area-differs"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
WETTED_SHARE: Final = 0.10


def find(linked: Linked) -> Iterator[Finding]:
    """Each area whose heads' cells are all known and add to something else."""
    cells = linked.cell_m2.groupby(linked.heads["area"])
    total = cells.agg(lambda cells: cells.sum(skipna=False))
    declared = linked.ground.areas["wetted_m2"].astype(float)
    share = total.reindex(declared.index) / declared - 1.0
    for identity in share.index[share.abs() > WETTED_SHARE]:
        yield Finding(
            SEVERITY,
            CODE,
            f"areas:{identity}",
            f"{linked.name('areas', identity)} declares {declared[identity]:,.0f} m² wetted; its "
            f"heads answer for {total[identity]:,.0f} m² ({share[identity]:+.0%}).",
            "Check spacing, rows and arcs of its heads, or leave the declared area empty.",
        )
