"""Pressure at each head while its own station runs in a typical minute of a night."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding
from nightwater.ground.record import Ground
from nightwater.pipes.duty import held_most_l_s
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class TypicalMinute:
    """What the solved network says of each head, its own station being one of those that run.

    Attributes:
        heads: index = id of every head that a station runs; columns line_kpa (pressure in the
            pipe, NaN where the engine found no answer), holds (whether the head's body holds
            its own pressure) and design_kpa (that pressure, NaN where not known).
        sets: how many sets of stations were solved.
        fullest_l_s: water that the fullest of them draws by design.
        findings: the engine's doubts about the sets.
    """

    heads: pd.DataFrame
    sets: int
    fullest_l_s: float
    findings: tuple[Finding, ...] = ()

    @property
    def nozzle_kpa(self) -> pd.Series[float]:
        """Pressure at the nozzle, index = head id; NaN where it was not solved."""
        line, design = self.heads["line_kpa"], self.heads["design_kpa"]
        short = line.isna() | (line < design) | ~self.heads["holds"]
        held: pd.Series[float] = line.where(short, design)
        return held


def typical_flow_l_s(ground: Ground, network: HydraulicNetwork, pump_use: float) -> float:
    """Water of a typical minute: as the planner fills it, and while the pumps hold their set.

    Args:
        ground: the record, for the pumps' capacity.
        network: its network, for their curves.
        pump_use: share of the capacity that a night may use.

    Returns:
        The lesser of the two [L/s]; infinite where neither is known, as for a town main.
    """
    stated = float(np.nansum(ground.pumps["capacity_l_s"].to_numpy(dtype=float)))
    held = sum(held_most_l_s(feed) for feed in network.feeds)
    return min(stated * pump_use if stated > 0 else math.inf, float(held))


def _design_flow_l_s(network: HydraulicNetwork) -> Numbers:
    return np.nan_to_num(network.emitters.flow_and_radius(network.emitters.design_kpa)[0])


def _stations(network: HydraulicNetwork) -> pd.DataFrame:
    """Stations in the order of their first heads: design flow, and the middle of their heads."""
    place = network.places[network.head_node]
    rows = pd.DataFrame(
        {
            "station": network.station.astype(str),
            "flow_l_s": _design_flow_l_s(network),
            "x_m": place[:, 0],
            "y_m": place[:, 1],
        }
    )
    by = rows[rows["station"] != ""].groupby("station", sort=False)
    found: pd.DataFrame = by.agg({"flow_l_s": "sum", "x_m": "mean", "y_m": "mean"})
    return found


def _dealt(stations: pd.DataFrame, most_l_s: float, count: int) -> Whole | None:
    """The set of each station, the one with room whose nearest member is farthest; None: too few.

    Stations of the most water choose first.
    """
    flow = stations["flow_l_s"].to_numpy(dtype=float)
    x_m, y_m = stations["x_m"].to_numpy(dtype=float), stations["y_m"].to_numpy(dtype=float)
    chosen = np.full(len(flow), -1, dtype=np.int64)
    water, nearest_m = np.zeros(count), np.full((len(flow), count), np.inf)
    for row in np.argsort(-flow, kind="stable"):
        room = (water + flow[row] <= most_l_s) | (water == 0)
        if not room.any():
            return None
        free_m = np.where(room, nearest_m[row], -1.0)
        farthest = np.flatnonzero(free_m == free_m.max())
        one = farthest[np.argmin(water[farthest])]
        chosen[row] = one
        water[one] += flow[row]
        away_m = np.hypot(x_m - x_m[row], y_m - y_m[row])
        nearest_m[:, one] = np.minimum(nearest_m[:, one], away_m)
    return chosen


def typical_sets(network: HydraulicNetwork, most_l_s: float) -> tuple[list[list[str]], float]:
    """Every station once, in as few sets as keep to a flow; neighbours run in different sets.

    Args:
        network: heads with their stations.
        most_l_s: that no set's design flow is above, unless a single station's is. Infinite:
            nothing is known of what runs beside a station, so each runs alone.

    Returns:
        The sets, and the design flow of the fullest [L/s].
    """
    stations = _stations(network)
    if stations.empty:
        return [], 0.0
    alone = len(stations)
    fewest = math.ceil(stations["flow_l_s"].sum() / most_l_s) if math.isfinite(most_l_s) else alone
    chosen, count = None, min(max(fewest, 1), alone)
    while chosen is None:
        chosen = _dealt(stations, most_l_s, count)
        count += 1
    names = stations.index.to_numpy(dtype=object)
    sets = [names[chosen == one].tolist() for one in np.unique(chosen)]
    return sets, float(stations["flow_l_s"].groupby(chosen).sum().max())


def typical_minute(ground: Ground, network: HydraulicNetwork, pump_use: float) -> TypicalMinute:
    """Solve every station once in a typical minute of a night.

    A head of a known pressure draws its design flow and passes that pressure on, as the planner
    takes it, unless the line has less or the record says that it holds none.

    Args:
        ground: the record.
        network: its network, as `build_hydraulic_network` gives it.
        pump_use: share of the pumps' capacity that a night may use.

    Returns:
        Pressures of all heads of all stations that water reaches.

    Raises:
        UserError: EPANET refuses the network.
    """
    holds = network.emitters.regulated & network.emitters.known
    sets, fullest = typical_sets(network, typical_flow_l_s(ground, network, pump_use))
    heads = np.array(network.heads, dtype=object)
    line = np.full(len(heads), np.nan)
    findings: tuple[Finding, ...] = ()
    if sets:
        with Engine(network) as engine:
            solved = engine.solve(network.heads_of_stations(sets))
        findings = solved.findings
        row, head = np.nonzero(solved.is_open)
        line[head] = solved.pressure_kpa[row, head]
    rows = pd.DataFrame(
        {"line_kpa": line, "holds": holds, "design_kpa": network.emitters.design_kpa}, index=heads
    )
    runs = network.station.astype(str) != ""
    return TypicalMinute(rows[runs & network.emitters.known], len(sets), fullest, findings)
