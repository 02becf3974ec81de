"""What may still be watered before play: the stations without water, in order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from nightwater.ground.settings import Settings
from nightwater.night.plan import Night, StationSum
from nightwater.proof.result import Rescue, StationProof, Verdict
from nightwater.proof.stations import net_depth_mm
from nightwater.units import SECONDS_PER_MINUTE

CAUTION: Final = (
    "These runs are computed, not observed. People and machines may be on the course: start "
    "nothing before somebody on site has seen that its ground is clear and confirms it."
)


def _rank(settings: Settings, station: StationProof) -> tuple[int, float, str]:
    order = settings.night.priority
    place = order.index(station.kind) if station.kind in order else len(order)
    return place, station.delivered_min - station.planned_min, station.station


def _chain(row: StationSum | None, run_min: int) -> tuple[int, int]:
    """Cycles of a run, and minutes from the first start to the last end with soaks."""
    if row is None or row.max_cycle_min <= 0:
        return 1, run_min
    cycles = math.ceil(run_min / row.max_cycle_min)
    return cycles, run_min + (cycles - 1) * row.soak_min


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
    """
    sums = {row.station: row for row in night.sums}
    red = [row for row in stations if row.verdict is Verdict.RED and row.planned_min > 0]
    found, volume_l = [], 0.0
    for station in sorted(red, key=lambda row: _rank(settings, row)):
        row = sums.get(station.station)
        missing = max(station.planned_min - station.delivered_min, 0.0)
        run_min = max(math.ceil(missing - 1e-6), row.floor_min if row else 1)
        cycles, chain_min = _chain(row, run_min)
        volume_l += run_min * SECONDS_PER_MINUTE * flows.get(station.station, 0.0)
        pump_min = volume_l / (night.pump_l_s * SECONDS_PER_MINUTE) if night.pump_l_s > 0 else 0.0
        ready = max(chain_min, math.ceil(pump_min - 1e-6))
        found.append(
            Rescue(
                station=station.station,
                area=station.area,
                kind=station.kind,
                missing_mm=net_depth_mm(row, missing),
                missing_min=missing,
                run_min=run_min,
                cycles=cycles,
                chain_min=chain_min,
                ready_min=ready,
                fits=ready <= minutes,
            )
        )
    return tuple(found)
