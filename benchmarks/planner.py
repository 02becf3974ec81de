"""The planner on an invented 18-hole course: finish over bound, and time a station.

The course: two 10-in mains leave the pump, each with an 8-in and a 6-in leg, a 4-in spur a
hole, and 2-in laterals that carry two large heads. Four controllers. The pump is what binds.
"""

from __future__ import annotations

import statistics
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from nightwater.night.bound import finish_bound
from nightwater.night.plan import Limits, Request
from nightwater.night.planner import Placement, plan_runs
from nightwater.pipes.losses import flow_at_velocity_l_s
from nightwater.units import to_si

HOLES: Final = 18
WINDOW_MIN: Final = 480
GREENS_FROM_MIN: Final = 300
LIMIT_M_S: Final = 1.524
BORE_IN: Final = {"10in": 10.0, "8in": 8.0, "6in": 6.1, "4in": 4.15, "2in": 2.149}
RUNS: Final = 5
SIZES: Final = (500, 1000, 2000)
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


def main() -> None:
    base = 0.0
    print("all fits     finish/bound   time a station (500 = 1)")
    for size in SIZES:
        placement, ratio, seconds = timed_plan(size)
        each = seconds / size
        base = base or each
        print(f"{size:>6,}       {ratio:.4f}         {each / base:.2f}   ({seconds:.2f} s)")
        assert not placement.unplaced
    print("over-full    litres run / litres of pump")
    for size in SIZES:
        requests, limits = invented_night(size, OVERFULL_SHARE)
        placement = plan_runs(requests, limits, WINDOW_MIN)
        flow = {r.station: r.flow_l_s for r in requests}
        run = sum(flow[run.station] * run.run_min for run in placement.runs)
        print(f"{size:>6,}       {run / (limits.pump_l_s * WINDOW_MIN):.4f}")


if __name__ == "__main__":
    main()
