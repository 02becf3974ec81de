"""Stations whose list says another number of heads than the record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "station-head-count"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each station with heads whose listed number differs."""
    listed = linked.ground.stations["heads_listed"]
    for (identity, heads), count in zip(linked.station_heads.items(), listed, strict=True):
        if pd.notna(count) and heads and int(count) != len(heads):
            yield Finding(
                SEVERITY,
                CODE,
                f"stations:{identity}",
                f"Station {linked.name('stations', identity)} lists {int(count)} heads; the record "
                f"has {len(heads)}: {', '.join(heads)}.",
                "Run it, count the heads that rise, and correct the list or the heads.",
            )
