"""How much of what the stations ask a night can carry at the most, and what holds it back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from nightwater.night.bound import chain_min, resource_loads
from nightwater.night.plan import Limits, Request

PUMP: Final = "pump"
_SLACK: Final = 1e-7
_L_PER_M3: Final = 1000.0
_S_PER_MIN: Final = 60.0

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Load:
    """What one resource is asked for in a whole night.

    Attributes:
        resource: "pump", "pipe:ID", "controller:ID" or "chain:ID" (a station's own clock).
        least_min: minutes that it needs for its work if it does nothing else and waits for
            nothing; no plan takes fewer.
        hours_min: minutes in which that work may be done.
    """

    resource: str
    least_min: float
    hours_min: int

    @property
    def share(self) -> float:
        """Of its minutes; above 1 not all of the work can be done."""
        return self.least_min / self.hours_min if self.hours_min else math.inf


@dataclass(frozen=True)
class Ceiling:
    """The most water that any plan can deliver of what is asked, by the linear relaxation.

    Attributes:
        asked_m3, most_m3: water of all requests, and the most of it.
        minutes: of the night.
        price: per resource, m³ more for one more unit of its limit through the whole night (L/s,
            or a head); only those that hold the night back.
        minute_m3: m³ more for one more minute of the night at the same limits.
    """

    asked_m3: float
    most_m3: float
    minutes: int
    price: Mapping[str, float] = field(default_factory=dict)
    minute_m3: float = 0.0

    @property
    def share(self) -> float:
        """Of what is asked; 1 where nothing is."""
        return self.most_m3 / self.asked_m3 if self.asked_m3 > 0 else 1.0


def volume_m3(request: Request) -> float:
    """Water of a request [m³]."""
    return request.flow_l_s * sum(request.cycles_min) * _S_PER_MIN / _L_PER_M3


def capacities(limits: Limits) -> dict[str, float]:
    """Every limit by the name of its resource."""
    known = {PUMP: limits.pump_l_s}
    known |= {f"pipe:{pipe}": flow for pipe, flow in limits.pipes_l_s.items()}
    return known | {f"controller:{c}": float(n) for c, n in limits.controllers_heads.items()}


def loads(requests: Sequence[Request], limits: Limits) -> list[Load]:
    """Every resource with a limit, the most loaded first.

    Args:
        requests: what is asked.
        limits: what one minute may carry.
    """
    capacity = capacities(limits)
    work: dict[str, float] = {}
    hours: dict[str, tuple[int, int]] = {}
    for request in requests:
        for resource, amount in resource_loads(request):
            work[resource] = work.get(resource, 0.0) + amount * sum(request.cycles_min)
            first, last = hours.get(resource, (request.earliest_min, request.latest_min))
            hours[resource] = min(first, request.earliest_min), max(last, request.latest_min)
    found = [
        Load(name, amount / capacity[name], hours[name][1] - hours[name][0])
        for name, amount in work.items()
        if capacity.get(name, 0.0) > 0
    ]
    if requests:
        found.append(max(map(_clock, requests), key=lambda load: load.share))
    return sorted(found, key=lambda load: (-load.share, load.resource))


def _clock(request: Request) -> Load:
    hours = request.latest_min - request.earliest_min
    return Load(f"chain:{request.station}", float(chain_min(request)), hours)


@dataclass(frozen=True)
class _Program:
    """Minutes of each request in each stretch of the night, within what the stretch carries."""

    request: NDArray[np.int64]  # per column
    stretch: NDArray[np.int64]
    lengths: Numbers
    count: int

    def lacking(self) -> bool:
        return not len(self.request)


def _stretches(requests: Sequence[Request], minutes: int) -> _Program:
    """Columns: each request in each stretch between the hours at which some kind begins or ends."""
    marks = {0, minutes}
    for request in requests:
        marks |= {request.earliest_min, request.latest_min}
    edges = np.array(sorted(mark for mark in marks if 0 <= mark <= minutes))
    pairs = [
        (index, place)
        for index, request in enumerate(requests)
        for place in range(len(edges) - 1)
        if request.earliest_min <= edges[place] and edges[place + 1] <= request.latest_min
    ]
    columns = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return _Program(columns[:, 0], columns[:, 1], np.diff(edges).astype(float), len(requests))


def _resource_rows(
    requests: Sequence[Request], program: _Program, capacity: Mapping[str, float]
) -> tuple[coo_array, Numbers, list[str]]:
    """One row per resource and stretch: flow (or heads) times minutes, and what it holds."""
    rows: dict[tuple[str, int], int] = {}
    at, columns, amounts = [], [], []
    for column, (index, place) in enumerate(zip(program.request, program.stretch, strict=True)):
        for resource, amount in resource_loads(requests[index]):
            if resource in capacity:
                at.append(rows.setdefault((resource, int(place)), len(rows)))
                columns.append(column)
                amounts.append(amount)
    shape = (len(rows), len(program.request))
    held = np.array([capacity[name] * program.lengths[place] for name, place in rows], dtype=float)
    return coo_array((amounts, (at, columns)), shape=shape), held, [name for name, _ in rows]


def ceiling(requests: Sequence[Request], limits: Limits, minutes: int) -> Ceiling:
    """The most water that any plan can deliver.

    A linear program: minutes may be cut into any pieces, soaks and whole minutes are left out, but
    in no stretch of the night does pump, pipe or path carry more than its limit, no station
    runs longer than the stretch, and none waters outside its hours. Every plan satisfies
    all that, so none delivers more. Its dual values are the shadow prices: they hold for
    small changes; a larger one is priced by solving again.

    Args:
        requests: what is asked.
        limits: what one minute may carry.
        minutes: of the night.

    Returns:
        The ceiling; its prices are empty where all that is asked is within it.

    Reference: linear programming by HiGHS (Huangfu and Hall 2018) through SciPy.
    """
    asked = sum(map(volume_m3, requests))
    program = _stretches(requests, minutes)
    if program.lacking():
        return Ceiling(asked, 0.0, minutes)
    rows, held, names = _resource_rows(requests, program, capacities(limits))
    columns = np.arange(len(program.request))
    whole = coo_array(
        (np.ones(len(columns)), (program.request, columns)), shape=(program.count, len(columns))
    )
    wanted = np.array([float(sum(request.cycles_min)) for request in requests])
    worth = np.array([requests[i].flow_l_s for i in program.request]) * _S_PER_MIN / _L_PER_M3
    from_rows = np.concatenate([rows.row, whole.row + rows.shape[0]])
    table = coo_array(
        (
            np.concatenate([rows.data, whole.data]),
            (from_rows, np.concatenate([rows.col, whole.col])),
        ),
        shape=(rows.shape[0] + program.count, len(columns)),
    )
    longest = program.lengths[program.stretch]
    bounds: Any = np.column_stack([np.zeros(len(columns)), longest])
    matrix: Any = table.tocsr()
    solved = linprog(
        -worth, A_ub=matrix, b_ub=np.concatenate([held, wanted]), bounds=bounds,
        method="highs",
    )  # fmt: skip
    if solved.fun is None:  # zero is always allowed and the worth has a limit
        raise RuntimeError(f"The linear program was not solved: {solved.message}")
    price, minute = _prices(-solved.ineqlin.marginals[: len(names)], held, names, limits, minutes)
    return Ceiling(asked, float(-solved.fun), minutes, price, minute)


def _prices(
    dual: Numbers, held: Numbers, names: Sequence[str], limits: Limits, minutes: int
) -> tuple[dict[str, float], float]:
    """Duals by resource: of one more unit all night, and of one more minute at the same limits."""
    capacity = capacities(limits)
    price: dict[str, float] = {}
    minute = 0.0
    for name, value, room in zip(names, dual.tolist(), held.tolist(), strict=True):
        if value > _SLACK:
            price[name] = price.get(name, 0.0) + value * room / capacity[name]
            minute += value * room / minutes
    ordered = dict(sorted(price.items(), key=lambda item: (-item[1] * capacity[item[0]], item[0])))
    return ordered, minute


@dataclass(frozen=True)
class Change:
    """A change of the system to be priced.

    Attributes:
        key: "window", "pump", "pipe:ID" or "controller:ID".
        limits, minutes: what then holds.
        requests: what is asked then, with the hours that go with it.
    """

    key: str
    limits: Limits
    minutes: int
    requests: tuple[Request, ...]


def longer(requests: Sequence[Request], limits: Limits, minutes: int, more_min: int) -> Change:
    """The night some minutes longer at its end."""
    stretched = tuple(
        replace(one, latest_min=one.latest_min + more_min) if one.latest_min >= minutes else one
        for one in requests
    )
    return Change("window", limits, minutes + more_min, stretched)


def stronger(
    requests: Sequence[Request], limits: Limits, minutes: int, resource: str, factor: float
) -> Change:
    """One limit multiplied: "pump", "pipe:ID" or "controller:ID" (rounded down to heads)."""
    kind, _, name = resource.partition(":")
    if kind == PUMP:
        changed = replace(limits, pump_l_s=limits.pump_l_s * factor)
    elif kind == "pipe":
        pipes = limits.pipes_l_s | {name: limits.pipes_l_s[name] * factor}
        changed = replace(limits, pipes_l_s=pipes)
    else:
        heads = math.floor(limits.controllers_heads[name] * factor + _SLACK)
        changed = replace(limits, controllers_heads=limits.controllers_heads | {name: heads})
    return Change(resource, changed, minutes, tuple(requests))
