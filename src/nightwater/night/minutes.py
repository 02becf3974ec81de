"""From need to the minutes of each station, with every factor kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, note
from nightwater.ground.record import Ground
from nightwater.ground.settings import MinuteRules
from nightwater.night.hand_changes import ActingTrim
from nightwater.night.plan import StationSum
from nightwater.night.station_table import head_table, station_faults, station_table
from nightwater.soil.intake import cycles_and_soaks_min, equal_cycles_min
from nightwater.spray.rate import depth_rate_mm_h
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

FITTED: Final = "fitted"  # name of the rule where minutes follow the map
_FOOTPRINT: Final = ("footprint_need_mm", "footprint_depth_mm")
LONGEST_RUN_MIN: Final = 600  # of a station that states no limit of its own

Row = Mapping[str, Any]
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class _Trim:
    factor: float
    extra_min: float
    reason: str
    acting: tuple[ActingTrim, ...] = ()


_UNTRIMMED: Final = _Trim(1.0, 0.0, "")


def active_trims(trims: pd.DataFrame, night: date) -> pd.DataFrame:
    """The trims that hold on a night; both their first and their last night count."""
    day = night.isoformat()
    return trims[(trims["first_night"] <= day) & (trims["last_night"] >= day)]


def _or_else(value: Any, usual: float) -> float:
    return usual if pd.isna(value) else float(value)


def acting_trim(trim: Row, share: float = 1.0) -> ActingTrim:
    """A row of the trims table as a plan keeps it.

    Args:
        trim: the row.
        share: share of a station's water that falls where it acts.
    """
    return ActingTrim(
        subject=str(trim["subject"]),
        factor=_or_else(trim["factor"], 1.0),
        extra_min=_or_else(trim["extra_min"], 0.0),
        last_night=date.fromisoformat(trim["last_night"]),
        reason=str(trim["reason"]),
        author=str(trim["author"]),
        share=share,
    )


def _subjects(station: Row) -> set[str]:
    hole = station["hole"]
    return {
        "course",
        f"kind:{station['kind']}",
        f"areas:{station['area']}",
        f"stations:{station['station']}",
        *([] if pd.isna(hole) else [f"holes:{hole}"]),
    }


def _trim(station: Row, trims: list[Row]) -> _Trim:
    """All trims that touch a station: factors multiplied, minutes added, reasons kept."""
    subjects = _subjects(station)
    mine = [trim for trim in trims if trim["subject"] in subjects]
    if not mine:
        return _UNTRIMMED
    factors = [_or_else(trim["factor"], 1.0) for trim in mine]
    extras = [_or_else(trim["extra_min"], 0.0) for trim in mine]
    reasons = [
        f"{trim['subject']} × {factor:g} + {extra:g} min until {trim['last_night']}: "
        f"{trim['reason']} ({trim['author']})"
        for trim, factor, extra in zip(mine, factors, extras, strict=True)
    ]
    acting = tuple(acting_trim(trim) for trim in mine)
    return _Trim(math.prod(factors), sum(extras), "; ".join(reasons), acting)


def half_up(minutes: float) -> int:
    """The nearest whole minute; a half goes up, so that 40 stations do not all round alike."""
    return math.floor(minutes + 0.5)


def _why_none(need_mm: float, exact_min: float, trim: _Trim, rules: MinuteRules) -> str:
    """Why a station does not run at all; empty where it does."""
    if exact_min == 0 and trim.factor > 0 and need_mm > 0 and trim.extra_min <= 0:
        return "what its neighbours throw brings its ground what it needs"
    cut = trim.factor == 0 or trim.extra_min < 0
    if cut and half_up(exact_min) + half_up(trim.extra_min) <= 0:
        return f"trimmed to nothing: {trim.reason}"
    if need_mm <= 0 and trim.extra_min <= 0:
        return "it needs no water"
    if need_mm < rules.least_need_mm and trim.extra_min <= 0:
        return (
            f"need {need_mm:.2f} mm is under {rules.least_need_mm:g} mm; it stays in the "
            "account for another night"
        )
    return ""


def _run_min(station: Row, rules: MinuteRules) -> tuple[int, str]:
    """Whole minutes of a station, and why there are none."""
    trim: _Trim = station["trim"]
    why_none = _why_none(station["need_mm"], station["exact_min"], trim, rules)
    if why_none:
        return 0, why_none
    wanted = half_up(station["exact_min"]) + half_up(trim.extra_min)
    return min(max(wanted, station["floor_min"]), station["longest_run_min"]), ""


def _records(stations: pd.DataFrame) -> list[Row]:
    rows = stations.rename_axis("station").reset_index().to_dict("records")
    return [{str(key): value for key, value in row.items()} for row in rows]


def _with_exact(
    stations: pd.DataFrame, trims: list[Row], rules: MinuteRules, fitted: pd.DataFrame | None
) -> pd.DataFrame:
    """The station table with rate, trim, exact minutes and floor."""
    found = [_trim(row, trims) for row in _records(stations[["area", "kind", "hole"]])]
    rate = depth_rate_mm_h(stations["flow_l_s"], stations["wetted_m2"])
    net_min = MINUTES_PER_HOUR * stations["need_mm"].to_numpy(dtype=float) / rate
    factor = np.array([trim.factor for trim in found], dtype=float)
    multiplier, names = _multipliers(stations, net_min, rules, fitted)
    turns_min = rules.least_turns * stations["turn_s"].to_numpy(dtype=float) / SECONDS_PER_MINUTE
    return stations.assign(
        rate_mm_h=rate,
        trim=pd.Series(found, index=stations.index, dtype=object),
        multiplier=multiplier,
        multiplier_name=names,
        exact_min=net_min * multiplier * factor,
        floor_min=np.ceil(turns_min - 1e-9).astype(np.int64),
    )


def _multipliers(
    stations: pd.DataFrame, net_min: Numbers, rules: MinuteRules, fitted: pd.DataFrame | None
) -> tuple[Numbers, list[str]]:
    """What unevenness makes of the net minutes, and by which rule: fitted where it was."""
    by_rule = stations["multiplier"].to_numpy(dtype=float)
    if fitted is None:
        return by_rule, [rules.run_time_multiplier] * len(stations)
    with np.errstate(divide="ignore", invalid="ignore"):
        mapped = fitted["run_min"].reindex(stations.index).to_numpy(dtype=float) / net_min
    known = np.isfinite(mapped)
    names = np.where(known, FITTED, rules.run_time_multiplier)
    return np.where(known, mapped, by_rule), names.tolist()


def _with_footprints(stations: pd.DataFrame, fitted: pd.DataFrame | None) -> pd.DataFrame:
    if fitted is None:
        return stations.assign(**dict.fromkeys(_FOOTPRINT, math.nan))
    return stations.join(fitted[list(_FOOTPRINT)])


def _with_minutes(stations: pd.DataFrame, rules: MinuteRules) -> pd.DataFrame:
    """The table with whole minutes, longest cycle and soak."""
    runs = [_run_min(row, rules) for row in _records(stations)]
    run_min = np.array([run for run, _ in runs], dtype=np.int64)
    cycle, soak = cycles_and_soaks_min(
        run_min,
        stations["rate_mm_h"],
        stations["intake_mm_h"],
        stations["surface_storage_mm"],
        stations["slope_pct"],
    )
    return stations.assign(
        run_min=run_min, why_none=[why for _, why in runs], max_cycle_min=cycle, soak_min=soak
    )


_PLAIN: Final = (
    "station", "area", "kind", "need_mm", "rate_mm_h", "flow_l_s", "heads", "du_lq", "multiplier",
    "exact_min", "floor_min", "run_min", "max_cycle_min", "soak_min", "wetted_m2", "why_none",
    "multiplier_name",
)  # fmt: skip


def _sum(station: Row) -> StationSum:
    trim: _Trim = station["trim"]
    return StationSum(
        trim_factor=trim.factor,
        extra_min=trim.extra_min,
        trim_reason=trim.reason,
        trims=trim.acting,
        cycles_min=equal_cycles_min(station["run_min"], station["max_cycle_min"]),
        **{name: station[name] for name in _PLAIN},
        footprint_need_mm=_or_else(station["footprint_need_mm"], math.nan),
        footprint_depth_mm=_or_else(station["footprint_depth_mm"], math.nan),
    )


def _floor_note(sums: list[StationSum]) -> list[Finding]:
    raised = [s for s in sums if s.run_min == s.floor_min > half_up(s.exact_min)]
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
    *,
    fitted: pd.DataFrame | None = None,
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
        fitted: minutes fitted to the map, index = station id, columns run_min,
            footprint_need_mm and footprint_depth_mm (see `Fit`); None for minutes by rate.
            Trims of stations, areas, holes and kinds come on top of them.

    Returns:
        One sum per station, in the record's order, and a finding for each station whose
        minutes cannot be known, which has no sum. A station without heads has neither: it
        is a finding of the record's check.

    Raises:
        UserError: an unknown run-time multiplier.

    Reference: docs/how/minutes.md.
    """
    heads = head_table(ground, need_mm, rules)
    faults = station_faults(heads)
    sound = heads[~heads["station"].isin(faults)]
    stations = station_table(ground, sound, LONGEST_RUN_MIN)
    tonight: list[Row] = [
        {str(key): value for key, value in trim.items()}
        for trim in active_trims(trims, night).to_dict("records")
    ]
    exact = _with_footprints(_with_exact(stations, tonight, rules, fitted), fitted)
    sums = [_sum(row) for row in _records(_with_minutes(exact, rules))]
    ordered = [faults[name] for name in ground.stations.index if name in faults]
    return tuple(sums), [*ordered, *_floor_note(sums)]
