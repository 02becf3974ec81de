"""Heads that water much faster or slower than the like heads of their area."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.scopes import Scope

CODE: Final = "rate-outlier"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
MOST_RATIO: Final = 1.5  # the next nozzle is some 1.2 of one, a curved row brings another 1.2
LEAST_HEADS: Final = 4  # of fewer nobody can say which is the odd one


def _like(linked: Linked) -> pd.DataFrame:
    """Heads of known area and rate, with the median rate of their like and how many those are.

    Full circles are like full ones and part circles like part ones: a club that gives both
    one nozzle waters at two rates on purpose. A measured flow is judged by its own rule.
    """
    rated = linked.heads.assign(rate_mm_h=linked.rate_mm_h)
    measured = linked.ground.heads["measured_flow_l_s"].notna().to_numpy()
    known: pd.DataFrame = rated[rated["area"].notna() & rated["rate_mm_h"].notna() & ~measured]
    rates = known.groupby(["area", known["arc_deg"] >= 360.0])["rate_mm_h"]
    return known.assign(median=rates.transform("median"), count=rates.transform("count"))


def find(linked: Linked) -> Iterator[Finding]:
    """Each head farther than `MOST_RATIO` from the median of its like, up or down."""
    heads = _like(linked)
    ratio = heads["rate_mm_h"] / heads["median"]
    odd = (ratio > MOST_RATIO) | (ratio < 1.0 / MOST_RATIO)
    for identity, row in rows_where(heads, odd & (heads["count"] >= LEAST_HEADS)):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} waters {row['rate_mm_h']:.1f} mm/h; the "
            f"{row['count']} like heads of {linked.name('areas', row['area'])} water "
            f"{row['median']:.1f} mm/h (median).",
            "Compare its nozzle, arc and spacing with those of its neighbours.",
        )
