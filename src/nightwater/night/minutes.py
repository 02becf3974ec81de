"""From need to the minutes of each station, with every factor kept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, error, note
from nightwater.ground.links import area_holes, head_areas
from nightwater.ground.record import Ground
from nightwater.ground.settings import MinuteRules
from nightwater.night.plan import StationSum
from nightwater.soil.defaults import area_defaults
from nightwater.soil.intake import cycle_and_soak, equal_cycles_min
from nightwater.spray.flow import head_flow_l_s
from nightwater.spray.rate import depth_rate_mm_h, wetted_area_m2
from nightwater.spray.uniformity import run_time_multiplier
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

FULL_CIRCLE_DEG: Final = 360.0
LONGEST_RUN_MIN: Final = 600  # of a station that states no limit of its own

_ENTER: Final = "Enter it in the record; until then tonight's plan leaves the station out."


@dataclass(frozen=True)
class _Trim:
    factor: float
    extra_min: float
    reason: str


@dataclass(frozen=True)
class _Station:
    """What one station waters, as flow-weighted means over its heads."""

    id: str
    area: str
    hole: str | None
    kind: str
    flow_l_s: float
    heads: int
    wetted_m2: float
    need_mm: float
    multiplier: float
    du_lq: float
    rotation_s: float
    intake_mm_h: float
    surface_storage_mm: float
    slope_pct: float
    longest_run_min: int


def _head_table(ground: Ground, areas: pd.DataFrame, rules: MinuteRules) -> pd.DataFrame:
    """One row per head that has a station: its flow, ground, area and that area's values."""
    heads = pd.DataFrame(ground.heads)[["station", "arc_deg", "spacing_m", "row_m", "nozzle"]]
    arc = heads["arc_deg"].fillna(FULL_CIRCLE_DEG)
    rotation = ground.nozzles["rotation_s"].reindex(heads["nozzle"].to_numpy())
    table = heads.assign(
        flow_l_s=head_flow_l_s(ground.heads, ground.nozzles),
        wetted_m2=wetted_area_m2(heads["spacing_m"], heads["row_m"], arc),
        rotation_s=np.where(rotation.isna(), rules.default_rotation_s, rotation),
        # A part-circle head sweeps its sector there and back: one turn per arc, not per circle.
        turn_share=arc / FULL_CIRCLE_DEG,
        area=head_areas(ground),
    )
    values = areas[
        ["kind", "need_mm", "multiplier", "du_lq", "intake_mm_h", "surface_storage_mm", "slope_pct"]
    ]
    joined = table.join(values, on="area")
    return joined[joined["station"].notna()]


def _area_values(ground: Ground, need_mm: pd.Series[float], rules: MinuteRules) -> pd.DataFrame:
    areas = area_defaults(ground.areas)
    multiplier = run_time_multiplier(
        rules.run_time_multiplier, areas["du_lq"].astype(float), areas["efficiency"].astype(float)
    )
    holes = area_holes(ground).reindex(areas.index)
    return areas.assign(multiplier=multiplier, need_mm=need_mm.reindex(areas.index), hole=holes)


