"""The planner on an invented 18-hole course: finish over bound, and time a station.

The course: two 10-in mains leave the pump, each with an 8-in and a 6-in leg, a 4-in spur a
hole, and 2-in laterals that carry two large heads. Four controllers. The pump is what binds.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from nightwater.ground.settings import PRIORITY
from nightwater.night.board import problem_of
from nightwater.night.bound import finish_bound
from nightwater.night.over_full import over_full
from nightwater.night.plan import Limits, Request, Run
from nightwater.night.planner import Placement, placement_of, plan_runs
from nightwater.night.replan import moved, replanned
from nightwater.night.requests import litre_worth
from nightwater.night.sweep import Weights, sweep
from nightwater.pipes.losses import flow_at_velocity_l_s
from nightwater.units import to_si

HOLES: Final = 18
WINDOW_MIN: Final = 480
GREENS_FROM_MIN: Final = 300
LIMIT_M_S: Final = 1.524
BORE_IN: Final = {"10in": 10.0, "8in": 8.0, "6in": 6.1, "4in": 4.15, "2in": 2.149}
RUNS: Final = 5
FULL_SHARE: Final = 0.93  # finish that the pump alone would allow, as a share of the window
OVERFULL_SHARE: Final = 1.25


@dataclass(frozen=True)
class Turf:
    """Stations of one kind: share of all, heads, gallons a minute a head, minutes, cycles."""

    kind: str
    share: float
    heads: int
    head_gpm: float
    run_min: tuple[int, int]
    most_cycles: int


TURFS: Final = (
    Turf("green", 0.09, 1, 24.0, (14, 24), 2),
    Turf("tee", 0.06, 2, 14.0, (24, 34), 2),
    Turf("approach", 0.14, 1, 26.0, (16, 26), 2),
    Turf("fairway", 0.36, 1, 27.5, (18, 28), 3),
    Turf("rough", 0.29, 2, 27.5, (14, 26), 2),
    Turf("practice", 0.06, 1, 27.5, (16, 24), 2),
)


def _cycles(run_min: int, count: int) -> tuple[int, ...]:
    """A run in about equal whole cycles."""
    return tuple(run_min // count + (i < run_min % count) for i in range(count))


def _route(hole: int, lateral: int) -> tuple[str, ...]:
    """Pipes from the lateral to the pump: a leg of 10, 8 and 6 in serves nine holes."""
    side, along = divmod(hole, HOLES // 2)
    route = [f"2in-{hole}-{lateral}", f"4in-{hole}"]
    if along >= 6:
        route.append(f"6in-{side}")
    if along >= 3:
        route.append(f"8in-{side}")
    return (*route, f"10in-{side}")


def _stations(count: int) -> Iterator[tuple[Turf, int, int]]:
    """Turf, hole and place on the hole of each station."""
    for turf in TURFS:
        for number in range(round(turf.share * count)):
            yield turf, number % HOLES, number // HOLES


def _request(rng: np.random.Generator, turf: Turf, hole: int, place: int, rank: int) -> Request:
    flow = float(to_si(turf.head_gpm, "gpm")) * turf.heads
    run_min = int(rng.integers(*turf.run_min, endpoint=True))
    cycles = _cycles(run_min, int(rng.integers(1, turf.most_cycles, endpoint=True)))
    # Two single heads, or one pair, share a lateral.
    lateral = place if turf.heads == 2 else place // 2
    route = _route(hole, hash_free(turf.kind) * 1000 + lateral)
    return Request(
        station=f"{hole + 1:02d}-{turf.kind}-{place}",
        kind=turf.kind,
        rank=rank,
        cycles_min=cycles,
        soak_min=int(rng.integers(20, 40)) if len(cycles) > 1 else 0,
        flow_l_s=flow,
        heads=turf.heads,
        controller="ABCD"[hole * 4 // HOLES],
        pipes=tuple((pipe, flow) for pipe in route),
        earliest_min=GREENS_FROM_MIN if turf.kind == "green" else 0,
        latest_min=WINDOW_MIN,
    )


def hash_free(kind: str) -> int:
    """A number a kind, the same in every run of Python."""
    return [turf.kind for turf in TURFS].index(kind)


def invented_night(
    stations: int, share: float = FULL_SHARE, seed: int = 1
) -> tuple[tuple[Request, ...], Limits]:
    """Requests of an invented course and its limits.

    Args:
        stations: about how many.
        share: volume over pump capacity, as a share of the window; over 1 not all fits.
        seed: of the minutes and cycles.
    """
    rng = np.random.default_rng(seed)
    requests = tuple(
        _request(rng, turf, hole, place, rank)
        for rank, (turf, hole, place) in enumerate(_stations(stations))
    )
    volume = sum(r.flow_l_s * sum(r.cycles_min) for r in requests)
    pump = volume / (share * WINDOW_MIN)
    return requests, Limits(pump, _pipe_limits(requests, pump), dict.fromkeys("ABCD", 40))


def _pipe_limits(requests: tuple[Request, ...], pump_l_s: float) -> dict[str, float]:
    """Limits of the bores; mains scaled with the pump, as a larger course has larger ones."""
    names = {pipe for request in requests for pipe, _ in request.pipes}
    small = float(flow_at_velocity_l_s(LIMIT_M_S, 25.4 * 10.0)) * 2
    scale = max(pump_l_s / small * 1.25, 1.0)
    limits: dict[str, float] = defaultdict(float)
    for name in names:
        bore = BORE_IN[name.split("-")[0]]
        limit = float(flow_at_velocity_l_s(LIMIT_M_S, 25.4 * bore))
        limits[name] = limit if bore < 3 else limit * scale
    return dict(limits)


def timed_plan(stations: int, share: float = FULL_SHARE) -> tuple[Placement, float, float]:
    """A placement, its finish over the bound of what it runs, and the time of a run [s]."""
    requests, limits = invented_night(stations, share)
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        placement = plan_runs(requests, limits, WINDOW_MIN)
        times.append(time.process_time() - start)
    left = {item.request.station for item in placement.unplaced}
    bound = finish_bound([r for r in requests if r.station not in left], limits)
    return placement, placement.finish_min / bound.minutes, statistics.median(times)


RAMP_SHARE: Final = 0.28  # of the pump a minute, as at the invented club
PAGE: Final = Path("docs/how/night-benchmarks.md")
HEAD: Final = """# Night: benchmarks

