"""What may still be watered before play: the stations without water, in order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from nightwater.ground.settings import Settings
from nightwater.night.plan import Night, StationSum
from nightwater.proof.result import Rescue, StationProof, Verdict
from nightwater.proof.stations import net_depth_mm

CAUTION: Final = (
    "These runs are computed, not observed. People and machines may be on the course: start "
    "nothing before somebody on site has seen that its ground is clear and confirms it."
)


def _rank(settings: Settings, station: StationProof) -> tuple[int, float, str]:
    order = settings.night.priority
    place = order.index(station.kind) if station.kind in order else len(order)
    return place, station.delivered_min - station.planned_min, station.station


def _cycles(row: StationSum | None, run_min: int) -> tuple[int, ...]:
    """A run in as few cycles as its soil takes, as even as whole minutes allow."""
    if row is None or row.max_cycle_min <= 0:
        return (run_min,)
    count = math.ceil(run_min / row.max_cycle_min)
    return tuple(run_min // count + (place < run_min % count) for place in range(count))


def _offsets(cycles: Sequence[int], soak_min: int) -> tuple[int, ...]:
    """Minutes from the first start to the start of each cycle."""
    return tuple(sum(cycles[:place]) + place * soak_min for place in range(len(cycles)))


class _Pumps:
    """The flow that the rescue draws minute by minute, filled station after station."""

    def __init__(self, capacity_l_s: float) -> None:
        self._capacity_l_s = capacity_l_s
        self._load_l_s = np.zeros(0)

    def take(self, flow_l_s: float, cycles: Sequence[int], offsets: Sequence[int]) -> int:
        """The first minute from which all cycles find flow enough; it is then theirs.

        A station that draws more than the pumps give runs alone. Without a capacity
        nothing is shared.
        """
        chain = offsets[-1] + cycles[-1]
        load = np.concatenate([self._load_l_s, np.zeros(2 * chain)])
        room = max(self._capacity_l_s - flow_l_s, 0.0) + 1e-6
        taken = np.concatenate([[0], np.cumsum(load > room)])
        starts = np.arange(len(self._load_l_s) + 1)
        crowded = sum(
            taken[starts + offset + length] - taken[starts + offset]
            for offset, length in zip(offsets, cycles, strict=True)
        )
        start = int(np.argmin(crowded)) if self._capacity_l_s > 0 else 0
        for offset, length in zip(offsets, cycles, strict=True):
            load[start + offset : start + offset + length] += flow_l_s
        self._load_l_s = load[: max(len(self._load_l_s), start + chain)]
        return start


def rescue_list(
    night: Night,
    stations: Sequence[StationProof],
    flows: dict[str, float],
    settings: Settings,
    minutes: int,
) -> tuple[Rescue, ...]:
    """Red stations by priority of their kind, most missing minutes first.

    Args:
        night: the plan.
        stations: the verdicts.
        flows: flow per station [L/s].
        settings: priority of kinds.
        minutes: minutes from the night's end to the first tee.

    Each station starts as early as the pumps can serve it beside those before it in the
    list; pipes and controllers are not looked at.
    """
    sums = {row.station: row for row in night.sums}
    red = [row for row in stations if row.verdict is Verdict.RED and row.planned_min > 0]
    found, pumps = [], _Pumps(night.pump_l_s)
    for station in sorted(red, key=lambda row: _rank(settings, row)):
        row = sums.get(station.station)
        missing = max(station.planned_min - station.delivered_min, 0.0)
        run_min = max(math.ceil(missing - 1e-6), row.floor_min if row else 1)
        cycles = _cycles(row, run_min)
        offsets = _offsets(cycles, row.soak_min if row else 0)
        chain_min = offsets[-1] + cycles[-1]
        start_min = pumps.take(flows.get(station.station, 0.0), cycles, offsets)
        ready = start_min + chain_min
        found.append(
            Rescue(
                station=station.station,
                area=station.area,
                kind=station.kind,
                missing_mm=net_depth_mm(row, missing),
                missing_min=missing,
                run_min=run_min,
                cycles=len(cycles),
                chain_min=chain_min,
                ready_min=ready,
                fits=ready <= minutes,
                start_min=start_min,
            )
        )
    return tuple(found)
