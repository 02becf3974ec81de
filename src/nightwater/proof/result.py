"""What a proof holds: totals, blocks, stations, areas, rescue list."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

import pandas as pd

from nightwater.findings import Finding

IRRIGATION_COLUMNS = ("night", "area", "depth_mm", "evidence")


class Verdict(StrEnum):
    """What may be said of a station or a night.

    *green*: commanded, and the meter agrees. *amber*: not proved. *red*: no water.
    """

    GREEN = "green"
    AMBER = "amber"
    RED = "red"


@dataclass(frozen=True)
class StationProof:
    """One station that was asked to run, or that ran.

    Attributes:
        station, area, kind: ids and area kind; area and kind are "" where no sum tells them.
        verdict: green, amber or red.
        reason: why, in one sentence.
        planned_min: minutes of its runs in the plan.
        commanded_min: minutes between its log's open and close; NaN without a log.
        delivered_min: minutes of water at its full flow, by log and meter; where neither
            tells, the best that is known (log, else plan).
        delivered_mm: net depth of that in the root zone; NaN where no sum tells its rate.
        metered: whether the meter was read while it ran, so that the verdict rests on it.
    """

    station: str
    area: str
    kind: str
    verdict: Verdict
    reason: str
    planned_min: float
    commanded_min: float
    delivered_min: float
    delivered_mm: float
    metered: bool


@dataclass(frozen=True)
class Block:
    """A stretch of the night compared with the meter.

    Attributes:
        start_min, end_min: minutes from the night's start.
        expected_m3: what the stations that were open draw by the record.
        metered_m3: what the meter counted in the same minutes; NaN where it was not read.
        base_m3: what of that ran before and after as well, when nothing should; it is taken
            off before the two are compared.
        agrees: whether the two agree; None where nothing ran or the meter was not read.
    """

    start_min: int
    end_min: int
    expected_m3: float
    metered_m3: float
    base_m3: float
    agrees: bool | None

    @property
    def share(self) -> float:
        """Metered without base flow over expected; NaN where nothing was expected."""
        if not self.expected_m3 > 0:
            return float("nan")
        return (self.metered_m3 - self.base_m3) / self.expected_m3


@dataclass(frozen=True)
class AreaProof:
    """Net depth that one area got into its root zone.

    Attributes:
        planned_mm, depth_mm: by the plan, and by what was delivered.
        evidence: "proved" where log and meter told of all its stations; else "planned":
            the depth is then what the plan (or the log alone) says, not what was seen.
    """

    area: str
    kind: str
    planned_mm: float
    depth_mm: float
    evidence: str


@dataclass(frozen=True)
class Rescue:
    """A station without water that may still be helped before play.

    Attributes:
        missing_mm: net depth it is short of; NaN where no sum tells its rate.
        missing_min, run_min: minutes short, and the run that makes them up (at least the
            rotation floor).
        cycles, chain_min: cycles that its soil needs, and minutes from first to last.
        ready_min: minutes from the start of the rescue until it is done, pumps shared with
            all before it in the list.
        fits: whether that is before the first tee.
        start_min: minutes from the start of the rescue at which it may start; None in a
            proof that was made before start times were reckoned.
    """

    station: str
    area: str
    kind: str
    missing_mm: float
    missing_min: float
    run_min: int
    cycles: int
    chain_min: int
    ready_min: int
    fits: bool
    start_min: int | None = None


@dataclass(frozen=True)
class Proof:
    """What the log and the meters say about a night.

    Attributes:
        verdict: red where a station got no water; amber where anything is unproven or a
            total, a block or the base flow is off; else green.
        planned_m3, commanded_m3, metered_m3: whole volumes; commanded is NaN without a
            log, metered NaN without a meter.
        compared_m3: commanded (without a log: planned) volume of the minutes in which the
            meter was read: what `metered_m3` is to be compared with.
        missing_meter_min: minutes of the night without a meter reading.
        base_flow_l_s: greatest flow of a quiet stretch; NaN where there was none.
        peak_l_s: greatest planned flow.
        energy_kwh: metered energy; NaN where power was not read all the while.
        first_tee: instant of the first tee.
        rescue_minutes: minutes from the night's end to the first tee.
        caution: what must be true before a rescue starts; "" where there is none.
        start: instant of minute 0 of the three series below.
        planned_l_s, commanded_l_s, metered_l_s: mean flow of each minute of the window.
    """

    night: date
    verdict: Verdict
    planned_m3: float
    commanded_m3: float
    metered_m3: float
    compared_m3: float
    missing_meter_min: int
    base_flow_l_s: float
    peak_l_s: float
    energy_kwh: float
    stations: tuple[StationProof, ...]
    areas: tuple[AreaProof, ...]
    blocks: tuple[Block, ...]
    rescue: tuple[Rescue, ...]
    first_tee: datetime
    rescue_minutes: int
    caution: str
    findings: tuple[Finding, ...]
    start: datetime
    planned_l_s: tuple[float, ...]
    commanded_l_s: tuple[float, ...]
    metered_l_s: tuple[float, ...]

    @property
    def irrigation(self) -> pd.DataFrame:
        """Net water per area for the soil account: night, area, depth_mm, evidence."""
        rows = [(self.night, row.area, row.depth_mm, row.evidence) for row in self.areas]
        return pd.DataFrame(rows, columns=list(IRRIGATION_COLUMNS))