def _weighted(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    return float((values * weights).sum() / weights.sum())


def _fault(station: str, rows: pd.DataFrame) -> Finding | None:
    """Why a station's minutes cannot be worked out, as a finding; None where they can."""
    subject = f"stations:{station}"

    def fault(code: str, heads: pd.DataFrame, what: str) -> Finding:
        return error(code, subject, f"Station {station}: head {heads.index[0]} {what}.", _ENTER)

    for code, column, what in (
        ("minutes-no-flow", "flow_l_s", "has neither a nozzle nor a measured flow"),
        ("minutes-no-spacing", "wetted_m2", "has no spacing, so its rate is not known"),
        ("minutes-no-area", "area", "waters no area"),
    ):
        missing = rows[rows[column].isna()]
        if not missing.empty:
            return fault(code, missing, what)
    dry = rows[rows["need_mm"].isna()]
    if not dry.empty:
        area = dry["area"].iloc[0]
        return fault("minutes-no-need", dry, f"waters {area}, which is no watered area")
    return None


def _station(station: str, rows: pd.DataFrame, areas: pd.DataFrame, longest: int) -> _Station:
    flow = rows["flow_l_s"].to_numpy(dtype=float)
    by_area = rows.groupby("area")["flow_l_s"].sum()
    area = str(by_area.idxmax())
    hole = areas["hole"].get(area)

    def mean(column: str) -> float:
        return _weighted(rows[column].to_numpy(dtype=float), flow)

    return _Station(
        id=station,
        area=area,
        hole=None if hole is None or pd.isna(hole) else str(hole),
        kind=str(areas["kind"].get(area)),
        flow_l_s=float(flow.sum()),
        heads=len(rows),
        wetted_m2=float(rows["wetted_m2"].sum()),
        need_mm=mean("need_mm"),
        multiplier=mean("multiplier"),
        du_lq=mean("du_lq"),
        rotation_s=float((rows["rotation_s"] * rows["turn_share"]).max()),
        intake_mm_h=float(rows["intake_mm_h"].min()),
        surface_storage_mm=float(rows["surface_storage_mm"].min()),
        slope_pct=float(rows["slope_pct"].max()),
        longest_run_min=longest,
    )


def active_trims(trims: pd.DataFrame, night: date) -> pd.DataFrame:
    """The trims that hold on a night; both their first and their last night count."""
    day = night.isoformat()
    return trims[(trims["first_night"] <= day) & (trims["last_night"] >= day)]


def _subjects(station: _Station) -> set[str]:
    return {
        "course",
        f"kind:{station.kind}",
        f"holes:{station.hole}",
        f"areas:{station.area}",
        f"stations:{station.id}",
    }


def _trim(station: _Station, trims: list[dict[str, Any]]) -> _Trim:
    """All trims that touch a station: factors multiplied, minutes added, reasons kept."""
    subjects = _subjects(station)
    mine = [trim for trim in trims if trim["subject"] in subjects]
    factors = [1.0 if pd.isna(trim["factor"]) else float(trim["factor"]) for trim in mine]
    extras = [0.0 if pd.isna(trim["extra_min"]) else float(trim["extra_min"]) for trim in mine]
    reasons = [
        f"{trim['subject']} × {factor:g} + {extra:g} min until {trim['last_night']}: "
        f"{trim['reason']} ({trim['author']})"
        for trim, factor, extra in zip(mine, factors, extras, strict=True)
    ]
    return _Trim(math.prod(factors), sum(extras), "; ".join(reasons))


def _half_up(minutes: float) -> int:
    """The nearest whole minute; a half goes up, so that 40 stations do not all round alike."""
    return math.floor(minutes + 0.5)


def _run_min(station: _Station, exact: float, extra: float, floor: int) -> int:
    wanted = _half_up(exact) + _half_up(extra)
    return min(max(wanted, floor), station.longest_run_min)


def _why_none(station: _Station, trim: _Trim, rules: MinuteRules) -> str:
    if trim.factor == 0 and trim.extra_min <= 0:
        return f"trimmed to nothing: {trim.reason}"
    if station.need_mm < rules.least_need_mm and trim.extra_min <= 0:
        return (
            f"need {station.need_mm:.2f} mm is under {rules.least_need_mm:g} mm; it stays in the "
            "account for another night"
        )
    return ""


def _sum(station: _Station, trim: _Trim, rules: MinuteRules) -> StationSum:
    rate = float(depth_rate_mm_h(station.flow_l_s, station.wetted_m2))
    exact = MINUTES_PER_HOUR * station.need_mm / rate * station.multiplier * trim.factor
    floor = math.ceil(rules.least_turns * station.rotation_s / SECONDS_PER_MINUTE - 1e-9)
    why_none = _why_none(station, trim, rules)
    run = 0 if why_none else _run_min(station, exact, trim.extra_min, floor)
    longest, soak = cycle_and_soak(
        run, rate, station.intake_mm_h, station.surface_storage_mm, station.slope_pct
    )
    return StationSum(
        station=station.id,
        area=station.area,
        kind=station.kind,
        need_mm=station.need_mm,
        rate_mm_h=rate,
        flow_l_s=station.flow_l_s,
        heads=station.heads,
        du_lq=station.du_lq,
        multiplier=station.multiplier,
        multiplier_name=rules.run_time_multiplier,
        trim_factor=trim.factor,
        extra_min=trim.extra_min,
        trim_reason=trim.reason,
        exact_min=exact,
        floor_min=floor,
        run_min=run,
        max_cycle_min=longest,
        soak_min=soak,
        cycles_min=equal_cycles_min(run, longest),
        wetted_m2=station.wetted_m2,
        why_none=why_none,
    )


def _longest_run(ground: Ground, station: str) -> int:
    limit = ground.stations["max_run_min"].get(station)
    return LONGEST_RUN_MIN if limit is None or pd.isna(limit) else int(limit)


def _floor_note(sums: list[StationSum]) -> list[Finding]:
    raised = [s for s in sums if s.run_min == s.floor_min > _half_up(s.exact_min)]
    if not raised:
        return []
    first = raised[0]
    return [
        note(
            "rotation-floor",
            f"stations:{first.station}",
            f"{len(raised)} stations run longer than their need, so that their heads make enough "
            f"turns; {first.station} runs {first.run_min} min for {first.exact_min:.1f} min.",
            "Nothing need be done; less frequent nights would save the difference.",
        )
    ]


def station_sums(
    ground: Ground,
    need_mm: pd.Series[float],
    rules: MinuteRules,
    trims: pd.DataFrame,
    night: date,
) -> tuple[tuple[StationSum, ...], list[Finding]]:
    """Minutes of every station that can be worked out, with each factor.

    A station's rate is its whole flow over the ground its heads answer for. Need,
    uniformity and multiplier are means over its heads, weighted by flow; intake and surface
    storage are the least, slope and turning time the greatest, of its heads. A part-circle
    head turns in its sector's share of the nozzle's full-circle time. Minutes are rounded to
    the nearest whole one, a half up; they are not shorter than the turns need.

    Args:
        ground: the record, with heads linked to stations.
        need_mm: net need by area id.
        rules: how need becomes minutes.
        trims: the trims table; only those of the night count.
        night: its date.

    Returns:
        One sum per station, in the record's order, and a finding for each station whose
        minutes cannot be known, which has no sum.

    Raises:
        UserError: an unknown run-time multiplier.
    """
    areas = _area_values(ground, need_mm, rules)
    heads = _head_table(ground, areas, rules)
    active = active_trims(trims, night).to_dict("records")
    named = [{str(key): value for key, value in trim.items()} for trim in active]
    by_station = {str(name): rows for name, rows in heads.groupby("station", sort=False)}
    sums: list[StationSum] = []
    findings: list[Finding] = []
    for station in (str(name) for name in ground.stations.index):
        rows = by_station.get(station)
        if rows is None:
            continue  # a station without heads is a finding of the record's check
        fault = _fault(station, rows)
        if fault is not None:
            findings.append(fault)
            continue
        known = _station(station, rows, areas, _longest_run(ground, station))
        sums.append(_sum(known, _trim(known, named), rules))
    return tuple(sums), [*findings, *_floor_note(sums)]
