"""A rehearsal: a night run against a simulated field, which writes the log and meter series.

Heads differ a little from the record and stations open some seconds late. Flow, pressure and
power of every step are those of the solved pipes, faults and all; where the record cannot be
solved, of its own flows. Pumps follow no faster than their ramp, and pressure sags while they
cannot follow. No water moves.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, timedelta
from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding
from nightwater.ground.record import Ground
from nightwater.ground.settings import MinuteRules, NightRules
from nightwater.night.plan import Night
from nightwater.night.referee_record import station_facts
from nightwater.night.rehearsal_faults import MARGIN_MIN, check_faults
from nightwater.night.rehearsal_faults import Faults as Faults
from nightwater.night.rehearsal_field import (
    STEP_S,
    Opening,
    Series,
    by_head,
    delivered_l_s,
    head_factors,
    in_order,
    met_share,
    openings_of,
    tripped_steps,
)
from nightwater.night.rehearsal_water import LEAK, Progress, field_water, head_water
from nightwater.night.window import clock_minute
from nightwater.units import SECONDS_PER_MINUTE

METER_SPREAD: Final = 0.005
_COMMAND_COLUMNS: Final = ("night", "station", "time", "event", "detail", "origin")
_SAMPLE_COLUMNS: Final = (
    "night", "meter", "time", "flow_l_s", "pressure_kpa", "power_kw", "origin",
)  # fmt: skip


@dataclass(frozen=True)
class Rehearsal:
    """What a real field would have written, as rows of the commands and samples tables.

    `night` is left empty in both: the store knows under which id the night is kept.

    Attributes:
        commands, samples: the log and the meter's series.
        heads: index = id of each solved head that ran, the leak with them; columns as in
            `rehearsal_water.HEAD_COLUMNS`. What no log tells: kept for whoever looks on.
        words: where flows and pressures come from.
        findings: the engine's doubts.
    """

    commands: pd.DataFrame
    samples: pd.DataFrame
    heads: pd.DataFrame
    words: str
    findings: tuple[Finding, ...] = ()

    @property
    def short(self) -> pd.DataFrame:
        """The heads that had less pressure than they should for a minute or more, worst first."""
        rows = self.heads[(self.heads["short_min"] >= 1) & (self.heads.index != LEAK)]
        worst: pd.DataFrame = rows.sort_values("short_min", ascending=False, kind="stable")
        return worst


def _by_minute(values: Series) -> Series:
    mean: Series = values.reshape(-1, int(SECONDS_PER_MINUTE) // STEP_S).mean(axis=1)
    return mean


def _instants(night: Night, seconds: Any) -> list[str]:
    start = night.window.start.astimezone(UTC)
    return [(start + timedelta(seconds=int(s))).strftime("%Y-%m-%dT%H:%M:%SZ") for s in seconds]


def _samples(
    night: Night, ground: Ground, series: tuple[Series, Series, Series], faults: Faults
) -> pd.DataFrame:
    flow, pressure, power = series
    minutes = np.arange(len(flow)) - MARGIN_MIN
    meter = str(ground.meters.index[0]) if len(ground.meters) else None
    rows = pd.DataFrame(
        {
            "night": None,
            "meter": meter,
            "time": _instants(night, minutes * SECONDS_PER_MINUTE),
            "flow_l_s": flow.round(3),
            "pressure_kpa": pressure.round(1),
            "power_kw": power.round(2),
            "origin": "rehearsal",
        },
        index=pd.Index([f"X{i:06d}" for i in range(len(flow))], name="id"),
        columns=list(_SAMPLE_COLUMNS),
    )
    if faults.meter_lost is None:
        return rows
    lost_from, lost_to = (clock_minute(text, night.window) for text in faults.meter_lost)
    return rows[(minutes < lost_from) | (minutes >= lost_to)]


def _commands(night: Night, openings: list[Opening], stuck: tuple[str, ...]) -> pd.DataFrame:
    """Open and close of every logged run; a station that sticks is logged closed all the same."""
    planned = [run.run_min * SECONDS_PER_MINUTE for run in in_order(night.runs)]
    lines = []
    for opening, run_s in zip(openings, planned, strict=True):
        if opening.logged:
            sticks = opening.station in stuck
            closed_s = opening.opened_s + run_s if sticks else opening.closed_s
            lines.append((opening.opened_s, opening.station, "open"))
            lines.append((closed_s, opening.station, "close"))
    lines.sort()
    return pd.DataFrame(
        {
            "night": None,
            "station": [station for _, station, _ in lines],
            "time": _instants(night, [second for second, _, _ in lines]),
            "event": [event for _, _, event in lines],
            "detail": None,
            "origin": "rehearsal",
        },
        index=pd.Index([f"C{i:06d}" for i in range(len(lines))], name="id"),
        columns=list(_COMMAND_COLUMNS),
    )


def rehearse(
    night: Night,
    ground: Ground,
    faults: Faults,
    *,
    seed: int,
    rules: NightRules | None = None,
    progress: Progress = lambda _step: None,
) -> Rehearsal:
    """Run a night against the simulated field.

    Args:
        night: the plan.
        ground: the record; its pumps give capacity, ramp, pressure and efficiencies.
        faults: what goes wrong.
        seed: the same seed gives the same log and series.
        rules: the pressure that heads should have; the usual rules where none are given.
        progress: told what is being solved; may raise to stop, and nothing is returned then.

    Returns:
        Commands in order of time, and one sample a minute from 20 minutes before the
        night to 20 after it. Flow is metered with 0.5 % of noise; power is NaN where the
        pumps have neither head nor set pressure.

    Raises:
        UserError: a fault names an unknown station or controller, or no time of day.
    """
    check_faults(ground, faults, night.window)
    chance = np.random.default_rng(seed)
    facts = station_facts(ground, MinuteRules())
    factors = head_factors(night, facts, faults, chance)
    openings = list(openings_of(night, facts, faults, factors, chance))
    water = field_water(
        ground,
        night,
        openings,
        faults,
        facts=facts,
        factors=by_head(facts, factors),
        rules=rules or NightRules(),
        seed=seed,
        progress=progress,
    )
    tripped = tripped_steps(night, faults)
    given = delivered_l_s(water.demand_l_s, tripped, ground.pumps, capped=water.capped)
    met = met_share(water.demand_l_s, given, tripped)
    pressure, power = water.held_kpa * met**2, water.power_kw * met
    flow = _by_minute(given)
    noise = np.clip(chance.normal(1.0, METER_SPREAD, (2, len(flow))), 0.97, 1.03)
    series = (
        flow * noise[0],
        _by_minute(pressure) * noise[1],
        _by_minute(power),
    )
    return Rehearsal(
        _commands(night, openings, faults.stuck_stations),
        _samples(night, ground, series, faults),
        head_water(water, met),
        water.words,
        water.findings,
    )
