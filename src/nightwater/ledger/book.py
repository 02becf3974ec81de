"""The ledger: water, hours, energy and money of every night, and the allocation left."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.ground.settings import MoneyRules, Settings
from nightwater.ledger.allowance import (
    allocation_m3,
    is_priced,
    price_per_m3,
    used_in_period_m3,
)
from nightwater.ledger.pumping import Lift, estimated_energy_kwh, lift_of
from nightwater.ledger.tariff import Month, Usage, added, together, usage_by_month
from nightwater.night.plan import Night
from nightwater.proof.irrigation import planned_irrigation
from nightwater.proof.verdict import Proof
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

Booked = tuple[Night, Proof | None]

METERED: Final = "metered"
PART_METERED: Final = "part metered"
COMMANDED: Final = "commanded"
PLANNED: Final = "planned"
COLUMNS: Final = (
    "planned_m3",
    "commanded_m3",
    "metered_m3",
    "used_m3",
    "evidence",
    "hours",
    "station_hours",
    "energy_kwh",
    "energy_evidence",
    "water_money",
    "energy_money",
    "money",
    "used_in_period_m3",
    "allocation_m3",
    "allocation_left_m3",
)
AREA_COLUMNS: Final = (
    "night", "area", "kind", "planned_m3", "delivered_m3", "planned_mm", "depth_mm", "evidence",
)  # fmt: skip


@dataclass(frozen=True)
class _Prices:
    """What the ledger multiplies with; `before` grows by every night's usage of its months."""

    water_per_m3: float
    money: MoneyRules
    timezone: str
    known: bool
    before: dict[Month, Usage] = field(default_factory=dict)

    def energy_money(self, night: Night, proof: Proof | None, energy_kwh: float) -> float:
        """What a night's energy and demand add to the month's bill; 0 without any price."""
        if not self.money.prices_energy:
            return 0.0
        if math.isnan(energy_kwh):
            return math.nan
        usage = usage_by_month(
            _power_kw(night, proof, energy_kwh), night.window.start, self.money, self.timezone
        )
        cost = added(usage, self.before, self.money)
        for month, mine in usage.items():
            self.before[month] = together([self.before.get(month, Usage()), mine])
        return cost.money


def _power_kw(night: Night, proof: Proof | None, energy_kwh: float) -> NDArray[np.float64]:
    """A night's energy spread over its minutes as its flow was, by the log, else by the plan."""
    series = proof.commanded_l_s if proof and proof.commanded_l_s else night.flow_l_s
    flow = np.nan_to_num(np.asarray(series, dtype=float))
    if not flow.sum() > 0:  # energy without a known flow: evenly
        flow = np.ones(max(1, night.window.minutes))
    power: NDArray[np.float64] = flow / flow.sum() * energy_kwh * MINUTES_PER_HOUR
    return power


def used_water(night: Night, proof: Proof | None) -> tuple[float, str]:
    """The best figure of a night's water [m³], and where it comes from.

    Metered first; minutes that the meter was not read are made up from the log (else the
    plan), and the evidence says "part metered". Without a meter the log, without a log
    the plan.
    """
    if proof is None:
        return night.volume_m3, PLANNED
    expected = proof.planned_m3 if math.isnan(proof.commanded_m3) else proof.commanded_m3
    if math.isnan(proof.metered_m3):
        return expected, PLANNED if math.isnan(proof.commanded_m3) else COMMANDED
    if not proof.missing_meter_min:
        return proof.metered_m3, METERED
    return proof.metered_m3 + max(expected - proof.compared_m3, 0.0), PART_METERED


def _hours(night: Night, proof: Proof | None) -> float:
    """Hours in which water was drawn: by the log where there is one, else by the plan."""
    series = proof.commanded_l_s if proof and proof.commanded_l_s else night.flow_l_s
    return sum(flow > 0 for flow in series) / MINUTES_PER_HOUR


def _station_hours(night: Night, proof: Proof | None) -> float:
    """Hours of all stations added up, as `_hours`."""
    if proof and not math.isnan(proof.commanded_m3):
        return sum(row.commanded_min for row in proof.stations) / MINUTES_PER_HOUR
    return sum(run.run_min for run in night.runs) / MINUTES_PER_HOUR


def _energy(proof: Proof | None, used_m3: float, lift: Lift) -> tuple[float, str]:
    if proof is not None and not math.isnan(proof.energy_kwh):
        return proof.energy_kwh, METERED
    energy = estimated_energy_kwh(used_m3, lift)
    return energy, "missing" if math.isnan(energy) else "computed"


