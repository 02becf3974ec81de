"""Green, amber or red for every station, and the minutes of water it got."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.night.plan import Night, StationSum
from nightwater.proof.log import Log, Opening
from nightwater.proof.meter import BLOCK_TOLERANCE, Meter, Series, still_minutes
from nightwater.proof.result import Block, StationProof, Verdict

MINUTES_PER_HOUR: Final = 60.0
_MOST_OFF: Final = 0.10  # of a station's minutes that may lack command, water or reading
_LOST: Final = 0.50  # from this share on a station counts as not watered


@dataclass(frozen=True)
class Minutes:
    """Minutes of one station: open, open without water, unread, in a block that disagrees.

    `watered` weighs each open minute by the share of its block that was metered.
    """

    open: float = 0.0
    dry: float = 0.0
    unread: float = 0.0
    disagreeing: float = 0.0
    watered: float = 0.0
    worst_share: float = math.nan


@dataclass(frozen=True)
class Evidence:
    """What the meter says of each minute of its series.

    Attributes:
        first_min: minute of the night of the first value.
        dry, unread, disagreeing: 1 or 0 for each minute.
        share: metered over expected of the minute's block without its dry minutes, 0 to 1;
            1 where the block agrees or was not read; 0 in a minute without flow.
        off: metered over expected where the block disagrees; NaN elsewhere.
    """

    first_min: int
    dry: Series
    unread: Series
    disagreeing: Series
    share: Series
    off: Series


def evidence_by_minute(
    meter: Meter, expected: Series, dry: NDArray[np.bool_], blocks: Sequence[Block], base: Series
) -> Evidence:
    """Blocks and dry minutes spread over the minutes of the meter's series.

    Args:
        meter: the readings.
        expected: flow that open stations draw, without those of dead paths [L/s].
        dry: minutes in which nothing flowed.
        blocks: the stretches to compare.
        base: flow that runs whatever is open [L/s].
    """
    unread = np.isnan(meter.flow_l_s)
    share, off = np.ones(meter.size), np.full(meter.size, np.nan)
    wet = ~dry & ~unread & (expected > 0)
    for block in blocks:
        part = slice(block.start_min - meter.first_min, block.end_min - meter.first_min)
        read = wet[part]
        wanted = float(expected[part][read].sum())
        if wanted > 0:
            got = float((meter.flow_l_s - base)[part][read].sum()) / wanted
            if abs(got - 1.0) > BLOCK_TOLERANCE:
                off[part] = got
                share[part] = min(max(got, 0.0), 1.0)
    share[dry | still_minutes(meter, expected)] = 0.0
    share[unread] = 1.0
    disagreeing = ~np.isnan(off) & wet
    return Evidence(
        first_min=meter.first_min,
        dry=dry.astype(float),
        unread=unread.astype(float),
        disagreeing=disagreeing.astype(float),
        share=share,
        off=np.where(disagreeing, off, np.nan),
    )


def _between(values: Series, first_min: int, start: Series, end: Series) -> Series:
    """Integral of a series by minute between pairs of minutes."""
    grid = first_min + np.arange(len(values) + 1.0)
    total = np.concatenate([[0.0], np.cumsum(values)])
    integral = np.interp(end, grid, total) - np.interp(start, grid, total)
    positive: Series = np.maximum(integral, 0.0)
    return positive


def minutes_of(openings: Sequence[Opening], seen: Evidence) -> dict[str, Minutes]:
    """What each station's open minutes were worth by the meter."""
    if not openings:
        return {}
    start, end = (np.array([getattr(o, key) for o in openings]) for key in ("start_min", "end_min"))
    names, row = np.unique([opening.station for opening in openings], return_inverse=True)
    length = end - start
    parts = {
        "dry": _between(seen.dry, seen.first_min, start, end),
        "unread": _between(seen.unread, seen.first_min, start, end),
        "disagreeing": _between(seen.disagreeing, seen.first_min, start, end),
        "watered": _between(seen.share, seen.first_min, start, end),
    }
    inside = _between(np.ones(len(seen.dry)), seen.first_min, start, end)
    beyond = np.maximum(length - inside, 0.0)
    parts["unread"] += beyond
    parts["watered"] += beyond
    parts |= {"open": length, "off": _between(np.nan_to_num(seen.off), seen.first_min, start, end)}
    totals: dict[str, Series] = {
        key: np.bincount(row, weights=part, minlength=len(names)).astype(float)
        for key, part in parts.items()
    }
    with np.errstate(invalid="ignore", divide="ignore"):
        totals["worst_share"] = totals.pop("off") / totals["disagreeing"]
    return {
        str(name): Minutes(**{key: float(total[i]) for key, total in totals.items()})
        for i, name in enumerate(names)
    }


