"""480 minutes of a night through the engine, beside the bare engine on the same steps.

The course is invented: a loop of mains with 36 branches, 2,500 junctions, a head at every second
one, 60 heads open and four of them changed each minute. Times are of this process's own work.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Final

import numpy as np
from epanet import toolkit
from numpy.typing import NDArray

from nightwater.pipes.emitters import Emitters
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import Feed, HydraulicNetwork, Pump
from nightwater.pipes.pump_curves import pump_curve
from nightwater.units import KPA_PER_M_WATER

BRANCHES: Final = 36
BRANCH_NODES: Final = 68
MINUTES: Final = 480
OPEN: Final = 60
CHANGED: Final = 4
SET_KPA: Final = 830.0
MAIN_MM, LATERAL_MM, HEADER_MM = 198.2, 80.4, 293.1


def _pipes() -> list[tuple[int, int, float, float]]:
    """Start, end, length m and bore mm: a ring of mains, and a lateral at each of its joints."""
    ring = [(0, 1, 20.0, HEADER_MM), (0, BRANCHES, 20.0, HEADER_MM)]
    ring += [(node, node + 1, 120.0, MAIN_MM) for node in range(1, BRANCHES)]
    for branch in range(BRANCHES):
        first = 1 + BRANCHES + branch * BRANCH_NODES
        ring.append((1 + branch, first, 10.0, LATERAL_MM))
        ring += [(first + k, first + k + 1, 9.0, LATERAL_MM) for k in range(BRANCH_NODES - 1)]
    return ring


def _feed(rng: np.random.Generator) -> Feed:
    curve = pump_curve("P", {"capacity_l_s": 60.0, "head_m": 95.0})
    pumps = tuple(Pump(f"P{number}", curve, 0.92, True) for number in range(3))
    return Feed("pumps:P0", 0, pumps, -4.0, SET_KPA / KPA_PER_M_WATER, SET_KPA)


def _network(rng: np.random.Generator, *, regulated: bool) -> HydraulicNetwork:
    pipes = _pipes()
    nodes = 1 + BRANCHES + BRANCHES * BRANCH_NODES
    at = np.arange(1 + BRANCHES, nodes, 2)
    one, count = np.ones(len(at)), len(pipes)
    nozzle = (np.array([[450.0, 1.7, 20.0]]), 0.5)
    return HydraulicNetwork(
        places=np.zeros((nodes, 2)),
        elevation_m=np.concatenate([[0.0], rng.uniform(-8, 12, nodes - 1)]),
        kind=np.full(count, "pipe", dtype="U9"),
        owner=np.array([f"p{row}" for row in range(count)], dtype=object),
        start=np.array([pipe[0] for pipe in pipes]),
        end=np.array([pipe[1] for pipe in pipes]),
        length_m=np.array([pipe[2] for pipe in pipes]),
        diameter_mm=np.array([pipe[3] for pipe in pipes]),
        roughness=np.full(count, 145.0),
        is_open=np.ones(count, dtype=bool),
        setting_m=np.full(count, np.nan),
        heads=tuple(f"h{row}" for row in range(len(at))),
        head_node=at,
        station=np.array([f"s{row}" for row in range(len(at))], dtype=object),
        emitters=Emitters(
            np.zeros(len(at), dtype=np.int64),
            (nozzle,),
            one,
            one,
            450.0 * one,
            np.full(len(at), regulated),
        ),
        feeds=(_feed(rng),),
        left_out=frozenset(),
    )


def _night(rng: np.random.Generator, heads: int) -> NDArray[np.bool_]:
    """Open heads of every minute, no two minutes alike."""
    on = np.zeros((MINUTES, heads), dtype=bool)
    now = rng.choice(heads, OPEN, replace=False)
    for minute in range(MINUTES):
        free = np.setdiff1d(np.arange(heads), now)
        now = np.concatenate([now[CHANGED:], rng.choice(free, CHANGED, replace=False)])
        on[minute, now] = True
    return on


def _seconds(deed: Callable[[], object]) -> float:
    start = time.process_time()
    deed()
    return time.process_time() - start


def _bare(engine: Engine, network: HydraulicNetwork, night: NDArray[np.bool_]) -> None:
    """The engine's own steps and nothing else: outlets set, flows begun anew, solved."""
    project = engine._project
    k = network.emitters.coefficients(network.emitters.design_kpa)
    none = np.zeros(len(network.elevation_m))
    for on in night:
        at = np.bincount(network.head_node, weights=np.where(on, k, 0.0), minlength=len(none))
        project.emit(at, none)
        toolkit.initH(project._handle, toolkit.INITFLOW)
        toolkit.runH(project._handle)


def _measured(*, regulated: bool) -> str:
    rng = np.random.default_rng(5)
    network = _network(rng, regulated=regulated)
    night = _night(rng, len(network.heads))
    with Engine(network) as engine:
        bare = _seconds(lambda: _bare(engine, network, night))
        ours = _seconds(lambda: engine.solve(night))
        solution = engine.solve(night)
    return (
        f"{len(network.elevation_m)} junctions, {MINUTES} different minutes, heads "
        f"{'regulated' if regulated else 'plain'}: {ours:.2f} s, {ours / bare:.2f} times the bare "
        f"engine; {len(solution.findings)} findings, {solution.feed_flow_l_s.mean():.0f} L/s"
    )


def main() -> None:
    """Print the time of a night, and its ratio to the bare engine."""
    for regulated in (False, True):
        print(_measured(regulated=regulated))


if __name__ == "__main__":
    main()
