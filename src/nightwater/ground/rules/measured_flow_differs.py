"""Heads whose measured flow is far from their nozzle's."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "measured-flow-differs"
SEVERITY: Final = Severity.WARNING
MEASURED_SHARE: Final = 0.15  # wear shows from some 10 % on, and pressure moves it too


def find(linked: Linked) -> Iterator[Finding]:
    """Each head measured farther than `MEASURED_SHARE` from its nozzle's flow."""
    heads = linked.ground.heads
    rated = linked.ground.nozzles["flow_l_s"].reindex(heads["nozzle"].to_numpy())
    flows = pd.DataFrame({"measured": heads["measured_flow_l_s"]}, index=heads.index)
    flows["rated"] = rated.to_numpy(dtype=float)
    flows["share"] = flows["measured"] / flows["rated"] - 1.0
    for identity, row in rows_where(flows, flows["share"].abs() > MEASURED_SHARE):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} was measured at {row['measured']:.2f} L/s, "
            f"{row['share']:+.0%} against its nozzle's {row['rated']:.2f} L/s.",
            "Look for a worn or wrong nozzle; the measured flow counts meanwhile.",
        )
