"""What each station asks of the night, with every limit that binds it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

import pandas as pd

from nightwater.findings import Finding, UserError, warning
from nightwater.ground.links import area_holes
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.bound import chain_min
from nightwater.night.holds import Held, free_minutes, holds_by_subject, holds_of, station_subjects
from nightwater.night.hours import NightHours, calm_span, run_by_min, station_spans
from nightwater.night.neighbours import neighbour_pairs
from nightwater.night.plan import LeftOut, Limits, Pin, Request, StationSum, Window
from nightwater.pipes.energy import power_per_flow_kw_s_l
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.network import Network
from nightwater.units import UnitSystem, shown

_ROUNDING_SHARE: Final = 1e-9
_MUST: Final = 256.0  # what must run tonight counts before all kinds
_NO_HOLE: Final = 10_000  # areas of no hole come after all holes


@dataclass(frozen=True)
class Requests:
    """What may be planned, its limits, and what cannot run tonight at all.

    Attributes:
        requests: what the planner places.
        limits: what one minute may carry.
        too_big: stations that exceed a limit by themselves.
        held: stations that a hold leaves no room.
        findings: doubts about them.
        wide: of stations that were kept to the calm hours, what they may use without wind.
    """

    requests: tuple[Request, ...]
    limits: Limits
    too_big: tuple[LeftOut, ...]
    held: tuple[LeftOut, ...]
    findings: tuple[Finding, ...]
    wide: Mapping[str, Request] = field(default_factory=dict)

    @property
    def widest(self) -> tuple[Request, ...]:
        """The requests with all the hours that they may use, windy or calm."""
        return tuple(self.wide.get(one.station, one) for one in self.requests)


def night_limits(ground: Ground, network: Network, settings: Settings) -> Limits:
    """What one minute of the night may carry.

    Raises:
        UserError: the record has no pump.
    """
    pump = float(ground.pumps["capacity_l_s"].sum())
    if pump <= 0:
        raise UserError(
            "The record has no pump, so nothing says how much water the night can have. "
            "Survey the pump station as pumps, with capacity_gpm or capacity_l_s."
        )
    usual = settings.night.max_heads_on
    heads = ground.controllers["max_heads_on"].fillna(usual).astype(int)
    stated = {str(name): int(most) for name, most in heads.items()}
    named = {str(name) for name in ground.stations["controller"].dropna()}
    ramp = float(ground.pumps["ramp_l_s_min"].sum())
    return Limits(
        pump_l_s=min(pump * settings.night.pump_use, _power_limit_l_s(ground, settings)),
        pipes_l_s=pipe_limits_l_s(ground.pipes, network.looped, settings.night),
        controllers_heads={name: stated.get(name, usual) for name in sorted(named)},
        ramp_l_s_min=ramp if ramp > 0 else math.inf,
        apart=neighbour_pairs(ground, settings.night.apart_m),
        starts_h=_starts_h(ground),
    )


def _starts_h(ground: Ground) -> int | None:
    stated = ground.pumps["max_starts_h"].dropna()
    return None if stated.empty else int(stated.min())


def _power_limit_l_s(ground: Ground, settings: Settings) -> float:
    """Flow at which the pumps draw the most power that they may; endless without a ceiling."""
    if settings.night.max_kw <= 0:
        return math.inf
    kw_per_l_s = power_per_flow_kw_s_l(ground.pumps)
    return settings.night.max_kw / kw_per_l_s if kw_per_l_s > 0 else math.inf


def station_pipes(ground: Ground, network: Network) -> dict[str, tuple[tuple[str, float], ...]]:
    """Flow that each station puts on each pipe between its heads and the feed [L/s]."""
    flows = head_flow_l_s(ground.heads, ground.nozzles)
    loads: dict[str, dict[str, float]] = {}
    for head, station, flow in zip(
        ground.heads.index.astype(str), ground.heads["station"], flows, strict=True
    ):
        if not isinstance(station, str) or pd.isna(flow):
            continue
        mine = loads.setdefault(station, {})
        for pipe in network.routes.get(head, ()):
            mine[pipe] = mine.get(pipe, 0.0) + float(flow)
    return {station: tuple(pipes.items()) for station, pipes in loads.items()}


def _hole_number(ground: Ground, hole: str | None) -> int:
    if hole is None or hole not in ground.holes.index:
        return _NO_HOLE
    number = ground.holes["number"].get(hole)
    return _NO_HOLE if number is None or pd.isna(number) else int(number)


def ranked(sums: Sequence[StationSum], ground: Ground, settings: Settings) -> list[StationSum]:
    """Sums in the order in which they are served: kind, greater need, hole, label."""
    priority = {kind: place for place, kind in enumerate(settings.night.priority)}
    holes = area_holes(ground)
    labels = ground.stations["label"]

    def key(item: StationSum) -> tuple[int, float, int, str]:
        hole = holes.get(item.area)
        number = _hole_number(ground, None if hole is None or pd.isna(hole) else str(hole))
        place = priority.get(item.kind, len(priority))
        return place, -round(item.need_mm), number, str(labels.get(item.station))

    return sorted(sums, key=key)


def _too_big(request: Request, limits: Limits, units: UnitSystem) -> str | None:
    """A limit that a station exceeds all by itself, in words; None where there is none."""
    slack = 1 + _ROUNDING_SHARE
    if request.flow_l_s > limits.pump_l_s * slack:
        return (
            f"it asks {shown(request.flow_l_s, 'l_s', units)} and the pump may give "
            f"{shown(limits.pump_l_s, 'l_s', units)}"
        )
    if request.flow_l_s > limits.ramp_l_s_min * slack:
        return (
            f"it asks {shown(request.flow_l_s, 'l_s', units)} at once and the pumps follow "
            f"{shown(limits.ramp_l_s_min, 'l_s', units)} a minute"
        )
    for pipe, flow in request.pipes:
        limit = limits.pipes_l_s.get(pipe)
        if limit is not None and flow > limit * slack:
            return (
                f"it asks {shown(flow, 'l_s', units)} of pipe {pipe}, which may carry "
                f"{shown(limit, 'l_s', units)}"
            )
    most = limits.controllers_heads.get(request.controller or "")
    if most is not None and request.heads > most:
        return f"it has {request.heads} heads and controller {request.controller} holds {most} open"
    return None


def _too_big_finding(request: Request, words: str) -> Finding:
    return warning(
        "station-too-big",
        f"stations:{request.station}",
        f"Station {request.station} can never run: {words}.",
        "Look at its heads, nozzles and pipe in the record, or split the station.",
    )


@dataclass(frozen=True)
class Occasion:
    """What a night is planned on: record, pipes, rules, date, hours, and starts set by hand.

    `weather` holds rows of the weather table, for the calm hours.
    """

    ground: Ground
    network: Network
    settings: Settings
    night: date
    window: Window
    pins: tuple[Pin, ...] = ()
    weather: pd.DataFrame | None = None


def pinned(request: Request, pins: Mapping[str, int], minutes: int) -> Request:
    """A request whose first cycle starts at its pin and whose cycles follow without delay.

    A pin outside the hours of the station's kind stays outside; the referee says so. One with
    which the cycles would not end in the night's minutes no longer counts.
    """
    start = pins.get(request.station)
    if start is None or not 0 <= start <= minutes - chain_min(request):
        return request
    return replace(request, earliest_min=start, latest_min=start + chain_min(request))


def _requests(sums: Sequence[StationSum], occasion: Occasion) -> list[Request]:
    ground, settings, window = occasion.ground, occasion.settings, occasion.window
    pipes = station_pipes(ground, occasion.network)
    control = ground.stations["controller"]
    hours = NightHours(settings, occasion.night, window)
    subjects = station_subjects(ground, sums)
    spans = station_spans(sums, subjects, hours)
    must = set(run_by_min(hours))
    first = {item.station for item in sums if not must.isdisjoint(subjects[item.station])}
    requests = []
    in_order = sorted(ranked(sums, ground, settings), key=lambda item: item.station not in first)
    for rank, item in enumerate(in_order):
        name = control.get(item.station)
        earliest, latest = spans[item.station]
        requests.append(
            Request(
                station=item.station,
                kind=item.kind,
                rank=rank,
                cycles_min=item.cycles_min,
                soak_min=item.soak_min,
                flow_l_s=item.flow_l_s,
                heads=item.heads,
                controller=None if name is None or pd.isna(name) else str(name),
                pipes=pipes.get(item.station, ()),
                earliest_min=earliest,
                latest_min=latest,
                worth=litre_worth(item.kind, settings.night.priority)
                * (_MUST if item.station in first else 1.0),
            )
        )
    return requests


def litre_worth(kind: str, priority: Sequence[str]) -> float:
    """What a litre counts when not all fits: twice that of the kind next in `priority`."""
    place = priority.index(kind) if kind in priority else len(priority)
    return float(2 ** (len(priority) - place))


def _calmed(
    requests: Sequence[Request], occasion: Occasion
) -> tuple[tuple[Request, ...], dict[str, Request]]:
    """Wind-sensitive kinds kept to the calm hours, and those requests as they were."""
    settings = occasion.settings
    hours = NightHours(settings, occasion.night, occasion.window, occasion.weather)
    calm = calm_span(hours) if settings.night.wind_kinds else None
    if calm is None:
        return tuple(requests), {}
    found, wide = [], {}
    for request in requests:
        earliest, latest = max(request.earliest_min, calm[0]), min(request.latest_min, calm[1])
        narrow = (earliest, latest) != (request.earliest_min, request.latest_min)
        fits = latest - earliest >= chain_min(request)
        if request.kind in settings.night.wind_kinds and narrow and fits:
            wide[request.station] = request
            request = replace(request, earliest_min=earliest, latest_min=latest)  # noqa: PLW2901
        found.append(request)
    return tuple(found), wide


def _asked_min(request: Request) -> int:
    return sum(request.cycles_min)


def _sorted_out(
    requests: Sequence[Request],
    holds: Mapping[str, list[Held]],
    limits: Limits,
    units: UnitSystem,
) -> tuple[list[Request], list[LeftOut], list[LeftOut], list[Finding]]:
    """Requests within the minutes that holds leave them; what is too big; what is held."""
    kept: list[Request] = []
    too_big: list[LeftOut] = []
    held: list[LeftOut] = []
    findings: list[Finding] = []
    for request in requests:
        big = _too_big(request, limits, units)
        if big is not None:
            too_big.append(LeftOut(request.station, _asked_min(request), f"can never run: {big}"))
            findings.append(_too_big_finding(request, big))
            continue
        mine = holds.get(request.station, [])
        earliest, latest = free_minutes(request.earliest_min, request.latest_min, mine)
        if mine and latest - earliest < chain_min(request):
            first = mine[0]
            owed_min = _asked_min(request)
            held.append(LeftOut(request.station, owed_min, first.reason, first.hold))
            continue
        kept.append(replace(request, earliest_min=earliest, latest_min=latest))
    return kept, too_big, held, findings


def build_requests(occasion: Occasion, sums: Sequence[StationSum], holds: pd.DataFrame) -> Requests:
    """What the stations ask of a night, and what cannot run at all.

    A hold takes away the minutes it covers; a station keeps the longest stretch that is
    left, and waits for another night when its cycles and soaks do not fit there.

    Args:
        occasion: record, pipes, rules, date and hours.
        sums: minutes of the stations; those without minutes ask nothing.
        holds: the holds table.

    Raises:
        UserError: no pump in the record, or a clock time that is none.
    """
    ground, settings = occasion.ground, occasion.settings
    asking = [item for item in sums if item.cycles_min]
    limits = night_limits(ground, occasion.network, settings)
    by_subject = holds_by_subject(holds, occasion.window)
    subjects = station_subjects(ground, asking, by_subject) if by_subject else {}
    holding = {name: holds_of(mine, by_subject) for name, mine in subjects.items()}
    requests = _requests(asking, occasion)
    starts = {pin.station: pin.start_min for pin in occasion.pins}
    requests = [pinned(request, starts, occasion.window.minutes) for request in requests]
    kept, too_big, held, findings = _sorted_out(requests, holding, limits, settings.site.units)
    placed, wide = _calmed(kept, occasion)
    return Requests(placed, limits, tuple(too_big), tuple(held), tuple(findings), wide)
