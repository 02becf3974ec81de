"""Move one station of a night to a start that somebody wants; all others stay."""

from __future__ import annotations

from dataclasses import replace

from nightwater.night.build import flow_series_l_s
from nightwater.night.plan import Night, Pin, Run


def runs_of(night: Night, station: str) -> list[Run]:
    """The runs of a station in order of time."""
    return sorted((r for r in night.runs if r.station == station), key=lambda run: run.start_min)


def can_move(night: Night, station: str, start_min: int) -> str | None:
    """Why a station cannot start then at all, or None; limits are the referee's affair."""
    mine = runs_of(night, station)
    if not mine:
        return "it does not run in this night"
    last = start_min + mine[-1].start_min - mine[0].start_min + mine[-1].run_min
    if start_min < 0:
        return "that is before the night starts"
    if last > night.window.minutes:
        return "its last cycle would end after the night"
    return None


def moved(night: Night, station: str, start_min: int, author: str) -> Night:
    """The night with one station's cycles moved together, and its start pinned.

    Flow and finish follow; the bound stays, for what runs is the same. Findings are left as
    they were: the referee makes them anew.

    Raises:
        ValueError: see `can_move`.
    """
    refused = can_move(night, station, start_min)
    if refused is not None:
        raise ValueError(f"{station}: {refused}")
    shift = start_min - runs_of(night, station)[0].start_min
    shifted = [
        replace(run, start_min=run.start_min + shift) if run.station == station else run
        for run in night.runs
    ]
    runs = tuple(sorted(shifted, key=lambda run: (run.start_min, run.station)))
    pins = [pin for pin in night.pins if pin.station != station]
    flows = {item.station: item.flow_l_s for item in night.sums}
    return replace(
        night,
        runs=runs,
        flow_l_s=tuple(flow_series_l_s(runs, flows, night.window.minutes).tolist()),
        finish_min=max(run.start_min + run.run_min for run in runs),
        pins=(*pins, Pin(station, start_min, author)),
    )


def unpinned(night: Night, station: str) -> Night:
    """The night with one pin taken out; the station stays where it is until a plan moves it."""
    return replace(night, pins=tuple(pin for pin in night.pins if pin.station != station))
