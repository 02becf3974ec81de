"""The water of a rehearsal: by the solved pipes, step by step, else by the record's flows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.night.plan import Night
from nightwater.night.referee_record import StationFacts
from nightwater.night.rehearsal_faults import Faults
from nightwater.night.rehearsal_field import (
    STEP_S,
    Opening,
    Series,
    demand_l_s,
    drawn_power_kw,
    leaking_steps,
    step_count,
    step_of,
    true_openings,
)
from nightwater.night.waters import least_head_kpa, short_heads
from nightwater.pipes.emitters import ORIFICE, Emitters
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.laid import TRUNKS
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.units import KPA_PER_M_WATER

LEAK: Final = "(leak)"  # no id of the record: those hold no brackets
_BATCH: Final = 64  # sets solved between two words of progress
_USUAL_KPA: Final = 500.0
HEAD_COLUMNS: Final = ("station", "litres", "lowest_kpa", "least_kpa", "short_min")

Progress = Callable[[str], None]
OpenSet = frozenset[str]


@dataclass(frozen=True)
class FieldWater:
    """What the field takes at each step, and what the pumps do while they can give it.

    Attributes:
        demand_l_s: water of heads and leak together, per step.
        held_kpa: pressure at the pumps.
        power_kw: what they draw; NaN where it cannot be told.
        capped: whether the pumps' capacity still limits it; solved pumps stop by their curve.
        words: where pressures and flows come from, in a sentence.
        sets: of each step, which row of `flow_l_s` and `pressure_kpa` it is; empty unsolved.
        heads: ids of the columns; LEAK is the leak's.
        station: of each column.
        flow_l_s, pressure_kpa: of each set and head, shape (sets, heads).
        is_open: which heads run in each set.
        least_kpa: what each head should have.
        findings: the engine's doubts.
    """

    demand_l_s: Series
    held_kpa: Series
    power_kw: Series
    capped: bool
    words: str
    sets: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    heads: tuple[str, ...] = ()
    station: tuple[str, ...] = ()
    flow_l_s: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 0)))
    pressure_kpa: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 0)))
    is_open: NDArray[np.bool_] = field(default_factory=lambda: np.empty((0, 0), dtype=bool))
    least_kpa: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    findings: tuple[Finding, ...] = ()


def open_by_step(
    night: Night, openings: Sequence[Opening], faults: Faults
) -> tuple[list[OpenSet], NDArray[np.int64]]:
    """The different sets of stations that stand open, and which of them each step has.

    A station that sticks stays open from its first start; a leak is the station LEAK.
    """
    steps = step_count(night)
    change: dict[int, Counter[str]] = {}
    for opening in true_openings(openings, faults):
        for second, by in ((opening.opened_s, 1), (opening.closed_s, -1)):
            change.setdefault(step_of(second, steps), Counter())[opening.station] += by
    leaking = leaking_steps(night, faults)
    if leaking.any():
        change.setdefault(int(np.argmax(leaking)), Counter())[LEAK] += 1
    place: dict[OpenSet, int] = {frozenset(): 0}
    now: Counter[str] = Counter()
    which = np.zeros(steps, dtype=np.int64)
    borders = sorted({0, *(step for step in change if step < steps)})
    for first, last in zip(borders, [*borders[1:], steps], strict=True):
        for station, by in change.get(first, Counter()).items():
            now[station] += by
        standing = frozenset(station for station, count in now.items() if count > 0)
        which[first:last] = place.setdefault(standing, len(place))
    return list(place), which


def _leak_node(network: HydraulicNetwork, ground: Ground, chance: np.random.Generator) -> int:
    """A node on a trunk pipe, else on any."""
    kinds = ground.pipes["kind"]
    trunks = set(map(str, kinds.index[kinds.isin(TRUNKS)]))
    pipes = np.flatnonzero(network.kind == "pipe")
    on_trunk = [link for link in pipes.tolist() if str(network.owner[link]) in trunks]
    link = int(chance.choice(on_trunk or pipes.tolist()))
    return int(network.end[link])


def _with_leak(
    network: HydraulicNetwork, ground: Ground, leak_l_s: float, chance: np.random.Generator
) -> HydraulicNetwork:
    """The network with one more outlet that gives the leak's flow at the pumps' set pressure."""
    set_kpa = [feed.set_kpa for feed in network.feeds if not math.isnan(feed.set_kpa)]
    at_kpa = max(set_kpa, default=_USUAL_KPA)
    old, node = network.emitters, _leak_node(network, ground, chance)
    emitters = Emitters(
        np.append(old.nozzle, len(old.tables)),
        (*old.tables, (np.array([[at_kpa, leak_l_s, np.nan]]), ORIFICE)),
        np.append(old.flow_scale, 1.0),
        np.append(old.radius_scale, 1.0),
        np.append(old.design_kpa, np.nan),
        np.append(old.regulated, False),
    )
    return replace(
        network,
        heads=(*network.heads, LEAK),
        head_node=np.append(network.head_node, node),
        station=np.append(network.station, LEAK),
        emitters=emitters,
    )


def faulty_network(
    network: HydraulicNetwork,
    ground: Ground,
    factors: Mapping[str, float],
    faults: Faults,
    chance: np.random.Generator,
) -> HydraulicNetwork:
    """The network as it is tonight: heads that differ, a leak, pumps that hold less.

    Args:
        network: of the record.
        ground: the record, for which pipes are trunks.
        factors: what each head gives over what its nozzle gives; 1 where nothing is said.
        faults: the leak and the pumps' pressure of them.
        chance: places the leak.
    """
    if faults.leak_l_s:
        network = _with_leak(network, ground, faults.leak_l_s, chance)
    scale = np.array([factors.get(head, 1.0) for head in network.heads])
    feeds = tuple(
        replace(
            feed,
            set_kpa=feed.set_kpa * faults.pump_pressure_share,
            set_head_m=float(network.elevation_m[feed.node])
            + feed.set_kpa * faults.pump_pressure_share / KPA_PER_M_WATER,
        )
        if feed.pumps and not math.isnan(feed.set_kpa) and faults.pump_pressure_share != 1
        else feed
        for feed in network.feeds
    )
    emitters = replace(network.emitters, flow_scale=network.emitters.flow_scale * scale)
    return replace(network, emitters=emitters, feeds=feeds)


def _loose_l_s(
    network: HydraulicNetwork, facts: Mapping[str, StationFacts], openings: Sequence[Opening],
    factors: Mapping[str, float],
) -> dict[str, float]:  # fmt: skip
    """Water of each station that no solved head gives: heads without a way, or without a place."""
    known = {
        head for head, flows in zip(network.heads, network.emitters.known, strict=True) if flows
    }
    loose: dict[str, float] = {}
    for opening in openings:
        heads = facts[opening.station].head_flows if opening.station in facts else ()
        solved = [head for head, _ in heads if head in known]
        if not solved:
            loose[opening.station] = opening.flow_l_s
            continue
        rest = (flow * factors.get(head, 1.0) for head, flow in heads if head not in known)
        loose[opening.station] = sum(0.0 if math.isnan(flow) else flow for flow in rest)
    return loose


def solved_water(
    network: HydraulicNetwork,
    night: Night,
    openings: Sequence[Opening],
    faults: Faults,
    *,
    loose_l_s: Mapping[str, float],
    rules: NightRules,
    progress: Progress,
) -> FieldWater:
    """Every different open set of the night in EPANET, spread over its steps of 5 s.

    Raises:
        UserError: EPANET refuses the network.
    """
    sets, which = open_by_step(night, openings, faults)
    on = network.heads_of_stations(sets)
    at = [feed.node for feed in network.feeds]
    flow, pressure, held, power = [], [], [], []
    findings: dict[tuple[str, str], Finding] = {}
    with Engine(network) as engine:
        for first in range(0, len(sets), _BATCH):
            progress(f"solving the pipes: {first} of {len(sets)} sets of open heads")
            found = engine.solve(on[first : first + _BATCH])
            flow.append(np.nan_to_num(found.flow_l_s))
            pressure.append(found.pressure_kpa)
            held.append(found.node_pressure_kpa[:, at].mean(axis=1))
            lost = np.isnan(found.duty.power_kw).all(axis=1)
            power.append(np.where(lost, np.nan, found.duty.station_kw))
            findings |= {(one.code, one.subject): one for one in found.findings}
    flows = np.concatenate(flow)
    loose = np.array([sum(loose_l_s.get(name, 0.0) for name in one) for one in sets])
    return FieldWater(
        (flows.sum(axis=1) + loose)[which],
        np.concatenate(held)[which],
        np.concatenate(power)[which],
        capped=False,
        words=f"Pressures and flows are of the solved pipes: {len(sets):,} different sets of open "
        f"stations, each in EPANET with every head’s own flow.",
        sets=which,
        heads=network.heads,
        station=tuple(map(str, network.station)),
        flow_l_s=flows,
        pressure_kpa=np.concatenate(pressure),
        is_open=on,
        least_kpa=least_head_kpa(network, rules),
        findings=tuple(findings.values()),
    )


def recorded_water(
    night: Night, openings: Sequence[Opening], faults: Faults, pumps: pd.DataFrame, reason: str
) -> FieldWater:
    """The record's flows, and one pressure at the pumps, where no pipe can be solved."""
    demand = demand_l_s(night, openings, faults)
    held = float(pumps["set_pressure_kpa"].mean()) * faults.pump_pressure_share
    return FieldWater(
        demand,
        np.full(len(demand), held),
        drawn_power_kw(demand, pumps),
        capped=True,
        words=f"Flows are the record’s and the pipes are not solved: {reason}",
    )


