"""A whole night out of minutes: requests, order, flow, bound and what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, warning
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.bound import finish_bound
from nightwater.night.plan import LeftOut, Limits, Night, Run, StationSum
from nightwater.night.planner import Unplaced, plan_runs
from nightwater.night.requests import Occasion, Requests, build_requests
from nightwater.night.window import night_window
from nightwater.pipes.network import build_network
from nightwater.units import UnitSystem, shown


def flow_series_l_s(
    runs: Sequence[Run], flow_l_s: dict[str, float], minutes: int
) -> NDArray[np.float64]:
    """Flow of all runs at every minute of a night [L/s], shape (minutes,)."""
    steps = np.zeros(minutes + 1)
    for run in runs:
        steps[run.start_min] += flow_l_s[run.station]
        steps[run.start_min + run.run_min] -= flow_l_s[run.station]
    # Sums of steps leave crumbs of rounding where nothing runs.
    return np.round(np.cumsum(steps)[:-1], 9) + 0.0


def _blocked_words(blocked_by: str, limits: Limits, units: UnitSystem) -> str:
    kind, _, name = blocked_by.partition(":")
    if kind == "pump":
        return f"the pump is full: a plan may use {shown(limits.pump_l_s, 'l_s', units)} of it"
    if kind == "pipe":
        limit = shown(limits.pipes_l_s[name], "l_s", units)
        return f"pipe {name} is full: it may carry {limit}"
    if kind == "controller":
        most = limits.controllers_heads[name]
        return f"controller {name} is full: it may hold {most} heads open"
    if kind == "window":
        return "its hours are too short for its cycles and soaks"
    return "pump, pipes and controller together leave no gap long enough for its cycles"


def _left_out(unplaced: Sequence[Unplaced], requests: Requests, units: UnitSystem) -> list[LeftOut]:
    return [
        LeftOut(
            item.request.station,
            sum(item.request.cycles_min),
            _blocked_words(item.blocked_by, requests.limits, units),
        )
        for item in unplaced
    ]


def _left_out_finding(left: Sequence[LeftOut], sums: Sequence[StationSum]) -> list[Finding]:
    if not left:
        return []
    kind = {item.station: item.kind for item in sums}
    counts = pd.Series([kind[item.station] for item in left]).value_counts()
    listed = ", ".join(f"{count} {name}" for name, count in counts.items())
    return [
        warning(
            "left-out",
            f"stations:{left[0].station}",
            f"{len(left)} stations do not run tonight ({listed}); "
            f"{sum(item.owed_min for item in left)} minutes are owed.",
            "The account carries them over. Look at the reasons; a longer window or another "
            "priority would change which they are.",
        )
    ]


def plan_night(
    ground: Ground,
    sums: Sequence[StationSum],
    settings: Settings,
    night: date,
    holds: pd.DataFrame,
) -> Night:
    """The night that fits hours, pump, pipes and controllers, and what does not fit.

    Args:
        ground: the record, heads linked to stations.
        sums: minutes of every station.
        settings: the course's rules.
        night: date of the evening on which it starts.
        holds: the holds table.

    Returns:
        The night. Its bound is that of what it runs: no plan of the same runs ends sooner.

    Raises:
        UserError: no pump in the record, or hours that are no night.
    """
    window = night_window(night, settings.site, settings.night)
    network, pipe_findings = build_network(ground)
    occasion = Occasion(ground, network, settings, night, window)
    requests = build_requests(occasion, sums, holds)
    placement = plan_runs(requests.requests, requests.limits, window.minutes)
    ran = {run.station for run in placement.runs}
    flows = {item.station: item.flow_l_s for item in sums}
    left = [
        *requests.left_out,
        *_left_out(placement.unplaced, requests, settings.site.units),
    ]
    return Night(
        night=night,
        window=window,
        runs=placement.runs,
        left_out=tuple(left),
        flow_l_s=tuple(flow_series_l_s(placement.runs, flows, window.minutes).tolist()),
        bound=finish_bound([r for r in requests.requests if r.station in ran], requests.limits),
        finish_min=placement.finish_min,
        sums=tuple(sums),
        findings=(*pipe_findings, *requests.findings, *_left_out_finding(left, sums)),
        pump_l_s=requests.limits.pump_l_s,
    )
