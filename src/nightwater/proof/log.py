"""The command log as openings: when each station was open, by the field's own words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, note, warning
from nightwater.night.plan import Night, Run
from nightwater.units import SECONDS_PER_MINUTE

_TRACE_L_S: Final = 1e-7  # what rounding leaves of a sum of flows that is zero


@dataclass(frozen=True)
class Opening:
    """A station open from one minute of the night to another; fractions are seconds."""

    station: str
    start_min: float
    end_min: float


@dataclass(frozen=True)
class Log:
    """What the log says; `known` is whether there is a log at all."""

    known: bool
    openings: tuple[Opening, ...]
    findings: tuple[Finding, ...]

    def commanded_min(self) -> dict[str, float]:
        """Minutes that each station was open."""
        total: dict[str, float] = defaultdict(float)
        for opening in self.openings:
            total[opening.station] += opening.end_min - opening.start_min
        return dict(total)


def minutes_from_start(times: pd.Series[Any], night: Night) -> NDArray[np.float64]:
    """Instants as minutes from the night's start; NaN where one cannot be read."""
    instants = pd.to_datetime(times, utc=True, errors="coerce", format="ISO8601")
    elapsed = instants - pd.Timestamp(night.window.start).tz_convert("UTC")
    seconds: Any = elapsed.dt.total_seconds().to_numpy(dtype=np.float64)
    minutes: NDArray[np.float64] = seconds / SECONDS_PER_MINUTE
    return minutes


def planned_openings(night: Night) -> tuple[Opening, ...]:
    """The plan's runs as openings."""
    return tuple(
        Opening(run.station, run.start_min, run.start_min + run.run_min) for run in night.runs
    )


def _planned_end(runs: list[Run], start_min: float, night: Night) -> float:
    """Where an opening without a close most likely ended: the end of the nearest run."""
    if not runs:
        return float(night.window.minutes)
    near = min(runs, key=lambda run: abs(run.start_min - start_min))
    return max(start_min, float(near.start_min + near.run_min))


def _pairs(
    lines: list[tuple[float, str]], runs: list[Run], night: Night
) -> Iterator[tuple[float, float, bool]]:
    """Start, end and whether the close was logged, for each opening of one station."""
    opened: float | None = None
    for minute, event in lines:
        if event == "open" and opened is None:
            opened = minute
        elif event == "close" and opened is not None:
            yield opened, minute, True
            opened = None
    if opened is not None:
        yield opened, _planned_end(runs, opened, night), False


def _lines(commands: pd.DataFrame, night: Night) -> dict[str, list[tuple[float, str]]]:
    minutes = minutes_from_start(commands["time"], night)
    lines: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for station, minute, event in zip(commands["station"], minutes, commands["event"], strict=True):
        if isinstance(station, str) and not np.isnan(minute) and event != "fault":
            lines[station].append((float(minute), str(event)))
    return {
        station: sorted(rows, key=lambda row: (row[0], row[1] == "open"))
        for station, rows in lines.items()
    }


def _fault_findings(commands: pd.DataFrame) -> Iterator[Finding]:
    faults = commands[commands["event"] == "fault"]
    words: dict[str, Counter[str]] = defaultdict(Counter)
    for station, detail in zip(faults["station"], faults["detail"], strict=True):
        words[station if isinstance(station, str) else ""][str(detail or "no words")] += 1
    for station, details in words.items():
        told = "; ".join(f"{detail} ({count}×)" for detail, count in details.most_common(3))
        subject = f"stations:{station}" if station else "commands:"
        message = f"The field logged a fault of {station or 'no station'}: {told}."
        yield warning("log-fault", subject, message, "See to it, and mend what it names.")


def read_log(commands: pd.DataFrame, night: Night) -> Log:
    """Openings of a command log.

    A close without an open is passed over. An open without a close is taken to end with
    the station's nearest run of the plan, and a finding says so.

    Args:
        commands: rows of the commands table of this night, in any order.
        night: the plan.
    """
    if commands.empty:
        return Log(False, (), ())
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in night.runs:
        runs[run.station].append(run)
    openings, unclosed = [], []
    for station, lines in _lines(commands, night).items():
        for start, end, closed in _pairs(lines, runs[station], night):
            openings.append(Opening(station, start, end))
            if not closed:
                unclosed.append(station)
    findings = list(_fault_findings(commands))
    if unclosed:
        message = (
            f"{len(unclosed)} openings have no close in the log, first of {unclosed[0]}; "
            "they are taken to end with their run in the plan."
        )
        fix = "Look whether these stations still stand open."
        findings.append(note("log-close-missing", f"stations:{unclosed[0]}", message, fix))
    openings.sort(key=lambda opening: (opening.start_min, opening.station))
    return Log(True, tuple(openings), tuple(findings))


def volume_m3(openings: tuple[Opening, ...], flows: dict[str, float]) -> float:
    """Water that openings draw; a station without a flow counts as 0."""
    litres = sum(
        (opening.end_min - opening.start_min) * SECONDS_PER_MINUTE * flows.get(opening.station, 0.0)
        for opening in openings
    )
    return litres / 1000


def flow_by_minute(
    openings: tuple[Opening, ...], flows: dict[str, float], first_min: int, size: int
) -> NDArray[np.float64]:
    """Mean flow that openings draw in each minute [L/s].

    Args:
        openings: stations and minutes; what lies outside the range is cut off.
        flows: flow per station [L/s]; a station without one counts as 0.
        first_min: minute of the night at which the series begins.
        size: number of minutes.
    """
    slopes = np.zeros(size + 2)  # of the volume since the start, whose difference is the mean flow
    for opening in openings:
        flow = flows.get(opening.station, 0.0)
        for minute, sign in ((opening.start_min, 1.0), (opening.end_min, -1.0)):
            place = min(max(minute - first_min, 0.0), float(size))
            whole = int(place)
            slopes[whole] += sign * flow * (1.0 - (place - whole))
            slopes[whole + 1] += sign * flow * (place - whole)
    mean: NDArray[np.float64] = np.cumsum(slopes)[:size]
    return np.where(mean > _TRACE_L_S, mean, 0.0)
