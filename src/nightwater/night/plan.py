"""The data classes that planner, referee, rehearsal, proof and pages share."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime

from nightwater.findings import Finding
from nightwater.night.hand_changes import ActingHold, ActingTrim


@dataclass(frozen=True)
class Window:
    """The dark hours a night may use: whole minutes, zone-aware, end not included."""

    start: datetime
    end: datetime

    @property
    def minutes(self) -> int:
        """Whole minutes between start and end, right across a change of clocks."""
        elapsed = self.end.astimezone(UTC) - self.start.astimezone(UTC)
        return int(elapsed.total_seconds() // 60)


@dataclass(frozen=True)
class Request:
    """What one station asks of the night, with all the limits that bind it.

    Attributes:
        station: its id.
        kind: area kind of most of its flow, which sets its priority.
        rank: order of service when not all fits; smaller is served first.
        cycles_min: minutes of each cycle, in order; their sum is the whole run.
        soak_min: least minutes between the end of one cycle and the start of the next.
        flow_l_s: flow while it runs.
        heads: heads it opens.
        controller: id of its controller, or None.
        pipes: ids of the pipes that carry its flow, with the flow on each [L/s].
        earliest_min, latest_min: window of its kind, minutes from the night's start;
            it must end by `latest_min`.
        worth: what a litre of it counts when not all fits.
    """

    station: str
    kind: str
    rank: int
    cycles_min: tuple[int, ...]
    soak_min: int
    flow_l_s: float
    heads: int
    controller: str | None
    pipes: tuple[tuple[str, float], ...]
    earliest_min: int
    latest_min: int
    worth: float = 1.0


@dataclass(frozen=True)
class Limits:
    """What the plan may use at any minute.

    Attributes:
        pump_l_s: flow of all pumps that a plan may use.
        pipes_l_s: flow each pipe may carry at its velocity limit.
        controllers_heads: heads that each controller may hold open.
        ramp_l_s_min: most that the flow of all pumps may change from one minute to the next.
        apart: pairs of stations that may not run at once.
        starts_h: starts of the pumps from standstill in any hour; None where nobody counts.
    """

    pump_l_s: float
    pipes_l_s: dict[str, float]
    controllers_heads: dict[str, int]
    ramp_l_s_min: float = math.inf
    apart: tuple[tuple[str, str], ...] = ()
    starts_h: int | None = None


@dataclass(frozen=True)
class Run:
    """One cycle of one station: minutes from the night's start."""

    station: str
    start_min: int
    run_min: int
    cycle: int
    of_cycles: int


@dataclass(frozen=True)
class Pin:
    """A start that somebody set by hand: first cycle, minutes from the night's start."""

    station: str
    start_min: int
    author: str


@dataclass(frozen=True)
class LeftOut:
    """Minutes a station is owed, why they do not fit, and the hold where one keeps it out."""

    station: str
    owed_min: int
    reason: str
    hold: ActingHold | None = None


@dataclass(frozen=True)
class Bound:
    """No plan of these requests can finish sooner [min from the night's start].

    `binding` names which of them is the largest: pump, pipe:ID, controller:ID, chain:ID
    or window:KIND.
    """

    minutes: int
    binding: str


@dataclass(frozen=True)
class StationSum:
    """Every factor of one station's minutes, so that a person can redo the sum.

    run_min = round(60 · need_mm / rate_mm_h · multiplier · trim_factor) + extra_min,
    not below floor_min, not above max_run_min. Carried debt is part of need_mm. Where minutes
    were fitted to the map, multiplier_name is "fitted" and the multiplier is what the fit makes
    of the sum; footprint_need_mm and footprint_depth_mm are the mean need and the mean
    depth tonight over the ground that its heads wet, NaN where nothing was fitted. `trims` are
    those that act on it, drawn ones included; `why_by_rate` tells why nothing was fitted.
    """

    station: str
    area: str
    kind: str
    need_mm: float
    rate_mm_h: float
    flow_l_s: float
    heads: int
    du_lq: float
    multiplier: float
    multiplier_name: str
    trim_factor: float
    extra_min: float
    trim_reason: str
    exact_min: float
    floor_min: int
    run_min: int
    max_cycle_min: int
    soak_min: int
    cycles_min: tuple[int, ...]
    wetted_m2: float
    why_none: str = ""
    footprint_need_mm: float = math.nan
    footprint_depth_mm: float = math.nan
    trims: tuple[ActingTrim, ...] = ()
    why_by_rate: str = ""


@dataclass(frozen=True)
class Night:
    """A plan for one date. `flow_l_s` has one value per minute of the window.

    `pins` are the starts that a person set and that planning anew keeps.
    """

    night: date
    window: Window
    runs: tuple[Run, ...]
    left_out: tuple[LeftOut, ...]
    flow_l_s: tuple[float, ...]
    bound: Bound
    finish_min: int
    sums: tuple[StationSum, ...]
    findings: tuple[Finding, ...]
    pump_l_s: float
    pins: tuple[Pin, ...] = ()

    @property
    def gap(self) -> float:
        """How far the finish is over the bound, as a share of the bound."""
        return (
            (self.finish_min - self.bound.minutes) / self.bound.minutes
            if self.bound.minutes
            else 0.0
        )

    @property
    def volume_m3(self) -> float:
        """Water the night asks of the pump."""
        return sum(self.flow_l_s) * 60 / 1000
