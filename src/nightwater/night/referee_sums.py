"""The referee's bookkeeping: asked, given and owed minutes, the sums, bound and finish."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, error, note, warning
from nightwater.ground.tables import STATIONS
from nightwater.night.plan import StationSum
from nightwater.night.referee_minutes import pump_limit_l_s
from nightwater.night.referee_record import Case
from nightwater.units import SECONDS_PER_MINUTE

_SAME_FLOW_SHARE: Final = 0.005
_SAME_RATE_SHARE: Final = 0.02
_ROUNDING_MIN: Final = 1.0 + 1e-6  # minutes and extra minutes may be rounded apart
_LONGEST_MIN: Final = STATIONS.by_name["max_run_min"].highest or math.inf
_FITTED: Final = "fitted"
_LEAST_SHARE: Final = 0.5
_MOST_SHARE: Final = 5.0
_LOOK_AT_FIT: Final = "Look at nozzles, arcs and spacing, or set minutes.method to by_rate."
_PLAN_ANEW: Final = "Plan the night again."


def _owed(case: Case) -> Counter[str]:
    owed: Counter[str] = Counter()
    for left in case.night.left_out:
        owed[left.station] += left.owed_min
    return owed


def minutes_add_up(case: Case) -> Iterator[Finding]:
    """Given and owed minutes of every station against what its sum asks."""
    if not case.night.sums:
        message = "The night holds no sums, so nobody can tell whether its minutes are right."
        yield note("sums-missing", case.subject, message, "Write the plan out whole.")
        return
    owed = _owed(case)
    for station in dict.fromkeys([*case.sums, *case.runs_of]):
        given = sum(run.run_min for run in case.runs_of.get(station, []))
        subject = f"stations:{station}"
        if station not in case.sums:
            message = f"{case.name(station)} runs {given} min that no sum asks for."
            yield error("minutes-unasked", subject, message, "Take the run out, or plan again.")
            continue
        asked, left = case.sums[station].run_min, owed[station]
        if given + left == asked:
            continue
        code = "minutes-too-many" if given + left > asked else "minutes-too-few"
        message = (
            f"{case.name(station)} is asked {asked} min, runs {given} and is left out for {left}: "
            f"{abs(given + left - asked)} min too {'many' if given + left > asked else 'few'}."
        )
        yield error(code, subject, message, _PLAN_ANEW)


def left_out(case: Case) -> Iterator[Finding]:
    """Whether each station left out exists, is owed minutes and has a reason."""
    for left in case.night.left_out:
        subject = f"stations:{left.station}"
        if left.station not in case.facts:
            message = f"'{left.station}' is left out, and the record does not hold it."
            yield error("left-out-unknown", subject, message, "Take it out of the list.")
        elif left.owed_min <= 0:
            message = f"{case.name(left.station)} is left out for {left.owed_min} min."
            yield error("left-out-minutes-bad", subject, message, "Owe at least one minute.")
        elif not left.reason.strip():
            message = f"{case.name(left.station)} is left out for {left.owed_min} min, unexplained."
            yield error("left-out-unexplained", subject, message, "Give the reason.")


def _expected_min(row: StationSum) -> float:
    factor = row.multiplier * row.trim_factor
    return row.need_mm / row.rate_mm_h * 60.0 * factor if row.rate_mm_h > 0 else math.nan


def sum_arithmetic(case: Case) -> Iterator[Finding]:
    """Each sum done again by hand: minutes from need, rate and multiplier."""
    for row in case.night.sums:
        subject, name = f"stations:{row.station}", case.name(row.station)
        if row.run_min and sum(row.cycles_min) != row.run_min:
            message = f"The cycles of {name} make {sum(row.cycles_min)} min of {row.run_min}."
            yield error("sum-cycles-wrong", subject, message, _PLAN_ANEW)
        if not row.run_min or row.why_none:
            continue
        exact = _expected_min(row) + row.extra_min
        stated = case.facts[row.station].max_run_min if row.station in case.facts else None
        expected = min(max(exact, row.floor_min), _LONGEST_MIN if stated is None else stated)
        if abs(row.run_min - expected) > _ROUNDING_MIN:
            message = (
                f"The sum of {name} gives {exact:.1f} min (need {row.need_mm:.2f} mm, rate "
                f"{row.rate_mm_h:.2f} mm/h, multiplier {row.multiplier:.3f}, trim "
                f"{row.trim_factor:g}, extra {row.extra_min:g} min); it says {row.run_min} min."
            )
            yield error("sum-arithmetic-wrong", subject, message, _PLAN_ANEW)


def _differs(told: float, real: float, share: float) -> bool:
    return not math.isnan(real) and not abs(told - real) <= share * abs(real)


def sums_and_record(case: Case) -> Iterator[Finding]:
    """Flow, rate, heads and area of each sum against the record."""
    for row in case.night.sums:
        facts = case.facts.get(row.station)
        subject = f"stations:{row.station}"
        if facts is None:
            message = f"The night holds a sum for '{row.station}', which the record does not hold."
            yield error("sum-station-unknown", subject, message, "Plan the night again.")
            continue
        name, fix = case.name(row.station), "The record has changed since: plan the night again."
        if row.run_min and math.isnan(facts.flow_l_s) and math.isnan(row.flow_l_s):
            message = f"{name} runs, and neither its heads nor the station list tell its flow."
            yield error("station-flow-unknown", subject, message, "Enter nozzles or a listed flow.")
        if _differs(row.flow_l_s, facts.flow_l_s, _SAME_FLOW_SHARE):
            message = (
                f"The sum of {name} has {case.flow_text(row.flow_l_s)}; "
                f"the record gives {case.flow_text(facts.flow_l_s)}."
            )
            yield error("sum-flow-differs", subject, message, fix)
        if row.run_min and _differs(row.rate_mm_h, facts.rate_mm_h, _SAME_RATE_SHARE):
            message = (
                f"The sum of {name} has a rate of {row.rate_mm_h:.2f} mm/h; its heads give "
                f"{facts.rate_mm_h:.2f} mm/h."
            )
            yield warning("sum-rate-differs", subject, message, fix)
        if facts.areas and row.area and row.area not in facts.areas:
            message = f"The sum of {name} waters area {row.area}; its heads do not stand for it."
            yield error("sum-area-differs", subject, message, fix)


def water_and_need(case: Case) -> Iterator[Finding]:
    """Water of each kind of area against its need, where minutes were fitted to the map.

    Single stations may differ much from their own area's need; all stations of a kind together
    bring half to five times it (small greens and tees: much is thrown beside them),
    or the fit is wrong. Trimmed stations do not count.
    """
    asked: dict[str, float] = defaultdict(float)
    given: dict[str, float] = defaultdict(float)
    for row in case.night.sums:
        trimmed = row.trim_factor != 1 or row.extra_min != 0
        if row.multiplier_name != _FITTED or trimmed or not row.wetted_m2 > 0:
            continue
        asked[row.kind] += row.need_mm * row.wetted_m2
        given[row.kind] += case.flow_l_s(row.station) * row.run_min * SECONDS_PER_MINUTE
    for kind, litres in asked.items():
        share = given[kind] / litres if litres > 0 else 1.0
        if not _LEAST_SHARE <= share <= _MOST_SHARE:
            message = (
                f"The stations of kind {kind} lay down {share:.2f} times the water that their "
                f"ground needs; {_LEAST_SHARE:g} to {_MOST_SHARE:g} is usual."
            )
            yield warning("fitted-water-odd", f"kind:{kind}", message, _LOOK_AT_FIT)


def bound_and_finish(case: Case) -> Iterator[Finding]:
    """Whether finish, bound and pump flow follow from the runs and the record."""
    night = case.night
    finish = max((run.start_min + run.run_min for run in night.runs), default=0)
    if night.finish_min != finish:
        message = f"The night says it ends at minute {night.finish_min}; its last run at {finish}."
        yield error("finish-wrong", case.subject, message, _PLAN_ANEW)
    if night.bound.minutes > night.finish_min:
        message = (
            f"The bound ({night.bound.minutes} min, {night.bound.binding}) is later than the "
            f"finish ({night.finish_min} min): one of the two is wrong."
        )
        yield error("bound-over-finish", case.subject, message, _PLAN_ANEW)
    limit = pump_limit_l_s(case)
    if limit and _differs(night.pump_l_s, limit, _SAME_FLOW_SHARE) and night.pump_l_s > limit:
        message = (
            f"The night counts on {case.flow_text(night.pump_l_s)} of pump flow; the record and "
            f"the settings give {case.flow_text(limit)}."
        )
        yield error("pump-flow-differs", case.subject, message, _PLAN_ANEW)
