"""A finish that no plan of the same requests can beat."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from nightwater.night.plan import Bound, Limits, Request

_ROUNDING = 1e-9


def chain_min(request: Request) -> int:
    """Minutes from the first start to the last end of a request, its soaks kept."""
    return sum(request.cycles_min) + request.soak_min * (len(request.cycles_min) - 1)


def resource_loads(request: Request) -> Iterator[tuple[str, float]]:
    """What a request uses while it runs: "pump", "pipe:ID" and "controller:ID", and how much."""
    yield "pump", request.flow_l_s
    for pipe, flow in request.pipes:
        yield f"pipe:{pipe}", flow
    if request.controller is not None:
        yield f"controller:{request.controller}", float(request.heads)


def _limit(resource: str, limits: Limits) -> float | None:
    kind, _, name = resource.partition(":")
    if kind == "pump":
        return limits.pump_l_s
    if kind == "pipe":
        return limits.pipes_l_s.get(name)
    heads = limits.controllers_heads.get(name)
    return None if heads is None else float(heads)


def _work_bounds(requests: Sequence[Request], limits: Limits) -> Iterator[Bound]:
    """Per resource: all work that cannot start before a minute, over what a minute carries."""
    work: dict[str, list[tuple[int, float]]] = {}
    for request in requests:
        minutes = sum(request.cycles_min)
        for resource, amount in resource_loads(request):
            work.setdefault(resource, []).append((request.earliest_min, amount * minutes))
    for resource, pieces in work.items():
        limit = _limit(resource, limits)
        if limit is not None and limit > 0:
            yield Bound(_latest_finish(pieces, limit), resource)
    if math.isfinite(limits.ramp_l_s_min):
        yield _ramp_bound(sum(amount for _, amount in work["pump"]), limits)


def carried_l_s_min(most_min: int, pump_l_s: float, ramp_l_s_min: float) -> NDArray[np.float64]:
    """What a pump carries in 1, 2 … minutes, rising from nothing and falling to nothing.

    In n minutes the flow of minute k is at most the pump's, k ramps and n + 1 − k ramps.

    Returns:
        Flow times minutes [L/s · min], shape (most_min,).
    """
    rise = np.minimum(ramp_l_s_min * np.arange(1, most_min + 2), pump_l_s)
    before = np.concatenate([[0.0], np.cumsum(rise)])
    minutes = np.arange(1, most_min + 1)
    half = minutes // 2
    carried: NDArray[np.float64] = 2 * before[half] + np.where(minutes % 2, rise[half], 0.0)
    return carried


def _ramp_bound(work_l_s_min: float, limits: Limits) -> Bound:
    """The first count of minutes in which a pump that ramps carries all the work."""
    pump, ramp = limits.pump_l_s, limits.ramp_l_s_min
    most = math.ceil(work_l_s_min / pump + 2 * pump / ramp) + 2
    carried = carried_l_s_min(most, pump, ramp)
    return Bound(int(np.searchsorted(carried, work_l_s_min - _ROUNDING)) + 1, "pump")


def _latest_finish(pieces: list[tuple[int, float]], limit: float) -> int:
    starts, amounts = (np.array(column, dtype=float) for column in zip(*pieces, strict=True))
    order = np.argsort(-starts, kind="stable")
    after = np.cumsum(amounts[order])
    return math.ceil(float((starts[order] + after / limit).max()) - _ROUNDING)


def _chain_bounds(requests: Sequence[Request]) -> Iterator[Bound]:
    longest = max(requests, key=lambda request: request.earliest_min + chain_min(request))
    yield Bound(longest.earliest_min + chain_min(longest), f"chain:{longest.station}")


def finish_bound(requests: Sequence[Request], limits: Limits) -> Bound:
    """The earliest minute at which any plan of these requests can end.

    It is the largest of: for the pump, for every pipe and every controller, a minute plus the
    work that cannot start before it over what one minute carries; and for every station its
    earliest start plus its cycles and soaks. A ramp leaves the pump less of its first and last
    minutes. Each holds for every plan, so the largest does.

    Args:
        requests: what the night runs; what it leaves out is not in it.
        limits: what one minute may carry.

    Returns:
        The bound and what makes it; 0 and "nothing" without requests.
    """
    if not requests:
        return Bound(0, "nothing")
    bounds = [*_work_bounds(requests, limits), *_chain_bounds(requests)]
    return max(bounds, key=lambda bound: bound.minutes)
