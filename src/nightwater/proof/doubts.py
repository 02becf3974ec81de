"""What a proof finds wrong with a night, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nightwater.findings import Finding, error, note, warning
from nightwater.ground.settings import Settings
from nightwater.night.plan import Night
from nightwater.proof.log import Log
from nightwater.proof.meter import (
    BASE_FLOW_SHARE,
    BLOCK_TOLERANCE,
    TOTAL_TOLERANCE,
    Meter,
    Series,
    quiet_stretches,
    stretches,
)
from nightwater.proof.result import Block, StationProof, Verdict
from nightwater.units import shown

_MOST_TOLD = 5


@dataclass(frozen=True)
class Witnesses:
    """A night beside its log and its meter; the series run along the meter's minutes.

    Attributes:
        planned, commanded: mean flow by plan and by log [L/s].
        expected: `commanded` where there is a log, else `planned`.
        wanted: minutes in which stations were open.
        dry: minutes in which stations were open and nothing flowed.
        blocks: half hours, expected against metered.
        dead: controllers that gave no water, though the log says that they ran.
    """

    night: Night
    settings: Settings
    log: Log
    meter: Meter
    planned: Series
    commanded: Series
    wanted: NDArray[np.bool_]
    dry: NDArray[np.bool_]
    blocks: tuple[Block, ...]
    dead: frozenset[str]

    @property
    def expected(self) -> Series:
        """What the meter is compared with."""
        return self.commanded if self.log.known else self.planned

    @property
    def read(self) -> NDArray[np.bool_]:
        """Which minutes the meter was read."""
        return ~np.isnan(self.meter.flow_l_s)

    @property
    def subject(self) -> str:
        """The night, as the subject of a finding."""
        return f"nights:{self.night.night.isoformat()}"

    def clock(self, minute: float) -> str:
        """A minute of the night as the course's clock shows it."""
        instant = self.night.window.start.astimezone(UTC) + timedelta(minutes=minute)
        return instant.astimezone(ZoneInfo(self.settings.site.timezone)).strftime("%H:%M")

    def place_clock(self, place: int) -> str:
        """The clock at a place of the series."""
        return self.clock(place + self.meter.first_min)

    def text(self, value: float, suffix: str) -> str:
        """A number in the units of the course."""
        return shown(value, suffix, self.settings.site.units)


def missing_witnesses(seen: Witnesses) -> Iterator[Finding]:
    """A log or a meter that is not there, in whole or in part."""
    if not seen.log.known:
        message = "There is no command log of this night, so nothing is proved to have been opened."
        yield warning(
            "proof-log-missing",
            seen.subject,
            message,
            "Read it with 'nightwater log … --as commands'.",
        )
    window = seen.meter.window(seen.night, seen.read)
    missing = int((~window).sum())
    if not window.any() and missing:
        message = "There is no meter series of this night, so no station is proved to have run."
        yield warning(
            "proof-meter-missing",
            seen.subject,
            message,
            "Read it with 'nightwater log … --as samples'.",
        )
    elif missing:
        start = next(stretches(~window))[0]
        message = (
            f"The meter was not read in {missing} of {len(window)} min, first at "
            f"{seen.clock(start)}; these minutes prove nothing."
        )
        yield warning("proof-meter-gaps", seen.subject, message, "Look why readings are missing.")


def stretches_without_water(seen: Witnesses) -> Iterator[Finding]:
    """Times at which stations were open and the meter stood still."""
    idle = seen.dry | ~seen.wanted
    dry = [np.flatnonzero(seen.dry[a:b]) + a for a, b in stretches(idle) if seen.dry[a:b].any()]
    for minutes in dry[:_MOST_TOLD]:
        lost_m3 = float(seen.expected[minutes].sum()) * 60 / 1000
        message = (
            f"From {seen.place_clock(int(minutes[0]))} to "
            f"{seen.place_clock(int(minutes[-1]) + 1)} stations were open and no water flowed: "
            f"{seen.text(lost_m3, 'm3')} are missing."
        )
        fix = "Look at the pump's fault list, then at main valve and meter."
        yield error("proof-no-flow", seen.subject, message, fix)
    if len(dry) > _MOST_TOLD:
        message = f"No water flowed in {len(dry) - _MOST_TOLD} more stretches of the night."
        yield error("proof-no-flow", seen.subject, message, "Look at the red stations.")