def _row(night: Night, proof: Proof | None, lift: Lift, prices: _Prices) -> dict[str, object]:
    used_m3, evidence = used_water(night, proof)
    energy_kwh, energy_evidence = _energy(proof, used_m3, lift)
    water_money = used_m3 * prices.water_per_m3
    energy_money = prices.energy_money(night, proof, energy_kwh)
    return {
        "planned_m3": night.volume_m3,
        "commanded_m3": proof.commanded_m3 if proof else math.nan,
        "metered_m3": proof.metered_m3 if proof else math.nan,
        "used_m3": used_m3,
        "evidence": evidence,
        "hours": _hours(night, proof),
        "station_hours": _station_hours(night, proof),
        "energy_kwh": energy_kwh,
        "energy_evidence": energy_evidence,
        "water_money": water_money,
        "energy_money": energy_money,
        "money": water_money + energy_money if prices.known else math.nan,
    }


def ledger_rows(booked: Sequence[Booked], ground: Ground, settings: Settings) -> pd.DataFrame:
    """One row per night, oldest first.

    Args:
        booked: approved nights, each with its proof or None.
        ground: the record; its sources give allocation and price, its pumps the lift.
        settings: what energy, and water without a price of its own, cost. Demand is booked on
            the night that raises its month's highest.

    Returns:
        Index night (date). planned_m3, commanded_m3, metered_m3 (NaN where not known),
        used_m3 (the best of them) with its evidence; hours with water and station_hours;
        energy_kwh ("metered", "computed" or "missing"); money; used_in_period_m3,
        allocation_m3 and allocation_left_m3 (below 0 where more was taken; NaN without an
        allocation). A price of 0 books no money; money is NaN where no price is known at all.
    """
    ordered = sorted(booked, key=lambda pair: pair[0].night)
    nights = [night.night for night, _ in ordered]
    lift = lift_of(ground.pumps)
    prices = _Prices(
        price_per_m3(ground.sources, settings.money.water_per_m3),
        settings.money,
        settings.site.timezone,
        is_priced(ground.sources, settings.money.water_per_m3) or settings.money.prices_energy,
    )
    rows = pd.DataFrame(
        [_row(night, proof, lift, prices) for night, proof in ordered],
        index=pd.Index(nights, name="night", dtype=object),
        columns=list(COLUMNS),
    )
    rows["used_in_period_m3"] = used_in_period_m3(ground.sources, nights, rows["used_m3"].tolist())
    rows["allocation_m3"] = [allocation_m3(ground.sources, night) for night in nights]
    rows["allocation_left_m3"] = rows["allocation_m3"] - rows["used_in_period_m3"]
    return rows


def area_rows(booked: Sequence[Booked]) -> pd.DataFrame:
    """Water of every area and night: gross volume of its stations, and net depth.

    Returns:
        Columns night, area, kind, planned_m3, delivered_m3, planned_mm, depth_mm and
        evidence ("proved" or "planned"); delivered_m3 is NaN without a proof, and depth_mm
        is then the plan's. Volumes follow a station's main area. Nights without sums have
        no rows.
    """
    rows = [row for night, proof in booked for row in _areas_of(night, proof)]
    return pd.DataFrame(rows, columns=list(AREA_COLUMNS))


def _volume_by_area_m3(night: Night, minutes: Iterable[tuple[str, float]]) -> dict[str, float]:
    sums, volumes = {row.station: row for row in night.sums}, dict.fromkeys(_kinds(night), 0.0)
    for station, run_min in minutes:
        row = sums.get(station)
        if row is not None and row.area in volumes:
            volumes[row.area] += run_min * SECONDS_PER_MINUTE * row.flow_l_s / 1000
    return volumes


def _kinds(night: Night) -> dict[str, str]:
    """The areas that a night's sums water, with their kind."""
    return {row.area: row.kind for row in reversed(night.sums) if row.area}


def _areas_of(night: Night, proof: Proof | None) -> list[tuple[object, ...]]:
    planned = _volume_by_area_m3(night, ((run.station, float(run.run_min)) for run in night.runs))
    plan_mm = planned_irrigation(night).set_index("area")["depth_mm"]
    if proof is None:
        return [
            (
                night.night,
                area,
                kind,
                planned[area],
                math.nan,
                plan_mm[area],
                plan_mm[area],
                PLANNED,
            )
            for area, kind in _kinds(night).items()
        ]
    given = _volume_by_area_m3(night, ((row.station, row.delivered_min) for row in proof.stations))
    return [
        (
            night.night,
            row.area,
            row.kind,
            planned[row.area],
            given[row.area],
            row.planned_mm,
            row.depth_mm,
            row.evidence,
        )
        for row in proof.areas
    ]
