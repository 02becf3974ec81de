"""Linear limits tightened where the solved network disagrees with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from nightwater.night.plan import Limits, Request
from nightwater.night.waters import OpenSet, Trouble

_LOSS_POWER: Final = 1.852  # Hazen–Williams
_SAFE: Final = 0.995
_MOST_SHARE: Final = 0.5
_LEAST_SHARE: Final = 0.5  # no cut takes more than this off at once
_AS_ALONE: Final = 1e-9


@dataclass(frozen=True)
class Cuts:
    """What the solved network has asked for so far.

    Attributes:
        pipes_l_s: pipe id → flow it may carry at any time.
        beside_l_s: (station, pipe id) → flow the pipe may carry while that station runs.
    """

    pipes_l_s: Mapping[str, float]
    beside_l_s: Mapping[tuple[str, str], float]

    def __len__(self) -> int:
        return len(self.pipes_l_s) + len(self.beside_l_s)


NONE: Final = Cuts({}, {})


def _loads(stations: OpenSet, requests: Mapping[str, Request]) -> dict[str, float]:
    """Flow in each pipe by the linear rule."""
    loads: dict[str, float] = {}
    for station in sorted(stations):
        for pipe, flow in requests[station].pipes:
            loads[pipe] = loads.get(pipe, 0.0) + flow
    return loads


def _fast_cuts(
    trouble: Trouble, loads: Mapping[str, float], looped: Iterable[str]
) -> dict[str, float]:
    """A pipe that is too fast may carry less; one without linear load makes its loop do so."""
    found = {}
    for pipe, over in trouble.fast.items():
        named = pipe
        if loads.get(pipe, 0.0) <= 0:
            beside = [(loads[name], name) for name in looped if loads.get(name, 0.0) > 0]
            if not beside:
                continue
            named = max(beside)[1]
        found[named] = loads[named] * max(_SAFE / over, _LEAST_SHARE)
    return found


def _low_cut(
    request: Request, lack_kpa: float, trouble: Trouble, loads: Mapping[str, float]
) -> tuple[str, float] | None:
    """The pipe on a low station's way that loses most to others, and what it may carry."""
    own = dict(request.pipes)
    shared = [
        (trouble.loss_kpa.get(pipe, 0.0), pipe)
        for pipe in own
        if loads[pipe] > own[pipe] * (1 + _AS_ALONE)
    ]
    if not shared:
        return None
    loss, pipe = max(shared)
    share = max(1 - lack_kpa / loss, 0.0) ** (1 / _LOSS_POWER) if loss > 0 else 0.0
    wanted = loads[pipe] * max(share, _LEAST_SHARE) * _SAFE
    return pipe, max(wanted, own[pipe] * (1 + _AS_ALONE))


def more_cuts(
    cuts: Cuts,
    troubles: Mapping[OpenSet, Trouble],
    requests: Mapping[str, Request],
    hopeless: frozenset[str],
    looped: Iterable[str],
) -> Cuts:
    """The cuts with those that what went wrong asks for.

    Args:
        cuts: those so far.
        troubles: what is wrong, by open set.
        requests: by station, as the linear rule loads the pipes.
        hopeless: stations that are low by themselves, for which nothing is cut.
        looped: ids of the pipes on a loop.
    """
    pipes, beside = dict(cuts.pipes_l_s), dict(cuts.beside_l_s)
    for stations, trouble in troubles.items():
        loads = _loads(stations, requests)
        for pipe, most in _fast_cuts(trouble, loads, looped).items():
            pipes[pipe] = min(pipes.get(pipe, most), most)
        for station, lack in trouble.low.items():
            cut = None if station in hopeless else _low_cut(requests[station], lack, trouble, loads)
            if cut is not None:
                key = (station, cut[0])
                beside[key] = min(beside.get(key, cut[1]), cut[1])
    return Cuts(pipes, beside)


def _of_most(cuts: Cuts, requests: Mapping[str, Request]) -> dict[str, float]:
    """Pipes of which most of the work has a cut beside it: the largest of these holds always.

    Charges of many stations at once would count the same cut many times.
    """
    work: dict[str, float] = {}
    cut: dict[str, float] = {}
    for station, request in requests.items():
        for pipe, flow in request.pipes:
            mine = flow * sum(request.cycles_min)
            work[pipe] = work.get(pipe, 0.0) + mine
            if (station, pipe) in cuts.beside_l_s:
                cut[pipe] = cut.get(pipe, 0.0) + mine
    return {
        pipe: max(most for (_, name), most in cuts.beside_l_s.items() if name == pipe)
        for pipe, mine in cut.items()
        if mine > _MOST_SHARE * work[pipe]
    }


def cut_limits(limits: Limits, cuts: Cuts, requests: Mapping[str, Request]) -> Limits:
    """Limits with the cuts of pipes; none below what one station by itself asks."""
    least: dict[str, float] = {}
    for request in requests.values():
        for pipe, flow in request.pipes:
            least[pipe] = max(least.get(pipe, 0.0), flow)
    wanted = _of_most(cuts, requests)
    for pipe, most in cuts.pipes_l_s.items():
        wanted[pipe] = min(wanted.get(pipe, most), most)
    tighter = {
        pipe: max(min(most, limits.pipes_l_s.get(pipe, most)), least.get(pipe, 0.0))
        for pipe, most in wanted.items()
    }
    return replace(limits, pipes_l_s=limits.pipes_l_s | tighter)


def cut_requests(requests: Iterable[Request], cuts: Cuts, limits: Limits) -> list[Request]:
    """Requests that take so much of a pipe that beside them it carries only what it may.

    While a station s runs, the others may put Q′ − q on the pipe. With s charged as
    C − (Q′ − q) of the pipe's limit C, the plain rule "all charges ≤ C" says just that.
    """
    found = []
    for request in requests:
        charged = []
        for pipe, flow in request.pipes:
            most = cuts.beside_l_s.get((request.station, pipe))
            limit = limits.pipes_l_s.get(pipe)
            if most is not None and limit is not None and most < limit:
                charged.append((pipe, min(limit - (most - flow), limit)))
            else:
                charged.append((pipe, flow))
        found.append(replace(request, pipes=tuple(charged)))
    return found
