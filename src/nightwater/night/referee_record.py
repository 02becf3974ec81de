"""What the record itself says of every station, worked out anew for the referee.

Nothing here comes from the planner, the sums or the pipe model: flows, heads, kinds,
turns and rates are read from heads, nozzles, stations and areas.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import UserError
from nightwater.ground.links import head_areas
from nightwater.ground.record import Ground
from nightwater.ground.settings import MinuteRules, Settings
from nightwater.night.plan import Night, Run, StationSum
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_HOUR, SECONDS_PER_MINUTE, shown

_ORIFICE_EXPONENT: Final = 0.5
_SAME_SHARE: Final = 1e-6
_ROUNDING: Final = 1e-6
_LONG_MIN: Final = 1440
_LEVEL_PCT: Final = 3.0
_STEEP_PCT: Final = 6.0
_STEEP_SHARE: Final = 0.5


@dataclass(frozen=True)
class StationFacts:
    """One station as the record has it.

    Attributes:
        head_flows: head id and flow [L/s, NaN where unknown] of each of its heads.
        flow_l_s: its whole flow; NaN where neither heads nor list tell it.
        heads: heads it opens.
        controller: id of its controller, or None.
        kinds: area kinds with the most flow; several only when they are equal.
        areas: ids of every area that one of its heads waters.
        rate_mm_h: flow over the ground its heads answer for; NaN where unknown.
        max_run_min: longest run of a night, or None.
        turn_s: time in which its slowest head sweeps its sector once [s].
        intake_mm_h, storage_mm: least steady intake, and water that the surface holds on
            the steepest slope, of its areas; NaN where one of them declares none.
    """

    station: str
    head_flows: tuple[tuple[str, float], ...]
    flow_l_s: float
    heads: int
    controller: str | None
    kinds: frozenset[str]
    areas: frozenset[str]
    rate_mm_h: float
    max_run_min: int | None
    turn_s: float
    intake_mm_h: float
    storage_mm: float

    def cycle_and_soak_min(self, run_min: int) -> tuple[float, float]:
        """Longest cycle and least soak of a run, by what the areas declare.

        Returns:
            Infinite and 0 where the run needs no parting or nothing is declared.

        Reference: 60 · storage / (rate − intake) and 60 · storage / intake; common practice.
        """
        excess = self.rate_mm_h - self.intake_mm_h
        if not (excess > 0 and self.storage_mm >= 0):
            return math.inf, 0.0
        longest = max(MINUTES_PER_HOUR * self.storage_mm / excess, 1.0)
        if longest >= run_min:
            return math.inf, 0.0
        return longest, MINUTES_PER_HOUR * self.storage_mm / self.intake_mm_h


def _curve(row: Mapping[Any, Any]) -> list[tuple[float, float]]:
    """Pressure [kPa] and flow [L/s] that a nozzle's row tells, rising; a stated point wins.

    Anything in the table that is no triple of numbers above 0, or that names a pressure
    twice, leaves the reference point alone.
    """
    reference = {float(row["pressure_kpa"]): float(row["flow_l_s"])}
    stated = row.get("performance")
    entries = stated.replace(";", " ").split() if isinstance(stated, str) else []
    told: dict[float, float] = {}
    for entry in entries:
        try:
            pressure, flow, throw = map(float, entry.split(":"))
        except ValueError:
            return sorted(reference.items())
        sound = all(0 < value < math.inf for value in (pressure, flow, throw))
        if not sound or pressure in told:
            return sorted(reference.items())
        told[pressure] = flow
    return sorted((reference | told).items())


def _rated_l_s(row: Mapping[Any, Any], p: float) -> float:
    """Flow of a nozzle at a pressure: q = K p^x, K straight between the points of its curve."""
    stated = row["flow_exponent"]
    power = _ORIFICE_EXPONENT if pd.isna(stated) else float(stated)
    if not p >= 0:
        return math.nan
    curve = [(at, flow / at**power) for at, flow in _curve(row)]
    above = next((i for i, (at, _) in enumerate(curve) if at >= p), len(curve) - 1)
    (p0, k0), (p1, k1) = curve[max(above - 1, 0)], curve[above]
    share = min(max((p - p0) / (p1 - p0), 0.0), 1.0) if p1 > p0 else 1.0
    return float((k0 + share * (k1 - k0)) * p**power)


def _head_flows_l_s(ground: Ground) -> NDArray[np.float64]:
    """Flow of every head: measured, else its nozzle's at the head's own pressure."""
    heads, index = ground.heads, ground.nozzles.index.astype(str)
    nozzles = dict(zip(index, ground.nozzles.to_dict("records"), strict=True))
    rated: dict[tuple[str, float], float] = {}
    flows = []
    for nozzle, pressure, measured in zip(
        heads["nozzle"], heads["pressure_kpa"], heads["measured_flow_l_s"], strict=True
    ):
        if not pd.isna(measured) or nozzle not in nozzles:
            flows.append(float(measured))
            continue
        row = nozzles[str(nozzle)]
        key = (str(nozzle), float(row["pressure_kpa"] if pd.isna(pressure) else pressure))
        if key not in rated:
            rated[key] = _rated_l_s(row, key[1])
        flows.append(rated[key])
    return np.array(flows, dtype=float)


def _of_area(ground: Ground, area: pd.Series[Any], column: str) -> NDArray[np.float64]:
    values: NDArray[np.float64] = ground.areas[column].reindex(area.to_numpy()).to_numpy(float)
    return values


def _head_table(ground: Ground, rules: MinuteRules) -> pd.DataFrame:
    """Heads with their flow, area, kind, ground and time of a turn; index = id."""
    heads = ground.heads
    area = head_areas(ground).reindex(heads.index)
    arc = heads["arc_deg"].fillna(360.0).to_numpy(dtype=float)
    cell = heads["spacing_m"].to_numpy(dtype=float) * heads["row_m"].to_numpy(dtype=float)
    turn = ground.nozzles["rotation_s"].reindex(heads["nozzle"].to_numpy()).to_numpy(dtype=float)
    return pd.DataFrame(
        {
            "id": heads.index.astype(str),
            "station": heads["station"],
            "flow_l_s": _head_flows_l_s(ground),
            "area": area,
            "kind": ground.areas["kind"].reindex(area.to_numpy()).to_numpy(),
            "ground_m2": cell * arc / 360.0,
            "turn_s": np.where(np.isnan(turn), rules.default_rotation_s, turn) * arc / 360.0,
            "intake_mm_h": _of_area(ground, area, "intake_mm_h"),
            "storage_mm": _of_area(ground, area, "surface_storage_mm"),
            "slope_pct": np.nan_to_num(_of_area(ground, area, "slope_pct")),
        },
        index=heads.index,
    )


def _leading(kinds: Sequence[Any], flows: Sequence[float]) -> frozenset[str]:
    """The kinds that take the most flow; a head of unknown flow counts as 1."""
    shares: Counter[str] = Counter()
    for kind, flow in zip(kinds, flows, strict=True):
        if isinstance(kind, str):
            shares[kind] += 1.0 if math.isnan(flow) else flow  # type: ignore[assignment]
    most = max(shares.values(), default=0.0)
    return frozenset(k for k, v in shares.items() if v >= most * (1 - _SAME_SHARE))


def _whole_or_none(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)


def _station_flow(flows: Sequence[float], listed: float) -> float:
    return float(listed) if not flows or any(math.isnan(flow) for flow in flows) else sum(flows)


def _least(heads: Sequence[Mapping[Any, Any]], column: str) -> float:
    """The least value; NaN where one is missing."""
    values = [float(head[column]) for head in heads]
    return min(values) if values and not any(map(math.isnan, values)) else math.nan


def _storage_mm(heads: Sequence[Mapping[Any, Any]]) -> float:
    """Least surface storage, halved from 3 to 6 % of slope on (common practice)."""
    slope = max((float(head["slope_pct"]) for head in heads), default=0.0)
    share = float(np.interp(slope, [_LEVEL_PCT, _STEEP_PCT], [1.0, _STEEP_SHARE]))
    return _least(heads, "storage_mm") * share


def _facts(
    station: str, row: Mapping[Any, Any], heads: Sequence[Mapping[Any, Any]]
) -> StationFacts:
    flows = [float(head["flow_l_s"]) for head in heads]
    ground_m2 = sum(float(head["ground_m2"]) for head in heads)
    rate = sum(flows) / ground_m2 * SECONDS_PER_HOUR if ground_m2 > 0 else math.nan
    controller = row["controller"]
    return StationFacts(
        station=station,
        head_flows=tuple((str(head["id"]), flow) for head, flow in zip(heads, flows, strict=True)),
        flow_l_s=_station_flow(flows, row["flow_listed_l_s"]),
        heads=len(heads) or (_whole_or_none(row["heads_listed"]) or 1),
        controller=controller if isinstance(controller, str) else None,
        kinds=_leading([head["kind"] for head in heads], flows),
        areas=frozenset(head["area"] for head in heads if isinstance(head["area"], str)),
        rate_mm_h=rate,
        max_run_min=_whole_or_none(row["max_run_min"]),
        turn_s=max((float(head["turn_s"]) for head in heads), default=0.0),
        intake_mm_h=_least(heads, "intake_mm_h"),
        storage_mm=_storage_mm(heads),
    )


def station_facts(ground: Ground, rules: MinuteRules) -> dict[str, StationFacts]:
    """Every station of the record, by its id."""
    table = _head_table(ground, rules)
    by_station: dict[str, list[Mapping[Any, Any]]] = defaultdict(list)
    for row in table.to_dict("records"):
        if isinstance(row["station"], str):
            by_station[row["station"]].append(row)
    stations = ground.stations
    rows = zip(stations.index.astype(str), stations.to_dict("records"), strict=True)
    return {key: _facts(key, row, by_station[key]) for key, row in rows}


def _is_whole(value: object) -> bool:
    return isinstance(value, int | np.integer) and not isinstance(value, bool)


@dataclass(frozen=True)
class Case:
    """A night before the referee, with everything it is judged against."""

    night: Night
    ground: Ground
    settings: Settings
    holds: pd.DataFrame
    weather: pd.DataFrame | None = None

    @cached_property
    def is_solvable(self) -> bool:
        """Whether the record says enough to solve its network for pressures."""
        try:
            network, _ = build_hydraulic_network(self.ground)
        except UserError:
            return False
        return bool(network.heads and network.feeds)

    @cached_property
    def facts(self) -> dict[str, StationFacts]:
        """Stations as the record has them."""
        return station_facts(self.ground, self.settings.minutes)

    @cached_property
    def sums(self) -> dict[str, StationSum]:
        """The planner's sums by station."""
        return {row.station: row for row in self.night.sums}

    @cached_property
    def sound_runs(self) -> tuple[Run, ...]:
        """Runs of known stations with whole, positive minutes: what can be judged further."""
        return tuple(
            run
            for run in self.night.runs
            if run.station in self.facts
            and _is_whole(run.start_min)
            and _is_whole(run.run_min)
            and run.run_min > 0
        )

    @cached_property
    def runs_of(self) -> dict[str, list[Run]]:
        """The sound runs of each station, in order of their start."""
        found: dict[str, list[Run]] = defaultdict(list)
        for run in sorted(self.sound_runs, key=lambda run: (run.start_min, run.cycle)):
            found[run.station].append(run)
        return dict(found)

    @property
    def subject(self) -> str:
        """The night itself, as the subject of a finding."""
        return f"nights:{self.night.night.isoformat()}"

    def flow_l_s(self, station: str) -> float:
        """Flow of a station: the record's; the sum's where the record has none; else 0."""
        flow = self.facts[station].flow_l_s
        if math.isnan(flow) and station in self.sums:
            flow = self.sums[station].flow_l_s
        return 0.0 if math.isnan(flow) else flow

    def cycle_and_soak_min(self, station: str) -> tuple[int, int]:
        """Longest cycle and least soak of a station, in whole minutes: the stricter of
        what its sum asks and what its areas declare."""
        row = self.sums.get(station)
        asked = row.run_min if row else sum(run.run_min for run in self.runs_of[station])
        longest, soak = self.facts[station].cycle_and_soak_min(asked)
        cycle_min = _LONG_MIN if math.isinf(longest) else math.floor(longest + _ROUNDING)
        soak_min = math.ceil(soak - _ROUNDING)
        if row and row.max_cycle_min > 0:
            return min(cycle_min, row.max_cycle_min), max(soak_min, row.soak_min)
        return cycle_min, soak_min

    def local(self, instant: datetime) -> str:
        """An instant as the course's clock shows it."""
        return instant.astimezone(ZoneInfo(self.settings.site.timezone)).strftime("%H:%M")

    def clock(self, minute: float) -> str:
        """A minute of the night as the course's clock shows it."""
        seconds = minute * SECONDS_PER_MINUTE
        return self.local(self.night.window.start.astimezone(UTC) + timedelta(seconds=seconds))

    def minute_of(self, instant: datetime) -> float:
        """Minutes from the night's start to an instant."""
        elapsed = instant.astimezone(UTC) - self.night.window.start.astimezone(UTC)
        return elapsed.total_seconds() / SECONDS_PER_MINUTE

    def flow_text(self, flow_l_s: float) -> str:
        """A flow in the units of the course."""
        return shown(flow_l_s, "l_s", self.settings.site.units)

    def name(self, station: str) -> str:
        """What people call a station."""
        label = self._labels.get(station)
        return label if isinstance(label, str) and label else station

    @cached_property
    def _labels(self) -> dict[str, Any]:
        labels = self.ground.stations["label"]
        return dict(zip(labels.index, labels, strict=True))
