"""Prove a night: planned × commanded × metered.

Totals (5 %), half-hour blocks (10 %) and base flow (1 % of peak) are compared; the
tolerances are common practice. A single head is far below what a total can show, so
green means: commanded, and the blocks it ran in agree with the meter. No more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.plan import Night
from nightwater.night.referee_record import station_facts
from nightwater.proof import doubts
from nightwater.proof.doubts import Witnesses
from nightwater.proof.irrigation import area_proofs
from nightwater.proof.log import Log, Opening, flow_by_minute, planned_openings, read_log, volume_m3
from nightwater.proof.meter import (
    Meter,
    Series,
    base_flow,
    blocks_of,
    dry_minutes,
    quiet_stretches,
    read_meter,
    wanted_minutes,
)
from nightwater.proof.paths import FieldFacts, dead_paths
from nightwater.proof.rescue import CAUTION, rescue_list
from nightwater.proof.result import AreaProof as AreaProof
from nightwater.proof.result import Block as Block
from nightwater.proof.result import Proof as Proof
from nightwater.proof.result import Rescue as Rescue
from nightwater.proof.result import StationProof as StationProof
from nightwater.proof.result import Verdict as Verdict
from nightwater.proof.stations import evidence_by_minute, station_proofs
from nightwater.units import SECONDS_PER_MINUTE


def station_flows_l_s(night: Night, ground: Ground, settings: Settings) -> dict[str, float]:
    """Flow of every station: the plan's own sum, else the record's; unknown ones are left out."""
    facts = station_facts(ground, settings.minutes)
    flows = {key: fact.flow_l_s for key, fact in facts.items()}
    flows |= {row.station: row.flow_l_s for row in night.sums if not math.isnan(row.flow_l_s)}
    return {key: flow for key, flow in flows.items() if not math.isnan(flow)}


def first_tee(night: Night, settings: Settings) -> datetime:
    """The instant of the first tee on the morning after the night."""
    hour, minute = (int(part) for part in settings.first_tee.split(":"))
    morning = night.night + timedelta(days=1)
    return datetime.combine(morning, time(hour, minute), ZoneInfo(settings.site.timezone))


def _volume_m3(flow_l_s: Series) -> float:
    return float(flow_l_s.sum()) * SECONDS_PER_MINUTE / 1000


def _metered_m3(meter: Meter, night: Night) -> float:
    flow = meter.window(night, meter.flow_l_s)
    read = flow[~np.isnan(flow)]
    return _volume_m3(read) if read.size else math.nan


def _energy_kwh(meter: Meter, night: Night) -> float:
    """Metered energy; NaN where a minute of the window lacks its power."""
    return float(meter.window(night, meter.power_kw).sum()) / 60.0


def _verdict(stations: Sequence[StationProof], findings: Sequence[Finding]) -> Verdict:
    if any(row.verdict is Verdict.RED for row in stations):
        return Verdict.RED
    doubtful = any(finding.severity is not Severity.NOTE for finding in findings)
    if doubtful or any(row.verdict is Verdict.AMBER for row in stations):
        return Verdict.AMBER
    return Verdict.GREEN


def _field(night: Night, ground: Ground, settings: Settings) -> FieldFacts:
    paths = {
        str(station): path
        for station, path in ground.stations["controller"].items()
        if isinstance(path, str)
    }
    return FieldFacts(station_flows_l_s(night, ground, settings), paths)


def _openings(night: Night, log: Log) -> tuple[Opening, ...]:
    return log.openings if log.known else planned_openings(night)


def _opened(openings: tuple[Opening, ...], meter: Meter) -> Series:
    """Stations open, in mean over each minute."""
    ones = {opening.station: 1.0 for opening in openings}
    return flow_by_minute(openings, ones, meter.first_min, meter.size)


def _witnesses(
    night: Night, log: Log, meter: Meter, field: FieldFacts, settings: Settings
) -> Witnesses:
    planned, commanded = (
        flow_by_minute(openings, field.flows, meter.first_min, meter.size)
        for openings in (planned_openings(night), log.openings)
    )
    openings, expected = _openings(night, log), commanded if log.known else planned
    opened = _opened(openings, meter)
    wanted = wanted_minutes(expected, opened)
    dry = dry_minutes(meter, expected, wanted)
    blocks = blocks_of(meter, expected, opened, night.window.minutes)
    usable = (expected > 0) & ~dry & ~np.isnan(meter.flow_l_s)
    dead: frozenset[str] = frozenset()
    if any(block.agrees is False for block in blocks):
        base = base_flow(meter, expected)
        dead = dead_paths(openings, field, meter, usable, base)
    return Witnesses(night, settings, log, meter, planned, commanded, wanted, dry, blocks, dead)


def _stations(seen: Witnesses, field: FieldFacts) -> tuple[StationProof, ...]:
    """Verdicts, with the water of dead paths taken out of what the blocks expect."""
    openings = _openings(seen.night, seen.log)
    dead = {o.station: field.controllers.get(o.station, "") for o in openings}
    dead = {station: path for station, path in dead.items() if path in seen.dead}
    sound = tuple(opening for opening in openings if opening.station not in dead)
    meter = seen.meter
    expected = flow_by_minute(sound, field.flows, meter.first_min, meter.size)
    base = base_flow(meter, seen.expected)
    by_minute = evidence_by_minute(meter, expected, seen.dry, seen.blocks, base)
    return station_proofs(seen.night, seen.log, openings, by_minute, dead)


def _findings(
    seen: Witnesses,
    stations: Sequence[StationProof],
    volumes: tuple[float, float],
    flows: tuple[float, float],
) -> tuple[Finding, ...]:
    return (
        *doubts.stretches_without_water(seen),
        *doubts.paths_dead(seen),
        *doubts.stations_off(seen, stations),
        *doubts.missing_witnesses(seen),
        *doubts.total_off(seen, *volumes),
        *doubts.blocks_off(seen, seen.blocks),
        *doubts.base_flow_high(seen, *flows),
        *seen.log.findings,
    )


def prove(
    night: Night,
    commands: pd.DataFrame,
    samples: pd.DataFrame,
    ground: Ground,
    settings: Settings,
) -> Proof:
    """Compare a night's plan with its command log and its meter series.

    Args:
        night: the plan.
        commands: rows of the commands table of this night; may be empty.
        samples: rows of the samples table of this night; may be empty. Minutes before
            and after the night tell the base flow.
        ground: the record, for flows of stations that no sum tells.
        settings: first tee, priority of kinds, time zone, units.

    Returns:
        The proof; a missing log or meter gives amber, never green, and says so.
    """
    field = _field(night, ground, settings)
    log, meter = read_log(commands, night), read_meter(samples, night)
    seen = _witnesses(night, log, meter, field, settings)
    stations, expected = _stations(seen, field), seen.expected
    tee = first_tee(night, settings)
    left = max(int((tee - night.window.end.astimezone(UTC)).total_seconds() // 60), 0)
    rescue = rescue_list(night, stations, field.flows, settings, left)
    read = meter.window(night, seen.read)
    compared_m3 = _volume_m3(meter.window(night, expected)[read])
    metered_m3 = _metered_m3(meter, night)
    base_l_s = max((row[2] for row in quiet_stretches(meter, expected)), default=math.nan)
    peak_l_s = float(seen.planned.max(initial=0.0))
    findings = _findings(seen, stations, (compared_m3, metered_m3), (base_l_s, peak_l_s))
    return Proof(
        night=night.night,
        verdict=_verdict(stations, findings),
        planned_m3=volume_m3(planned_openings(night), field.flows),
        commanded_m3=volume_m3(log.openings, field.flows) if log.known else math.nan,
        metered_m3=metered_m3,
        compared_m3=compared_m3,
        missing_meter_min=int((~read).sum()),
        base_flow_l_s=base_l_s,
        peak_l_s=peak_l_s,
        energy_kwh=_energy_kwh(meter, night),
        stations=stations,
        areas=area_proofs(night, stations, has_log=log.known),
        blocks=seen.blocks,
        rescue=rescue,
        first_tee=tee,
        rescue_minutes=left,
        caution=CAUTION if rescue else "",
        findings=findings,
        start=night.window.start,
        planned_l_s=tuple(meter.window(night, seen.planned).tolist()),
        commanded_l_s=tuple(meter.window(night, seen.commanded).tolist()) if log.known else (),
        metered_l_s=tuple(meter.window(night, meter.flow_l_s).tolist()) if read.any() else (),
    )