Judged = tuple[Verdict, str]


def judge(planned_min: float, found: Minutes, *, has_log: bool) -> Judged:
    """Verdict and reason of one station.

    Args:
        planned_min: minutes the plan asks.
        found: its open minutes by the log, or by the plan where there is no log.
        has_log: whether there is a command log.
    """
    commanded = f"{found.open:.0f} of {planned_min:.0f} min"
    lost = max(planned_min - found.open, 0.0) + found.dry
    if not planned_min:
        return Verdict.AMBER, f"It ran {found.open:.0f} min that the plan does not hold."
    if has_log and found.open < 0.5:
        return Verdict.RED, "The log shows no opening."
    if lost >= _LOST * planned_min and found.dry:
        return Verdict.RED, f"The meter stood still in {found.dry:.0f} of its {found.open:.0f} min."
    if lost >= _LOST * planned_min:
        return Verdict.RED, f"It was commanded only {commanded}."
    return _judge_water(planned_min, found, lost, has_log=has_log)


def _judge_water(planned_min: float, found: Minutes, lost: float, *, has_log: bool) -> Judged:
    """Verdict of a station that was open most of its minutes."""
    most = _MOST_OFF * planned_min
    doubts = (
        (not has_log, "There is no command log, so nobody knows whether it was opened."),
        (found.unread > most, f"The meter was not read in {found.unread:.0f} of its minutes."),
        (
            found.disagreeing > most,
            f"Metered {found.worst_share:.0%} of what all open stations draw, "
            f"in {found.disagreeing:.0f} of its {found.open:.0f} min.",
        ),
        (
            lost > most and found.dry > 0,
            f"The meter stood still in {found.dry:.0f} of its minutes.",
        ),
        (lost > most, f"It was commanded only {found.open:.0f} of {planned_min:.0f} min."),
    )
    for doubtful, reason in doubts:
        if doubtful:
            return Verdict.AMBER, reason
    return Verdict.GREEN, f"Commanded {found.open:.0f} of {planned_min:.0f} min; the meter agrees."


def net_depth_mm(row: StationSum | None, run_min: float) -> float:
    """Depth into the root zone that minutes of a station give; NaN without its sum.

    Gross depth is minutes times rate; the run-time multiplier was put on for unevenness
    and losses, so it comes off again.
    """
    if row is None or not row.multiplier > 0:
        return math.nan
    return run_min * row.rate_mm_h / MINUTES_PER_HOUR / row.multiplier


def station_proofs(
    night: Night,
    log: Log,
    openings: Sequence[Opening],
    seen: Evidence,
    dead: Mapping[str, str],
) -> tuple[StationProof, ...]:
    """Every station that the plan or the log names, in the plan's order.

    Args:
        night: the plan.
        log: the command log.
        openings: the log's, or the plan's where there is no log.
        seen: what the meter says of each minute.
        dead: stations on a path that gave no water, with the path's name.
    """
    sums = {row.station: row for row in night.sums}
    planned: dict[str, float] = {}
    for run in sorted(night.runs, key=lambda run: run.start_min):
        planned[run.station] = planned.get(run.station, 0.0) + run.run_min
    found = minutes_of(openings, seen)
    proofs = []
    for station in dict.fromkeys([*planned, *found]):
        own, row = found.get(station, Minutes()), sums.get(station)
        verdict, reason = judge(planned.get(station, 0.0), own, has_log=log.known)
        if station in dead and verdict is not Verdict.RED:
            own = replace(own, watered=0.0, dry=own.open)
            verdict, reason = Verdict.RED, f"The meter shows no water of its path {dead[station]}."
        proofs.append(
            StationProof(
                station=station,
                area=row.area if row else "",
                kind=row.kind if row else "",
                verdict=verdict,
                reason=reason,
                planned_min=planned.get(station, 0.0),
                commanded_min=own.open if log.known else math.nan,
                delivered_min=own.watered,
                delivered_mm=net_depth_mm(row, own.watered),
                metered=own.unread <= _MOST_OFF * max(own.open, 1.0),
            )
        )
    return tuple(proofs)
