"""One line of the station table."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict, dataclass

from nightwater.desk.sheet import clock
from nightwater.night.plan import Night, Run, StationSum
from nightwater.web.places import Named, Places


@dataclass(frozen=True)
class StationRow(Named):
    """What the table shows of a station tonight.

    Attributes:
        need_mm: net depth its area should get.
        run_min: minutes asked for, over all cycles.
        placed_min: minutes the night gives it.
        cycles_min: minutes of each cycle that the night gives it.
        starts: local clock of each cycle.
        start_min: first start, minutes from the night's start; None where it does not run.
        flow_l_s: flow while it runs.
        why_not: why it gets less than it asks, or no water; empty otherwise.
        trimmed: whether a hand change stands in its sum.
    """

    need_mm: float
    run_min: int
    placed_min: int
    cycles_min: tuple[int, ...]
    starts: tuple[str, ...]
    start_min: int | None
    flow_l_s: float
    why_not: str
    trimmed: bool


def runs_by_station(night: Night) -> dict[str, list[Run]]:
    """The runs of each station in order of time."""
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in sorted(night.runs, key=lambda run: run.start_min):
        runs[run.station].append(run)
    return runs


def _row(
    item: StationSum, runs: list[Run], starts: tuple[str, ...], left: str, places: Places
) -> StationRow:
    return StationRow(
        **asdict(places.named(item.station, item.area, item.kind)),
        need_mm=item.need_mm,
        run_min=item.run_min,
        placed_min=sum(run.run_min for run in runs),
        cycles_min=tuple(run.run_min for run in runs),
        starts=starts,
        start_min=runs[0].start_min if runs else None,
        flow_l_s=item.flow_l_s,
        why_not=left or item.why_none,
        trimmed=item.trim_factor != 1 or item.extra_min != 0,
    )


def station_rows(night: Night, places: Places, timezone: str) -> list[StationRow]:
    """One row per station of the plan, in the plan's order."""
    runs = runs_by_station(night)
    left = {item.station: item.reason for item in night.left_out}
    starts = {
        station: tuple(clock(night, run.start_min, timezone) for run in own)
        for station, own in runs.items()
    }
    return [
        _row(
            item,
            runs.get(item.station, []),
            starts.get(item.station, ()),
            left.get(item.station, ""),
            places,
        )
        for item in night.sums
    ]
