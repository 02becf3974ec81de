"""What the engine answers: pressure, flow and velocity for every open set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.findings import Finding
from nightwater.pipes.hydraulic_network import HydraulicNetwork

TOLERANCE: Final = 0.10  # of the design pressure; common practice, no source

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class PumpDuty:
    """What each pump does in each set, shape (sets, pumps), pumps as in `network.pumps`.

    Attributes:
        flow_l_s: its flow; 0 where it stands still.
        head_m: its total dynamic head; NaN where it stands still, or its head is not known.
        speed: share of full speed; 0 where it stands still, NaN where it has no curve.
        efficiency: water power over shaft power; NaN where it stands still.
        power_kw: drawn from the mains; 0 where it stands still.
    """

    flow_l_s: Numbers
    head_m: Numbers
    speed: Numbers
    efficiency: Numbers
    power_kw: Numbers

    @property
    def station_kw(self) -> Numbers:
        """Power drawn by all pumps together, shape (sets,)."""
        total: Numbers = np.nansum(self.power_kw, axis=1)
        return total


@dataclass(frozen=True)
class Solution:
    """The network solved for open sets of heads, set by set.

    Attributes:
        network: what was solved.
        is_open: the heads that ran, shape (sets, heads).
        pressure_kpa: at the nozzle of every head, open or not, shape (sets, heads). NaN for a
            set that the engine could not solve, here and below.
        flow_l_s: of every head; 0 where it is closed, or its pressure is below 0.
        node_pressure_kpa: shape (sets, nodes).
        link_flow_l_s: positive from start to end, shape (sets, links).
        velocity_m_s: without sign, shape (sets, links); NaN at a reducing valve.
        feed_flow_l_s: water of each feed, shape (sets, feeds).
        holds: whether each feed holds its set pressure, shape (sets, feeds); True for a feed
            that has none to hold.
        duty: what the pumps do.
        findings: doubts, each about the worst set that shows it.
    """

    network: HydraulicNetwork
    is_open: Flags
    pressure_kpa: Numbers
    flow_l_s: Numbers
    node_pressure_kpa: Numbers
    link_flow_l_s: Numbers
    velocity_m_s: Numbers
    feed_flow_l_s: Numbers
    holds: Flags
    duty: PumpDuty
    findings: tuple[Finding, ...]

    @property
    def radius_m(self) -> Numbers:
        """Throw of every open head at its pressure [m]; NaN where closed, shape (sets, heads)."""
        _, radius = self.network.emitters.flow_and_radius(self.pressure_kpa)
        return np.where(self.is_open, radius, np.nan)

    def starved(self, tolerance: float = TOLERANCE, floor_kpa: float | None = None) -> Flags:
        """Open heads whose pressure is too low, shape (sets, heads).

        Args:
            tolerance: share of the design pressure that may lack.
            floor_kpa: the least pressure instead, the same for all heads [kPa].

        Returns:
            True where starved; a head without a design pressure is so only below a floor.
        """
        design = self.network.emitters.design_kpa * (1 - tolerance)
        least = design if floor_kpa is None else np.full(len(design), floor_kpa)
        flags: Flags = self.is_open & (self.pressure_kpa < least)
        return flags

    def overfed(self, tolerance: float = TOLERANCE) -> Flags:
        """Open heads more than a share over their design pressure, shape (sets, heads)."""
        most = self.network.emitters.design_kpa * (1 + tolerance)
        flags: Flags = self.is_open & (self.pressure_kpa > most)
        return flags

    def pipe_velocity_m_s(self) -> dict[str, float]:
        """The greatest velocity in each pipe over all sets [m/s]."""
        worst = np.nanmax(np.where(np.isfinite(self.velocity_m_s), self.velocity_m_s, 0), axis=0)
        found: dict[str, float] = {}
        is_pipe = self.network.kind == "pipe"
        for owner, speed in zip(self.network.owner[is_pipe], worst[is_pipe], strict=True):
            found[str(owner)] = max(found.get(str(owner), 0.0), float(speed))
        return found

    def energy_kwh(self, step_min: float = 1.0) -> float:
        """Energy drawn if every set lasts one step [kWh].

        Args:
            step_min: how long each set lasts [min].
        """
        return float(np.nansum(self.duty.station_kw)) * step_min / 60.0
