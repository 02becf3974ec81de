"""A whole night out of minutes: requests, order, flow, bound and what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.bound import finish_bound
from nightwater.night.plan import Bound, LeftOut, Night, Pin, Run, StationSum
from nightwater.night.planner import Placement, plan_runs
from nightwater.night.reasons import held_note, left_out_finding, left_out_reason
from nightwater.night.requests import Occasion, Requests, build_requests
from nightwater.night.window import night_window
from nightwater.pipes.network import build_network


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


def _unplaced(placement: Placement, requests: Requests, occasion: Occasion) -> tuple[LeftOut, ...]:
    """What found no place, each with the reason."""
    site = occasion.settings.site
    return tuple(
        LeftOut(
            item.request.station,
            sum(item.request.cycles_min),
            left_out_reason(item, requests.limits, occasion.window, site.timezone, site.units),
        )
        for item in placement.unplaced
    )


def _bound(
    requests: Requests,
    occasion: Occasion,
    sums: Sequence[StationSum],
    holds: pd.DataFrame,
    ran: set[str],
) -> Bound:
    """What no plan of the same runs can beat; pins do not count, since a person can lift them."""
    free = requests
    if occasion.pins:
        free = build_requests(replace(occasion, pins=()), sums, holds)
    return finish_bound([r for r in free.requests if r.station in ran], free.limits)


def plan_night(
    ground: Ground,
    sums: Sequence[StationSum],
    settings: Settings,
    night: date,
    holds: pd.DataFrame,
    *,
    pins: Sequence[Pin] = (),
) -> Night:
    """The night that fits hours, pump, pipes and controllers, and what does not fit.

    Args:
        ground: the record, heads linked to stations.
        sums: minutes of every station.
        settings: the course's rules.
        night: date of the evening on which it starts.
        holds: the holds table.
        pins: starts that somebody set; the rest is placed around them.

    Returns:
        The night. Its bound is that of what it runs: no plan of the same runs ends sooner.

    Raises:
        UserError: no pump in the record, or hours that are no night.
    """
    window = night_window(night, settings.site, settings.night)
    network, pipe_findings = build_network(ground)
    occasion = Occasion(ground, network, settings, night, window, tuple(pins))
    requests = build_requests(occasion, sums, holds)
    placement = plan_runs(requests.requests, requests.limits, window.minutes)
    ran = {run.station for run in placement.runs}
    flows = {item.station: item.flow_l_s for item in sums}
    unplaced = _unplaced(placement, requests, occasion)
    doubts = (*held_note(requests.held), *left_out_finding(unplaced, tuple(sums)))
    return Night(
        night=night,
        window=window,
        runs=placement.runs,
        left_out=(*requests.too_big, *requests.held, *unplaced),
        flow_l_s=tuple(flow_series_l_s(placement.runs, flows, window.minutes).tolist()),
        bound=_bound(requests, occasion, sums, holds, ran),
        finish_min=placement.finish_min,
        sums=tuple(sums),
        findings=(*pipe_findings, *requests.findings, *doubts),
        pump_l_s=requests.limits.pump_l_s,
        pins=tuple(pins),
    )