def paths_dead(seen: Witnesses) -> Iterator[Finding]:
    """Paths that the log says ran, and that the meter does not show."""
    for path in sorted(seen.dead):
        message = f"Path {path} is logged as running, and the meter shows none of its water."
        fix = "Look at the path's power, cable and fuse; rescue its stations."
        yield error("proof-path-dead", f"controllers:{path}", message, fix)


def total_off(seen: Witnesses, compared_m3: float, metered_m3: float) -> Iterator[Finding]:
    """The night's total against the meter."""
    if compared_m3 > 0 and abs(metered_m3 / compared_m3 - 1) > TOTAL_TOLERANCE:
        message = (
            f"The meter counted {seen.text(metered_m3, 'm3')} where "
            f"{seen.text(compared_m3, 'm3')} should have run: {metered_m3 / compared_m3 - 1:+.1%}, "
            f"and {TOTAL_TOLERANCE:.0%} are usual."
        )
        yield warning("proof-total-off", seen.subject, message, "Look at the blocks that differ.")


def blocks_off(seen: Witnesses, blocks: Sequence[Block]) -> Iterator[Finding]:
    """Half hours in which the meter and the open stations disagree."""
    off = [block for block in blocks if block.agrees is False]
    if not off:
        return
    told = ", ".join(
        f"{seen.clock(block.start_min)}–{seen.clock(block.end_min)} ({block.share:.0%})"
        for block in off[:_MOST_TOLD]
    )
    more = f" and {len(off) - _MOST_TOLD} more" if len(off) > _MOST_TOLD else ""
    message = (
        f"In {len(off)} of {len(blocks)} blocks the meter differs by more than "
        f"{BLOCK_TOLERANCE:.0%} from what open stations draw: {told}{more}."
    )
    fix = "Look at the stations of these blocks on the ground."
    yield warning("proof-block-off", seen.subject, message, fix)


def base_flow_high(seen: Witnesses, base_l_s: float, peak_l_s: float) -> Iterator[Finding]:
    """Flow when nothing should run."""
    quiet = quiet_stretches(seen.meter, seen.expected)
    if not quiet:
        if seen.read.any():
            message = "The meter shows no quiet stretch, so flow of leaks cannot be told."
            fix = "Read the meter 15 minutes before and after the night as well."
            yield note("proof-base-flow-unknown", seen.subject, message, fix)
        return
    if peak_l_s > 0 and base_l_s > BASE_FLOW_SHARE * peak_l_s:
        start, end, _ = next(row for row in quiet if row[2] == base_l_s)
        message = (
            f"{seen.text(base_l_s, 'l_s')} flow from {seen.place_clock(start)} to "
            f"{seen.place_clock(end)}, when nothing should run ({base_l_s / peak_l_s:.1%} of the "
            f"peak; {BASE_FLOW_SHARE:.0%} is usual). Over a whole day that is "
            f"{seen.text(base_l_s * 86.4, 'm3')}."
        )
        fix = "Look for a leak or a station that stands open, close the main section by section."
        yield warning("proof-base-flow", seen.subject, message, fix)


def stations_off(seen: Witnesses, stations: Sequence[StationProof]) -> Iterator[Finding]:
    """Stations that the log does not show, and those that nobody planned."""
    silent = [
        row.station
        for row in stations
        if row.verdict is Verdict.RED
        and not math.isnan(row.commanded_min)
        and row.commanded_min < 0.5
    ]
    if silent:
        message = f"{len(silent)} planned stations were never opened by the log: {_names(silent)}."
        fix = "Look at their controller or path, and at their wire."
        yield error("proof-not-commanded", f"stations:{silent[0]}", message, fix)
    unplanned = [row.station for row in stations if not row.planned_min and row.commanded_min > 0]
    if unplanned:
        message = f"{len(unplanned)} stations ran that the plan does not hold: {_names(unplanned)}."
        fix = "Look for a program of the control that starts by itself."
        yield warning("proof-unplanned", f"stations:{unplanned[0]}", message, fix)


def _names(stations: Sequence[str]) -> str:
    more = f" and {len(stations) - _MOST_TOLD} more" if len(stations) > _MOST_TOLD else ""
    return ", ".join(stations[:_MOST_TOLD]) + more