Written by `python -m benchmarks.planner --write`; do not edit. Invented 18-hole courses, linear
limits: pump with a ramp of 28 % of its flow a minute, mains, laterals, four controllers. Time is
processor time of one core. Violations are counted minute by minute apart from the planner. Changes
and starts: mean change of flow from one minute to the next as a share of the pump's, the greatest
one, and starts of the pumps from standstill. *plain* is one sweep of list scheduling without ramp,
search or exchange.

| stations | work | gap | of what | time, s | violations | mean change | greatest | starts |
|---|---|---|---|---|---|---|---|---|
"""


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    name: str
    share: float
    gap: float
    what: str
    seconds: float
    violations: int
    flow: np.ndarray
    pump_l_s: float

    def text(self) -> str:
        step = np.abs(np.diff(np.concatenate([[0.0], self.flow, [0.0]]))) / self.pump_l_s
        ran = np.flatnonzero(self.flow > 0)
        running = np.concatenate([[False], self.flow > 0])
        starts = int((running[1:] & ~running[:-1]).sum())
        mean = step[: ran[-1] + 2].mean()
        return (
            f"| {self.name} | {self.share:.0%} | {self.gap:.2%} | {self.what} | "
            f"{self.seconds:.1f} | {self.violations} | {mean:.2%} | {step.max():.0%} | {starts} |"
        )


def _flow(runs: Sequence[Run], requests: Sequence[Request]) -> np.ndarray:
    amount = {r.station: r.flow_l_s for r in requests}
    flow = np.zeros(WINDOW_MIN + 30)
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += amount[run.station]
    return np.round(flow, 9)


def _violations(runs: Sequence[Run], requests: Sequence[Request], limits: Limits) -> int:
    """Minutes over pump, ramp, pipe or controller, and runs outside hours or soaks."""
    of = {r.station: r for r in requests}
    loads: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(WINDOW_MIN + 30))
    ready: dict[str, int] = {}
    wrong = 0
    for run in sorted(runs, key=lambda run: run.start_min):
        request, end = of[run.station], run.start_min + run.run_min
        wrong += run.start_min < ready.get(run.station, request.earliest_min)
        wrong += end > request.latest_min
        ready[run.station] = end + request.soak_min
        for name, amount in (*request.pipes, (request.controller or "", request.heads)):
            loads[name][run.start_min : end] += amount
    capacity = limits.pipes_l_s | limits.controllers_heads
    wrong += sum(int((load > capacity[n] + 1e-6).sum()) for n, load in loads.items())
    flow = _flow(runs, requests)
    step = np.abs(np.diff(np.concatenate([[0.0], flow, [0.0]])))
    return wrong + int(
        (flow > limits.pump_l_s + 1e-6).sum() + (step > limits.ramp_l_s_min + 1e-6).sum()
    )


def _ranked(requests: Sequence[Request]) -> list[Request]:
    """In the order of the usual priority, worth by kind."""
    found = [replace(r, worth=litre_worth(r.kind, PRIORITY)) for r in requests]
    order = sorted(found, key=lambda r: (-r.worth, r.rank))
    return [replace(r, rank=rank) for rank, r in enumerate(order)]


def line(stations: int, share: float) -> Line:
    """Plan one invented night and measure it."""
    requests, limits = invented_night(stations, share)
    limits = replace(limits, ramp_l_s_min=RAMP_SHARE * limits.pump_l_s)
    asked = _ranked(requests)
    start = time.process_time()
    placed = plan_runs(asked, limits, WINDOW_MIN)
    seconds = time.process_time() - start
    ran = frozenset(run.station for run in placed.runs)
    if placed.unplaced:
        gap, what = over_full(asked, ran, limits, WINDOW_MIN).gap, "value under LP bound"
    else:
        bound = finish_bound(asked, limits)
        gap, what = placed.finish_min / bound.minutes - 1, "finish over bound"
    wrong = _violations(placed.runs, asked, limits)
    flow = _flow(placed.runs, asked)
    return Line(f"{stations:,}", share, gap, what, seconds, wrong, flow, limits.pump_l_s)


def plain_line(stations: int, share: float) -> Line:
    """The same night by one plain sweep that knows no ramp."""
    requests, limits = invented_night(stations, share)
    longer = [replace(r, latest_min=WINDOW_MIN + 30) for r in requests]
    problem = problem_of(longer, limits, WINDOW_MIN + 30)
    start = time.process_time()
    starts = sweep(problem, Weights(queue=0.0, flow_min=0.0))
    seconds = time.process_time() - start
    assert starts is not None
    placed = placement_of(problem, starts)
    ramped = replace(limits, ramp_l_s_min=RAMP_SHARE * limits.pump_l_s)
    gap = placed.finish_min / finish_bound(requests, ramped).minutes - 1
    wrong = _violations(placed.runs, requests, ramped)
    flow, name = _flow(placed.runs, requests), f"{stations:,} plain"
    return Line(name, share, gap, "finish over bound", seconds, wrong, flow, limits.pump_l_s)


def replan_words(stations: int) -> str:
    """How many stations move when one asks for a minute less."""
    requests, limits = invented_night(stations)
    before = plan_runs(requests, limits, WINDOW_MIN)
    first = requests[0]
    less = (*first.cycles_min[:-1], first.cycles_min[-1] - 1)
    changed = [replace(first, cycles_min=less), *requests[1:]]
    start = time.process_time()
    again = replanned(changed, limits, WINDOW_MIN, before.runs)
    seconds = time.process_time() - start
    fresh = plan_runs(changed, limits, WINDOW_MIN)
    kept = "none" if again is None else f"{len(moved(before.runs, again.runs))}"
    return (
        f"A minute less for one of {stations:,} stations moves {kept} in {seconds:.2f} s; planned "
        f"anew without the earlier night, {len(moved(before.runs, fresh.runs)):,} would move."
    )


def main() -> None:
    lines = [plain_line(885, FULL_SHARE), plain_line(1950, FULL_SHARE)]
    lines += [line(n, s) for s in (FULL_SHARE, OVERFULL_SHARE) for n in (500, 885, 1950)]
    page = HEAD + "\n".join(one.text() for one in lines)
    page += "\n\n" + "\n".join(replan_words(n) for n in (885, 1950)) + "\n"
    print(page)
    if "--write" in sys.argv:
        PAGE.write_text(page)


if __name__ == "__main__":
    main()
