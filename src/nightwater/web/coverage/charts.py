"""The chart of an area's evenness: share of its turf by depth over the mean."""

from __future__ import annotations

from typing import Any

import altair as alt
import numpy as np
from numpy.typing import NDArray

from nightwater.spray.evenness import RATIO_BARS, RATIO_STEP
from nightwater.web.charts import inline

LOW_RATIO, HIGH_RATIO = 0.7, 1.3  # own choice: within a third of the mean is as it should be


def densogram_rows(shares: NDArray[np.float64]) -> list[dict[str, Any]]:
    """Bars of a densogram: from, to (times the mean), share of the turf in per cent, words."""
    rows = []
    for place, share in enumerate(np.nan_to_num(shares)):
        low = round(place * RATIO_STEP, 3)
        last = place == RATIO_BARS
        words = f"{low:g} and more" if last else f"{low:g} to {low + RATIO_STEP:.2g}"
        rows.append(
            {
                "low": low,
                "high": round(low + RATIO_STEP, 3),
                "share": round(100.0 * float(share), 2),
                "words": words,
                "part": _part(low),
            }
        )
    return rows


def _part(low: float) -> str:
    if low < LOW_RATIO - 1e-9:
        return "dry"
    return "wet" if low > HIGH_RATIO - 1e-9 else "even"


def densogram_chart(shares: NDArray[np.float64]) -> dict[str, Any]:
    """A Vega-Lite bar chart; colours come from the page, the mean is a line."""
    base = alt.Chart(inline(densogram_rows(shares)))
    ticks = [0, 0.5, 1, 1.5, 2]
    bars = base.mark_bar(binSpacing=1).encode(
        x=alt.X(
            "low:Q",
            bin="binned",
            axis=alt.Axis(values=ticks, grid=False),
            scale=alt.Scale(domain=[0, (RATIO_BARS + 1) * RATIO_STEP]),
            title="times the mean",
        ),
        x2="high:Q",
        y=alt.Y("share:Q", title="% of the turf"),
        color=alt.Color("part:N", scale=alt.Scale(domain=["dry", "even", "wet"]), legend=None),
        tooltip=[
            alt.Tooltip("words:N", title="times the mean"),
            alt.Tooltip("share:Q", title="% of the turf", format=".1f"),
        ],
    )
    mean = alt.Chart(inline([{"at": 1}])).mark_rule(strokeDash=[5, 4]).encode(x="at:Q")
    usermeta = {"kinds": ["dry", "even", "wet"]}
    chart = alt.layer(bars, mean).properties(width="container", height=180, usermeta=usermeta)
    spec: dict[str, Any] = chart.to_dict()
    return spec
