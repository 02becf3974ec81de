"""The night as flow, minute by minute and kind by kind, and its chart."""

from __future__ import annotations

import math
from typing import Any, Final

import altair as alt
import numpy as np
from numpy.typing import NDArray

from nightwater.desk.sheet import clock
from nightwater.ground.settings import PRIORITY
from nightwater.night.plan import Night
from nightwater.units import UnitSystem, from_si
from nightwater.web.charts import axis_of_night, inline, pointer, zoom

Flows = dict[str, NDArray[np.float64]]
HALF_HOUR_MIN: Final = 30


def kind_flows_l_s(night: Night) -> Flows:
    """Flow of each area kind at every minute of the window [L/s], in order of priority.

    A station of unknown flow adds nothing; the night's findings name it.
    """
    of_station = {item.station: (item.kind, item.flow_l_s) for item in night.sums}
    flows: Flows = {}
    for run in night.runs:
        kind, flow_l_s = of_station.get(run.station, ("", math.nan))
        if not math.isnan(flow_l_s):
            series = flows.setdefault(kind, np.zeros(night.window.minutes))
            series[max(run.start_min, 0) : run.start_min + run.run_min] += flow_l_s
    known = [kind for kind in PRIORITY if kind in flows]
    return {kind: flows[kind] for kind in [*known, *sorted(set(flows) - set(known))]}


def half_hours(night: Night, flows: Flows, timezone: str) -> list[dict[str, Any]]:
    """The night in half hours: clock, mean flow of each kind and in all, highest flow [L/s]."""
    rows = []
    total = sum(flows.values(), np.zeros(night.window.minutes))
    for start in range(0, len(total), HALF_HOUR_MIN):
        part = slice(start, start + HALF_HOUR_MIN)
        rows.append(
            {
                "clock": clock(night, start, timezone),
                "kinds": {kind: float(series[part].mean()) for kind, series in flows.items()},
                "mean_l_s": float(total[part].mean()),
                "highest_l_s": float(total[part].max()),
            }
        )
    return rows


def _chart_rows(night: Night, flows: Flows, symbol: str, timezone: str) -> list[dict[str, Any]]:
    shown = {kind: from_si(series, symbol).round(1) for kind, series in flows.items()}
    total = sum(shown.values(), np.zeros(night.window.minutes))
    return [
        {
            "minute": minute,
            "clock": clock(night, minute, timezone),
            "total": round(float(total[minute]), 1),
            **{kind: float(series[minute]) for kind, series in shown.items()},
        }
        for minute in range(len(total))
    ]


def _areas(base: alt.Chart, x: alt.X, kinds: list[str], symbol: str, limit: float) -> alt.Chart:
    # Room above the limit for its words.
    top = alt.Undefined if math.isnan(limit) else alt.Scale(domain=[0, 1.15 * limit])
    folded = base.transform_fold([*kinds], as_=["kind", "flow"])
    folded = folded.transform_calculate(order=f"indexof({kinds}, datum.kind)")
    made: alt.Chart = folded.mark_area(interpolate="step-after", line=False, clip=True).encode(
        x=x,
        y=alt.Y("flow:Q", stack="zero", title=symbol, scale=top),
        color=alt.Color("kind:N", scale=alt.Scale(domain=kinds), legend=None),
        order=alt.Order("order:Q"),
    )
    return made


def _limit(night: Night, symbol: str) -> list[alt.Chart]:
    limit = round(float(from_si(night.pump_l_s, symbol)), 1)
    data = inline([{"limit": limit, "words": f"pumps may give {limit:,.0f} {symbol}"}])
    line: alt.Chart = (
        alt.Chart(data).mark_rule(strokeDash=[6, 4], strokeWidth=1.5).encode(y="limit:Q")
    )
    words: alt.Chart = (
        alt.Chart(data)
        .mark_text(align="left", baseline="bottom", dx=4, dy=-3)
        .encode(x=alt.value(0), y="limit:Q", text="words:N")
    )
    return [line, words]


def flow_chart(night: Night, units: UnitSystem, timezone: str) -> dict[str, Any]:
    """The Vega-Lite chart of a night: flow stacked by kind against what the pumps may give.

    Colours come from the page: `usermeta.kinds` lists the kinds in the order of the colour
    range.
    """
    symbol = "gpm" if units is UnitSystem.US else "L/s"
    flows = kind_flows_l_s(night)
    kinds = list(flows)
    base = alt.Chart(inline(_chart_rows(night, flows, symbol, timezone)))
    x = axis_of_night(night, timezone)
    limit = float(from_si(night.pump_l_s, symbol))
    layers = [_areas(base, x, kinds, symbol, limit)] if kinds else []
    if not math.isnan(night.pump_l_s):
        layers += _limit(night, symbol)
    layers.append(pointer(base, x, ("total", *reversed(kinds)), symbol).add_params(zoom()))
    chart = alt.layer(*layers).properties(width="container", height=220, usermeta={"kinds": kinds})
    spec: dict[str, Any] = chart.to_dict()
    return spec
