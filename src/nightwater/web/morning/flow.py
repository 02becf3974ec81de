"""Planned, commanded and metered flow in one chart."""

from __future__ import annotations

import math
from typing import Any, Final

import altair as alt

from nightwater.desk.sheet import clock
from nightwater.night.plan import Night
from nightwater.proof.verdict import Proof
from nightwater.units import UnitSystem, from_si
from nightwater.web.charts import axis_of_night, inline, pointer

SERIES: Final = ("planned", "commanded", "metered")
_DASHES: Final = [[2, 3], [7, 3], [1, 0]]


def _rows(proof: Proof, plan: Night, symbol: str, timezone: str) -> list[dict[str, Any]]:
    series = (proof.planned_l_s, proof.commanded_l_s, proof.metered_l_s)
    shown = [[_number(value) for value in from_si(list(one), symbol)] for one in series]
    return [
        {
            "minute": minute,
            "clock": clock(plan, minute, timezone),
            **dict(zip(SERIES, at, strict=True)),
        }
        for minute, at in enumerate(zip(*shown, strict=True))
    ]


def _number(value: float) -> float | None:
    return round(float(value), 1) if math.isfinite(value) else None


def proof_chart(proof: Proof, plan: Night, units: UnitSystem, timezone: str) -> dict[str, Any]:
    """The Vega-Lite chart of a proof: three lines, told apart by dash as well as colour."""
    symbol = "gpm" if units is UnitSystem.US else "L/s"
    base = alt.Chart(inline(_rows(proof, plan, symbol, timezone)))
    x = axis_of_night(plan, timezone)
    folded = base.transform_fold(list(SERIES), as_=["series", "flow"])
    lines = folded.mark_line(interpolate="step-after", strokeWidth=1.6).encode(
        x=x,
        y=alt.Y("flow:Q", title=symbol),
        color=alt.Color("series:N", scale=alt.Scale(domain=list(SERIES)), legend=None),
        strokeDash=alt.StrokeDash(
            "series:N", scale=alt.Scale(domain=list(SERIES), range=_DASHES), legend=None
        ),
    )
    chart = alt.layer(lines, pointer(base, x, SERIES, symbol)).properties(
        width="container", height=220, usermeta={"kinds": list(SERIES)}
    )
    spec: dict[str, Any] = chart.to_dict()
    return spec