def field_water(
    ground: Ground,
    night: Night,
    openings: Sequence[Opening],
    faults: Faults,
    *,
    facts: Mapping[str, StationFacts],
    factors: Mapping[str, float],
    rules: NightRules,
    seed: int,
    progress: Progress,
) -> FieldWater:
    """The water of the night: of the solved pipes, or of the record where it has none.

    Args:
        ground: the record.
        night: what was planned.
        openings: what the field does.
        faults: what goes wrong.
        facts: stations as the record has them.
        factors: what each head gives over what its nozzle gives.
        rules: the pressure that heads should have.
        seed: places the leak.
        progress: told what is solved; may raise to stop.
    """
    try:
        network, _ = build_hydraulic_network(ground)
        if not network.heads:
            reason = "no head stands on a pipe that a pump or source feeds."
            return recorded_water(night, openings, faults, ground.pumps, reason)
        loose = _loose_l_s(network, facts, openings, factors)
        chance = np.random.default_rng([seed, 1])
        tonight = faulty_network(network, ground, factors, faults, chance)
        return solved_water(
            tonight, night, openings, faults, loose_l_s=loose, rules=rules, progress=progress
        )
    except UserError as refused:
        return recorded_water(night, openings, faults, ground.pumps, str(refused))


def head_water(water: FieldWater, met: Series) -> pd.DataFrame:
    """What each head really had, index = head id; empty where the pipes were not solved.

    Args:
        water: of the night.
        met: share of the demand that the pumps met, per step; 0 while they stand.

    Returns:
        Columns as HEAD_COLUMNS: litres, the lowest pressure while it ran, what it should have
        had [kPa], and the minutes in which it had less; only heads that ran at all.
    """
    if not water.heads:
        return pd.DataFrame(columns=list(HEAD_COLUMNS))
    count = len(water.flow_l_s)
    seconds = np.bincount(water.sets, minlength=count) * float(STEP_S)
    given_s = np.bincount(water.sets, weights=met, minlength=count) * STEP_S
    worst_met = np.ones(count)
    np.minimum.at(worst_met, water.sets, met)
    pressure = np.where(water.is_open, water.pressure_kpa, np.nan)
    sagged = pressure * (worst_met**2)[:, None]
    ran = np.flatnonzero((water.is_open & (seconds > 0)[:, None]).any(axis=0))
    lowest = np.nanmin(sagged[:, ran], axis=0)
    short = short_heads(water.is_open, water.pressure_kpa, water.least_kpa)
    dry_s = seconds - given_s
    short_s = (np.where(short, seconds[:, None], dry_s[:, None]) * water.is_open).sum(axis=0)
    rows = pd.DataFrame(
        {
            "station": np.array(water.station, dtype=object),
            "litres": given_s @ water.flow_l_s,
            "least_kpa": water.least_kpa,
            "short_min": short_s / 60.0,
        },
        index=pd.Index(water.heads, name="head"),
    )
    told = rows.iloc[ran].assign(lowest_kpa=lowest)
    return pd.DataFrame(told, columns=list(HEAD_COLUMNS))
