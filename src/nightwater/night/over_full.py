"""How good a night is that cannot serve all, and what more minutes would bring."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from nightwater.findings import Finding, note
from nightwater.night.board import Problem, problem_of
from nightwater.night.bound import carried_l_s_min
from nightwater.night.plan import Limits, Request
from nightwater.units import SECONDS_PER_MINUTE

_STEP_MIN: Final = 10  # minutes more, to see what they bring
_ROUNDING_SHARE: Final = 1e-9
_WINDOW: Final = "window"

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class _Rows:
    """Work of all whose hours lie between two minutes, against what a resource carries there."""

    names: tuple[str, ...]
    ends: tuple[int, ...]
    matrix: Numbers
    most: Numbers
    per_min: Numbers


@dataclass(frozen=True)
class Served:
    """The relaxed night: any share of each station, work over hours and nothing else.

    Attributes:
        share: of each request, 0 to 1.
        value: worth of the litres served; no night serves more.
        binding: the resource whose limit is worth most, "" where all fits.
    """

    share: Numbers
    value: float
    binding: str


@dataclass(frozen=True)
class OverFull:
    """A night that cannot serve all.

    Attributes:
        value: worth of the litres that it serves.
        bound: worth that no night passes.
        binding: the resource that binds, as in `Bound`.
        clear_min: minutes longer the night must be for all to fit by this count; None where
            no longer night helps, as hours of kinds or holds bind.
        more_l_min: litres that each more minute of night brings at first, by kind.
    """

    value: float
    bound: float
    binding: str
    clear_min: int | None
    more_l_min: dict[str, float]

    @property
    def gap(self) -> float:
        """Share of the bound that the night does not deliver; no better night saves more."""
        return 1 - self.value / self.bound if self.bound > 0 else 0.0


def _volumes_l(requests: Sequence[Request]) -> Numbers:
    return np.array(
        [r.flow_l_s * sum(r.cycles_min) * SECONDS_PER_MINUTE for r in requests], dtype=float
    )


def _spans(problem: Problem) -> Iterator[tuple[int, int]]:
    """Every stretch from an earliest minute to a latest one."""
    starts = sorted({r.earliest_min for r in problem.requests} | {0})
    ends = sorted({r.latest_min for r in problem.requests} | {problem.minutes})
    yield from ((start, end) for start, end in product(starts, ends) if start < end)


def _carried(problem: Problem, row: int, start: int, end: int) -> float:
    """What a resource carries between two minutes; a pump that ramps less in a whole night."""
    capacity = float(problem.capacity[row])
    whole = problem.names[row] == "pump" and (start, end) == (0, problem.minutes)
    if whole and np.isfinite(problem.ramp_l_s_min):
        return float(carried_l_s_min(end, capacity, problem.ramp_l_s_min)[-1])
    return capacity * (end - start)


def _rows(problem: Problem) -> _Rows:
    """The limits that all the work together would break."""
    requests = problem.requests
    earliest = np.array([r.earliest_min for r in requests])
    latest = np.array([r.latest_min for r in requests])
    minutes = np.array([sum(r.cycles_min) for r in requests], dtype=float)
    work = np.zeros((len(problem.names), len(requests)))
    for index, (rows, amounts) in enumerate(zip(problem.rows, problem.amounts, strict=True)):
        work[rows, index] = amounts * minutes[index]
    names, ends, kept, most = [], [], [], []
    for start, end in _spans(problem):
        inside = work * ((earliest >= start) & (latest <= end))
        for row in np.flatnonzero(inside.any(axis=1)):
            limit = _carried(problem, int(row), start, end)
            if inside[row].sum() > limit * (1 + _ROUNDING_SHARE):
                names.append(problem.names[row])
                ends.append(end)
                kept.append(inside[row])
                most.append(limit)
    matrix = np.array(kept).reshape(-1, len(requests))
    per_min = np.array([problem.capacity[problem.names.index(name)] for name in names])
    return _Rows(tuple(names), tuple(ends), matrix, np.array(most), per_min)


def relaxed(requests: Sequence[Request], limits: Limits, window_min: int) -> Served:
    """The worth that no night passes, by a linear program over shares of stations.

    Args:
        requests: what the stations ask; one whose hours are too short counts as 0.
        limits: what one minute may carry.
        window_min: minutes of the night.

    Reference: linear relaxation, solved by HiGHS through SciPy.
    """
    problem = problem_of(requests, limits, window_min)
    rows = _rows(problem)
    worth = _volumes_l(requests) * np.array([r.worth for r in requests], dtype=float)
    if not rows.names:
        return Served(np.ones(len(requests)), float(worth.sum()), "")
    solved = linprog(-worth, A_ub=rows.matrix, b_ub=rows.most, bounds=(0, 1), method="highs")
    price = -np.asarray(solved.ineqlin.marginals) * rows.most
    return Served(
        np.asarray(solved.x), -float(solved.fun or 0.0), rows.names[int(np.argmax(price))]
    )


def _longer(requests: Sequence[Request], window_min: int, more_min: int) -> list[Request]:
    """Requests of a night that ends later."""
    return [
        replace(r, latest_min=r.latest_min + more_min) if r.latest_min == window_min else r
        for r in requests
    ]


def _clear_min(requests: Sequence[Request], limits: Limits, window_min: int) -> int | None:
    """How much longer the night must be before no limit is broken by all the work."""
    rows = _rows(problem_of(requests, limits, window_min))
    last = max((r.latest_min for r in requests), default=window_min)
    if any(end < last for end in rows.ends):
        return None
    lack = rows.matrix.sum(axis=1) - rows.most
    return int(np.ceil((lack / rows.per_min - _ROUNDING_SHARE).max(initial=0.0)))


def over_full(
    requests: Sequence[Request], served: frozenset[str], limits: Limits, window_min: int
) -> OverFull:
    """What a night serves against what any could, and what binds it.

    Args:
        requests: what the stations ask.
        served: stations that run.
        limits: what one minute may carry.
        window_min: minutes of the night.
    """
    best = relaxed(requests, limits, window_min)
    volume = _volumes_l(requests)
    worth = np.array([r.worth for r in requests]) * volume
    runs = np.array([r.station in served for r in requests])
    longer = relaxed(_longer(requests, window_min, _STEP_MIN), limits, window_min + _STEP_MIN)
    gain = (longer.share - best.share) * volume / _STEP_MIN
    more: dict[str, float] = {}
    for request, litres in zip(requests, gain.tolist(), strict=True):
        more[request.kind] = more.get(request.kind, 0.0) + litres
    clear = _clear_min(requests, limits, window_min)
    return OverFull(float(worth[runs].sum()), best.value, best.binding, clear, more)


def _binding_words(binding: str) -> str:
    kind, _, name = binding.partition(":")
    return "The pump" if kind == "pump" else f"{kind.capitalize()} {name}" if name else "The hours"


def over_full_note(found: OverFull, left: Sequence[Request]) -> Finding:
    """What binds an over-full night, in a sentence."""
    kinds = sorted({request.kind for request in left})
    gains = {kind: litres for kind, litres in found.more_l_min.items() if litres > 1.0}
    kind = max(gains, key=lambda name: gains[name], default="")
    each = (
        f" Each more minute brings about {gains[kind] / 1000:,.1f} m³, most of it to {kind}."
        if kind
        else ""
    )
    longer = (
        f"about {found.clear_min} more minutes of night would clear what is left out "
        f"({', '.join(kinds)})"
        if found.clear_min
        else "a longer night alone would not clear what is left out"
    )
    return note(
        "night-over-full",
        "nights:*",
        f"{_binding_words(found.binding)} binds: {longer}.{each} By priority the night delivers "
        f"at least {math.floor(1000 * (1 - found.gap)) / 10:.1f} % of what any night could.",
        "Lengthen the night, or raise what binds, if the rest must be watered too.",
    )
