"""A night in steps of a few minutes: what is open, what flows, how long each has run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightwater.night.plan import Night

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Frame:
    """One step of the film.

    Attributes:
        minute: from the night's start.
        open: ids of the stations that run in this minute.
        heads: heads they hold open.
        flow_l_s: flow of that minute; 0 at the night's end.
        volume_m3: water since the night's start.
    """

    minute: int
    open: tuple[str, ...]
    heads: int
    flow_l_s: float
    volume_m3: float


def frame_minutes(night: Night, step_min: int) -> list[int]:
    """The minutes of the frames: every step, and the night's end."""
    last = night.window.minutes
    return [*range(0, last, step_min), last]


def frames(night: Night, step_min: int) -> tuple[Frame, ...]:
    """The frames of a night.

    Raises:
        ValueError: a step below one minute.
    """
    if step_min < 1:
        raise ValueError(f"a step of {step_min} min; it must be at least 1")
    heads = {item.station: item.heads for item in night.sums}
    flow = np.append(np.asarray(night.flow_l_s, dtype=float), 0.0)
    volume = np.append(0.0, np.cumsum(flow)) * 60 / 1000
    made = []
    for minute in frame_minutes(night, step_min):
        running = sorted(
            {r.station for r in night.runs if r.start_min <= minute < r.start_min + r.run_min}
        )
        made.append(
            Frame(
                minute,
                tuple(running),
                sum(heads.get(station, 0) for station in running),
                float(flow[minute]) if minute < len(flow) else 0.0,
                float(volume[min(minute, len(volume) - 1)]),
            )
        )
    return tuple(made)


def run_so_far_min(night: Night, stations: Sequence[str], minutes: Sequence[int]) -> Numbers:
    """How long each station has run by some minutes of the night [min].

    Returns:
        Shape (minutes, stations); a station that does not run has 0.
    """
    place = {station: number for number, station in enumerate(stations)}
    at = np.asarray(minutes, dtype=float)
    so_far = np.zeros((len(at), len(stations)))
    for run in night.runs:
        column = place.get(run.station)
        if column is not None:
            so_far[:, column] += np.clip(at - run.start_min, 0.0, run.run_min)
    return so_far
