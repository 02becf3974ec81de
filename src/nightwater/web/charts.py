"""What the charts of a night share: the local clock below, and the line at the pointer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import altair as alt

from nightwater.desk.sheet import clock
from nightwater.night.plan import Night


def inline(rows: list[dict[str, Any]]) -> Any:
    """Rows that travel inside the chart."""
    return alt.InlineData(values=rows)


def hour_ticks(night: Night, timezone: str) -> dict[int, str]:
    """Minutes of the night at which the local clock strikes, with what it shows.

    Right across a change of clocks, which is why the axis counts minutes.
    """
    ticks = {}
    for minute in range(night.window.minutes + 1):
        shown = clock(night, minute, timezone)
        if shown.endswith(":00"):
            ticks[minute] = shown
    return ticks


def axis_of_night(night: Night, timezone: str) -> alt.X:
    """The minutes of the night, labelled with the local clock."""
    ticks = hour_ticks(night, timezone)
    words = "{" + ", ".join(f"'{minute}': '{shown}'" for minute, shown in ticks.items()) + "}"
    axis = alt.Axis(
        values=list(ticks),
        labelExpr=f"{words}[datum.value]",
        labelOverlap="parity",
        title=None,
        grid=False,
    )
    domain = alt.Scale(domain=[0, night.window.minutes], nice=False)
    return alt.X("minute:Q", axis=axis, scale=domain)


def pointer(base: alt.Chart, x: alt.X, series: Sequence[str], symbol: str) -> alt.Chart:
    """A line that follows the pointer, with every series' number of that minute."""
    at = alt.selection_point(
        name="at",
        nearest=True,
        on="pointermove",
        clear="pointerout",
        fields=["minute"],
        empty=False,
    )
    numbers = [
        alt.Tooltip(f"{name}:Q", title=f"{name} [{symbol}]", format=",.0f") for name in series
    ]
    shown = alt.condition(at, alt.value(0.9), alt.value(0))
    rule: alt.Chart = base.mark_rule(strokeWidth=1).encode(
        x=x, opacity=shown, tooltip=[alt.Tooltip("clock:N"), *numbers]
    )
    return rule.add_params(at)


ZOOM: Final = "zoomed"


def zoom() -> alt.Parameter:
    """Shift and the wheel zoom the hours and a drag moves them; a double click shows all."""
    return alt.selection_interval(
        name=ZOOM,
        bind="scales",
        encodings=["x"],
        zoom="wheel![event.shiftKey]",
        clear="dblclick",
    )
