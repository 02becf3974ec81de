"""A whole night out of minutes: requests, order, flow, bound and what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.bound import finish_bound
from nightwater.night.over_full import over_full, over_full_note
from nightwater.night.plan import Bound, LeftOut, Limits, Night, Pin, Request, Run, StationSum
from nightwater.night.planner import USUAL, Placement, filled_up, plan_runs
from nightwater.night.reasons import held_note, left_out_finding, left_out_reason
from nightwater.night.replan import replanned
from nightwater.night.requests import Occasion, Requests, build_requests
from nightwater.night.search import Effort
from nightwater.night.true_night import Wet, true_placement, water_notes, wet_network
from nightwater.night.window import night_window
from nightwater.pipes.network import Network, build_network

_MAY_LOSE: Final = 0.001  # of the worth of a night, for a cut, before all is placed anew
_LATER_TRIES: Final = 4  # of the rounds after the first


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
    return finish_bound([r for r in free.widest if r.station in ran], free.limits)


def _placed(
    requests: Requests,
    minutes: int,
    effort: Effort,
    earlier: Sequence[Run] = (),
    may_lose: float = 0.0,
) -> Placement:
    """Every request in its hours; where the calm ones are full, also in the windy."""
    same = replanned(requests.requests, requests.limits, minutes, earlier, may_lose)
    if same is not None:
        return same
    placement = plan_runs(requests.requests, requests.limits, minutes, effort)
    if not any(item.request.station in requests.wide for item in placement.unplaced):
        return placement
    return filled_up(placement, requests.widest, requests.limits, minutes)


def _over_full_notes(placement: Placement, requests: Requests, minutes: int) -> list[Finding]:
    if not placement.unplaced:
        return []
    ran = frozenset(run.station for run in placement.runs)
    found = over_full(requests.widest, ran, requests.limits, minutes)
    return [over_full_note(found, [item.request for item in placement.unplaced])]


def without_loop_margin(settings: Settings) -> Settings:
    """Settings for a network that is solved: loops need no margin."""
    return replace(settings, night=replace(settings.night, loop_margin=1.0))


def linear_settings(ground: Ground, settings: Settings) -> Settings:
    """The settings by whose linear limits a night of this record is planned."""
    return settings if wet_network(ground) is None else without_loop_margin(settings)


def wet_of(ground: Ground, settings: Settings, network: Network) -> Wet | None:
    """The network that the engine can solve, with its rules; None where the record lacks it."""
    solvable = wet_network(ground)
    return None if solvable is None else Wet(solvable, ground, settings.night, network.looped)


def _truly_placed(
    requests: Requests,
    minutes: int,
    effort: Effort,
    wet: Wet | None,
    earlier: Sequence[Run],
) -> tuple[Placement, list[Finding]]:
    """Placed by the linear limits, and where the network can be solved by that as well."""
    if wet is None:
        return _placed(requests, minutes, effort, earlier), []

    def place(some: Sequence[Request], limits: Limits, last: Placement | None) -> Placement:
        cut = replace(requests, requests=tuple(some), limits=limits)
        if last is None:
            return _placed(cut, minutes, effort, earlier)
        fewer = replace(effort, tries=min(effort.tries, _LATER_TRIES))
        return _placed(cut, minutes, fewer, last.runs, _MAY_LOSE)

    outcome = true_placement(wet, requests.requests, requests.limits, minutes, place)
    return outcome.placement, water_notes(outcome)


def plan_night(
    ground: Ground,
    sums: Sequence[StationSum],
    settings: Settings,
    night: date,
    holds: pd.DataFrame,
    *,
    pins: Sequence[Pin] = (),
    weather: pd.DataFrame | None = None,
    effort: Effort = USUAL,
    hydraulic: bool = True,
    earlier: Sequence[Run] = (),
) -> Night:
    """The night that fits hours, pump, pipes and controllers, and what does not fit.

    Args:
        ground: the record, heads linked to stations.
        sums: minutes of every station.
        settings: the course's rules.
        night: date of the evening on which it starts.
        holds: the holds table.
        pins: starts that somebody set; the rest is placed around them.
        weather: rows of the weather table, whose hours tell when it is calm.
        effort: how long the planner may try, and who may stop it.
        earlier: runs of an earlier plan of the same night, of which as few move as may be.
        hydraulic: whether the solved network judges the night, where the record says enough.

    Returns:
        The night. Its bound is that of what it runs: no plan of the same runs ends sooner.

    Raises:
        UserError: no pump in the record, or hours that are no night.
    """
    window = night_window(night, settings.site, settings.night)
    network, pipe_findings = build_network(ground)
    wet = wet_of(ground, settings, network) if hydraulic else None
    rules = settings if wet is None else without_loop_margin(settings)
    occasion = Occasion(ground, network, rules, night, window, tuple(pins), weather)
    requests = build_requests(occasion, sums, holds)
    placement, solved = _truly_placed(requests, window.minutes, effort, wet, earlier)
    ran = {run.station for run in placement.runs}
    flows = {item.station: item.flow_l_s for item in sums}
    unplaced = _unplaced(placement, requests, occasion)
    doubts = (*held_note(requests.held), *left_out_finding(unplaced, tuple(sums)))
    doubts = (*doubts, *_over_full_notes(placement, requests, window.minutes))
    return Night(
        night=night,
        window=window,
        runs=placement.runs,
        left_out=(*requests.too_big, *requests.held, *unplaced),
        flow_l_s=tuple(flow_series_l_s(placement.runs, flows, window.minutes).tolist()),
        bound=_bound(requests, occasion, sums, holds, ran),
        finish_min=placement.finish_min,
        sums=tuple(sums),
        findings=(*pipe_findings, *requests.findings, *solved, *doubts),
        pump_l_s=requests.limits.pump_l_s,
        pins=tuple(pins),
    )
